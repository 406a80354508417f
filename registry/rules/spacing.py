"""Is the module far enough from every neighbour, edge to edge, and near enough where the permit asks that?"""

from typing import NamedTuple

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
    least, greatest = condition.limits.get("least"), condition.limits.get("greatest")
    nearest = _nearest(cases, edge_to_edge=edge_to_edge)
    other, measured, u95 = nearest.j.copy(), nearest.distance_m.copy(), nearest.u95_m.copy()
    alone = other < 0
    limit = np.full(count, least.value if least else np.nan)
    verdict = np.where(alone, Verdict.NOT_APPLICABLE, Verdict.CONFORMING).astype(np.int8)
    if least:
        verdict[~alone & np.isnan(measured)] = Verdict.INCONCLUSIVE
        close = _in_reach(cases, np.arange(count), least.value, edge_to_edge=edge_to_edge)
        judged = at_least(close.distance_m, close.u95_m, least.value)
        chosen = _first_of_each(close, -judged)
        chosen = chosen[judged[chosen] > Verdict.CONFORMING]
        row = close.i[chosen]
        verdict[row], other[row] = judged[chosen], close.j[chosen]
        measured[row], u95[row] = close.distance_m[chosen], close.u95_m[chosen]
    if greatest:
        far = np.where(
            alone, Verdict.NOT_APPLICABLE, at_most(nearest.distance_m, nearest.u95_m, greatest.value)
        ).astype(np.int8)
        # One neighbour near enough will do, and the nearest by its centre may be the less certain.
        asking = np.flatnonzero(far > Verdict.CONFORMING)
        near = _in_reach(cases, asking, greatest.value, edge_to_edge=edge_to_edge)
        judged = at_most(near.distance_m, near.u95_m, greatest.value)
        chosen = _first_of_each(near, judged)
        row = near.i[chosen]
        far[row] = judged[chosen]
        nearest.j[row] = near.j[chosen]
        nearest.distance_m[row], nearest.u95_m[row] = near.distance_m[chosen], near.u95_m[chosen]
        decides = (far > verdict) | (least is None)
        limit[decides], verdict[decides], other[decides] = greatest.value, far[decides], nearest.j[decides]
        measured[decides], u95[decides] = nearest.distance_m[decides], nearest.u95_m[decides]

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


class _Pairs(NamedTuple):
    """Judged placements and neighbours: row of each, distance, and its 95 % uncertainty; NaN if unknown."""

    i: NDArray[np.intp]
    #: -1 where there is no neighbour.
    j: NDArray[np.intp]
    distance_m: NDArray[np.float64]
    u95_m: NDArray[np.float64]


def _measured(
    cases: Cases,
    i: NDArray[np.intp],
    j: NDArray[np.intp],
    between_centres_m: NDArray[np.float64],
    *,
    edge_to_edge: bool,
) -> _Pairs:
    p, o = cases.placements, cases.others
    distance_m = between_centres_m
    if edge_to_edge:
        distance_m = distance_m - p.base_radius_m[i] - o.base_radius_m[j]
    return _Pairs(i, j, distance_m, np.hypot(p.r95_m[i], o.r95_m[j]))


def _nearest(cases: Cases, *, edge_to_edge: bool) -> _Pairs:
    """Give, for each placement, the neighbour whose centre is nearest."""
    p, o = cases.placements, cases.others
    other, away_m = nearest_other(p.lon_deg, p.lat_deg, o.lon_deg, o.lat_deg, own=cases.own_row)
    twins = np.flatnonzero((other >= 0) & _same_tag(cases, np.arange(len(p)), other))
    if len(twins):
        other[twins], away_m[twins] = _nearest_of_another_tag(cases, twins)
    known = np.flatnonzero(other >= 0)
    found = _measured(cases, known, other[known], away_m[known], edge_to_edge=edge_to_edge)
    distance_m, u95_m = np.full(len(p), np.nan), np.full(len(p), np.nan)
    distance_m[known], u95_m[known] = found.distance_m, found.u95_m
    return _Pairs(np.arange(len(p)), other, distance_m, u95_m)


def _same_tag(cases: Cases, i: NDArray[np.intp], j: NDArray[np.intp]) -> NDArray[np.bool_]:
    tag = cases.placements.tag[i]
    return np.asarray((tag == cases.others.tag[j]) & (tag != ""), dtype=bool)


def _nearest_of_another_tag(
    cases: Cases, rows: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """
    Find the nearest neighbour of each of some rows, leaving out every placement of the same tag.

    Tags are numbered. Two that differ do so in at least one binary digit: asking, digit by digit, only those
    with the other value passes over the same tag and over no other, in a few questions for however many.
    """
    p, o = cases.placements, cases.others
    _, number = np.unique(np.concatenate([p.tag[rows], o.tag]).astype(str), return_inverse=True)
    own, theirs = number[: len(rows)], number[len(rows) :]
    best, away_m = np.full(len(rows), -1, dtype=np.intp), np.full(len(rows), np.inf)
    for digit in range(int(number.max()).bit_length()):
        for value in (0, 1):
            ask = np.flatnonzero((own >> digit) & 1 == value)
            may = np.flatnonzero((theirs >> digit) & 1 != value)
            row = rows[ask]
            found, distance_m = nearest_other(p.lon_deg[row], p.lat_deg[row], o.lon_deg[may], o.lat_deg[may])
            nearer = np.flatnonzero(distance_m < away_m[ask])
            best[ask[nearer]], away_m[ask[nearer]] = may[found[nearer]], distance_m[nearer]
    return best, away_m


def _in_reach(cases: Cases, rows: NDArray[np.intp], limit_m: float, *, edge_to_edge: bool) -> _Pairs:
    """Give every pair of these placements that is not certain to be farther apart than a limit."""
    p, o = cases.placements, cases.others
    # An unknown radius makes its own pairs inconclusive; it must not widen or blind the search.
    footprint_m = _largest(p.base_radius_m) + _largest(o.base_radius_m) if edge_to_edge else 0.0
    i, j, away_m = [np.empty(0, dtype=np.intp)], [np.empty(0, dtype=np.intp)], [np.empty(0)]
    # Those of like doubt are asked together: one poor fix must not make everybody look far.
    for mine in _of_like_doubt(p.r95_m, rows):
        for theirs in _of_like_doubt(o.r95_m, np.arange(len(o))):
            doubt_m = float(np.hypot(p.r95_m[mine].max(), o.r95_m[theirs].max()))
            first, second, distance_m = cross_pairs_within(
                p.lon_deg[mine],
                p.lat_deg[mine],
                o.lon_deg[theirs],
                o.lat_deg[theirs],
                limit_m + footprint_m + doubt_m + 0.001,
            )
            i.append(mine[first])
            j.append(theirs[second])
            away_m.append(distance_m)
    first, second, distance_m = np.concatenate(i), np.concatenate(j), np.concatenate(away_m)
    apart = (cases.own_row[first] != second) & ~_same_tag(cases, first, second)
    return _measured(cases, first[apart], second[apart], distance_m[apart], edge_to_edge=edge_to_edge)


def _of_like_doubt(r95_m: NDArray[np.float64], rows: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Part rows by the size of their doubt: below 4 m, below 16 m, and so on."""
    size = np.floor(np.log2(np.maximum(r95_m[rows], 1.0)) / 2.0)
    return [rows[size == each] for each in np.unique(size)]


def _largest(values: NDArray[np.float64]) -> float:
    return float(np.nan_to_num(values).max(initial=0.0))


def _first_of_each(pairs: _Pairs, rank: NDArray[np.int8]) -> NDArray[np.intp]:
    """Choose, for each judged placement, the pair of least rank and among those the closest."""
    order = np.lexsort((pairs.j, pairs.distance_m, rank, pairs.i))
    _, first = np.unique(pairs.i[order], return_index=True)
    return np.asarray(order[first], dtype=np.intp)


SPACING = Rule(
    rule_id="spacing",
    sentence="The module keeps the least (and where asked the greatest) distance to its neighbours.",
    source="Permit condition; geodesic distance on the ellipsoid, edge to edge of the bases unless stated.",
    parameters={"least": "length", "greatest": "length", "basis": "text"},
    needs_one_of=("least", "greatest"),
    choices={"basis": BASES},
    check=check,
)
