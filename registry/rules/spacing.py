"""Is the module far enough from every neighbour, edge to edge, and near enough where the permit asks that?"""

import numpy as np
from numpy.typing import NDArray

from registry.errors import PermitError
from registry.measure.decision import Verdict, at_least, at_most
from registry.measure.neighbours import cross_pairs_within, nearest_other
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["SPACING"]

BASES = ("edge", "centre")


def check(cases: Cases, condition: Condition) -> Findings:
    """
    Judge the distance to each neighbour of any permit; the pair that decides is the one reported.

    The uncertainty of a pair is ``U = sqrt(R1**2 + R2**2)``: both fixes are taken as independent.
    A module of the same tag is no neighbour but a duplicate, and is left to that rule.
    """
    count = len(cases)
    edge_to_edge = _edge_to_edge(condition)
    measured, u95, other, verdict = _nearest(cases, edge_to_edge=edge_to_edge)
    limit = np.full(count, np.nan)
    least, greatest = condition.limits.get("least"), condition.limits.get("greatest")
    if least:
        limit[:] = least.value
        close = _close_pairs(cases, least.value, edge_to_edge=edge_to_edge)
        judged = np.where(other >= 0, Verdict.CONFORMING, Verdict.NOT_APPLICABLE).astype(np.int8)
        for row, neighbour, distance_m, pair_u95, pair_verdict in _deciding(*close, least.value):
            judged[row] = pair_verdict
            measured[row], u95[row], other[row] = distance_m, pair_u95, neighbour
        verdict = np.maximum(verdict, judged)
    if greatest:
        far = np.where(other >= 0, at_most(measured, u95, greatest.value), Verdict.NOT_APPLICABLE)
        limit = np.where(far > verdict, greatest.value, limit)
        limit = np.where(np.isnan(limit), greatest.value, limit)
        verdict = np.maximum(verdict, far).astype(np.int8)

    def message(row: int) -> str:
        if other[row] < 0:
            return "No other module lies near."
        asked = " and ".join(
            f"{word} {limit_text(quantity)}"
            for word, quantity in (("at least", least), ("at most", greatest))
            if quantity
        )
        how = "edge to edge" if edge_to_edge else "centre to centre"
        neighbour = cases.others.tag[other[row]]
        return f"{length_text(measured[row], u95[row])} {how} from {neighbour}; {asked} is asked."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="m",
        verdict=verdict,
        measured=measured,
        limit=limit,
        u95=u95,
        message=Phrases(count, message),
    )


def _edge_to_edge(condition: Condition) -> bool:
    basis = condition.limits.get("basis")
    word = basis.written if basis else "edge"
    if word not in BASES:
        what = f"A spacing condition has the basis {word!r}."
        raise PermitError(what, remedy=f"Give basis as one of {', '.join(BASES)}.")
    return word == "edge"


def _nearest(cases: Cases, *, edge_to_edge: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Give distance, uncertainty and row of the nearest neighbour of each, and an empty verdict."""
    p, o = cases.placements, cases.others
    other, distance_m = nearest_other(p.lon_deg, p.lat_deg, o.lon_deg, o.lat_deg, own=cases.own_row)
    known = other >= 0
    at = np.where(known, other, 0)
    if not len(o):
        nothing = np.full(len(cases), np.nan)
        return nothing, nothing.copy(), other, np.zeros(len(cases), dtype=np.int8)
    radii = p.base_radius_m + o.base_radius_m[at] if edge_to_edge else np.zeros(len(cases))
    measured = np.where(known, distance_m - radii, np.nan)
    u95 = np.where(known, np.hypot(p.r95_m, o.r95_m[at]), np.nan)
    return measured, u95, other, np.zeros(len(cases), dtype=np.int8)


def _close_pairs(
    cases: Cases, least_m: float, *, edge_to_edge: bool
) -> tuple[NDArray[np.intp], NDArray[np.intp], np.ndarray, np.ndarray]:
    """Give every pair that could be anything but conforming: case, neighbour, distance and uncertainty."""
    p, o = cases.placements, cases.others
    if not len(p) or not len(o):
        none = np.empty(0, dtype=np.intp)
        return none, none, np.empty(0), np.empty(0)
    # An unknown radius makes its own pairs inconclusive; it must not widen or blind the search.
    footprint = _largest(p.base_radius_m) + _largest(o.base_radius_m) if edge_to_edge else 0.0
    reach = least_m + footprint + float(np.hypot(p.r95_m.max(), o.r95_m.max())) + 0.001
    i, j, distance_m = cross_pairs_within(p.lon_deg, p.lat_deg, o.lon_deg, o.lat_deg, reach)
    apart = (cases.own_row[i] != j) & ((p.tag[i] != o.tag[j]) | (p.tag[i] == ""))
    i, j, distance_m = i[apart], j[apart], distance_m[apart]
    if edge_to_edge:
        distance_m = distance_m - p.base_radius_m[i] - o.base_radius_m[j]
    return i, j, distance_m, np.hypot(p.r95_m[i], o.r95_m[j])


def _largest(values: np.ndarray) -> float:
    return float(np.nan_to_num(values).max())


def _deciding(
    i: NDArray[np.intp], j: NDArray[np.intp], distance_m: np.ndarray, u95: np.ndarray, least_m: float
) -> list[tuple[int, int, float, float, int]]:
    """Keep, for each case with a pair that is not conforming, the worst and among those the closest."""
    verdict = at_least(distance_m, u95, least_m)
    doubtful = np.flatnonzero(verdict > Verdict.CONFORMING)
    order = doubtful[np.lexsort((distance_m[doubtful], -verdict[doubtful], i[doubtful]))]
    _, first = np.unique(i[order], return_index=True)
    chosen = order[first]
    return list(
        zip(
            i[chosen].tolist(),
            j[chosen].tolist(),
            distance_m[chosen].tolist(),
            u95[chosen].tolist(),
            verdict[chosen].tolist(),
            strict=True,
        )
    )


SPACING = Rule(
    rule_id="spacing",
    sentence="The module keeps the least (and where asked the greatest) distance to its neighbours.",
    source="Permit condition; geodesic distance on the ellipsoid, edge to edge of the bases unless stated.",
    parameters={"least": "length", "greatest": "length", "basis": "text"},
    needs_one_of=("least", "greatest"),
    check=check,
)
