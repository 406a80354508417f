"""Is the module far enough from every neighbour, edge to edge, and near enough where the permit asks that?"""

from typing import NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from registry.errors import PermitError
from registry.measure.decision import Verdict, at_least, at_most
from registry.measure.distinct import distinct
from registry.measure.geodesic import FARTHEST_M
from registry.measure.neighbours import Neighbourhood
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import band_text, length_text

__all__ = ["SPACING", "sight_m"]

BASES = ("edge", "centre")
#: A neighbour is named within this distance, and within twice the least distance. Units: m.
NEAR_M = 2_000.0
#: How far around a module of many twins another is sought before every tag is sorted. Units: m.
_AROUND_M = (25.0, 100.0, 400.0)

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]


def check(cases: Cases, asked: Asked) -> Findings:
    """
    Judge the distance to each neighbour of any permit; the pair that decides is the one reported.

    The uncertainty of a pair is ``U = sqrt(R1**2 + R2**2)``: both fixes are taken as independent.
    A module of the same tag is no neighbour but a duplicate, and is left to that rule.
    """
    count = len(cases)
    edge_to_edge = _edge_to_edge(asked)
    least, greatest = asked.value("least"), asked.value("greatest")
    centre_m, away_m, nearest = _nearest(cases, edge_to_edge=edge_to_edge)
    other, measured, u95 = nearest.j.copy(), nearest.distance_m.copy(), nearest.u95_m.copy()
    alone = other < 0
    if greatest is None and least is not None:
        # Whoever is out of sight is not named: a finding depends on what lies around, not on the whole sea.
        alone |= away_m > sight_m(least)
        other[alone], measured[alone], u95[alone] = -1, np.nan, np.nan
    limit = np.full(count, np.nan) if least is None else least.copy()
    verdict = np.where(alone, Verdict.NOT_APPLICABLE, Verdict.CONFORMING).astype(np.int8)
    if least is not None:
        verdict[~alone & np.isnan(measured)] = Verdict.INCONCLUSIVE
        close = _in_reach(cases, np.arange(count), least, centre_m, edge_to_edge=edge_to_edge)
        judged = at_least(close.distance_m, close.u95_m, least[close.i])
        chosen = _first_of_each(close, -judged)
        chosen = chosen[judged[chosen] > Verdict.CONFORMING]
        row = close.i[chosen]
        verdict[row], other[row] = judged[chosen], close.j[chosen]
        measured[row], u95[row] = close.distance_m[chosen], close.u95_m[chosen]
    if greatest is not None:
        far = np.where(
            alone, Verdict.NOT_APPLICABLE, at_most(nearest.distance_m, nearest.u95_m, greatest)
        ).astype(np.int8)
        # One neighbour near enough will do, and the nearest by its centre may be the less certain.
        asking = np.flatnonzero(far > Verdict.CONFORMING)
        near = _in_reach(cases, asking, greatest[asking], centre_m, edge_to_edge=edge_to_edge)
        judged = at_most(near.distance_m, near.u95_m, greatest[near.i])
        chosen = _first_of_each(near, judged)
        row = near.i[chosen]
        far[row] = judged[chosen]
        nearest.j[row] = near.j[chosen]
        nearest.distance_m[row], nearest.u95_m[row] = near.distance_m[chosen], near.u95_m[chosen]
        decides = (far > verdict) | (least is None)
        limit[decides], verdict[decides], other[decides] = greatest[decides], far[decides], nearest.j[decides]
        measured[decides], u95[decides] = nearest.distance_m[decides], nearest.u95_m[decides]

    def message(row: int) -> str:
        if other[row] < 0:
            return "No other module lies near."
        how = "edge to edge" if edge_to_edge else "centre to centre"
        neighbour = cases.others.tag_of(other[row])
        said = band_text(asked.of(row))
        return f"{length_text(measured[row], u95[row])} {how} from {neighbour}; {said} is asked."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=verdict,
        measured=measured,
        limit=limit,
        u95=u95,
        message=Phrases(count, message),
    )


@overload
def sight_m(least_m: float) -> float: ...
@overload
def sight_m(least_m: Floats) -> Floats: ...
def sight_m(least_m: float | Floats) -> float | Floats:
    """Tell how far a neighbour is named where so much is asked at the least. Units: m."""
    return np.maximum(NEAR_M, 2.0 * least_m)


def _edge_to_edge(asked: Asked) -> bool:
    word = asked.text("basis") or "edge"
    if word not in BASES:
        what = f"A spacing condition has the basis {word!r}."
        raise PermitError(what, remedy=f"Give basis as one of {', '.join(BASES)}.")
    return word == "edge"


class _Pairs(NamedTuple):
    """Judged placements and neighbours: row of each, distance, and its 95 % uncertainty; NaN if unknown."""

    i: Rows
    #: -1 where there is no neighbour.
    j: Rows
    distance_m: Floats
    u95_m: Floats


def _measured(cases: Cases, i: Rows, j: Rows, between_centres_m: Floats, *, edge_to_edge: bool) -> _Pairs:
    p, o = cases.placements, cases.others
    distance_m = between_centres_m
    if edge_to_edge:
        distance_m = distance_m - p.base_radius_m[i] - o.base_radius_m[j]
    return _Pairs(i, j, distance_m, np.hypot(p.r95_m[i], o.r95_m[j]))


def _nearest(cases: Cases, *, edge_to_edge: bool) -> tuple[Floats, Floats, _Pairs]:
    """Give how far the nearest of any tag and the nearest neighbour are, by their centres, and that pair."""
    other, away_m = cases.neighbourhood.nearest_other(cases.own_row)
    nearest_m = away_m.copy()
    many = np.flatnonzero((other >= 0) & (cases.same_tag > 1))
    twins = many[_same_tag(cases, many, other[many])]
    if len(twins):
        other[twins], away_m[twins] = _nearest_of_another_tag(cases, twins)
    known = np.flatnonzero(other >= 0)
    found = _measured(cases, known, other[known], away_m[known], edge_to_edge=edge_to_edge)
    distance_m, u95_m = np.full(len(cases), np.nan), np.full(len(cases), np.nan)
    distance_m[known], u95_m[known] = found.distance_m, found.u95_m
    return nearest_m, away_m, _Pairs(np.arange(len(cases)), other, distance_m, u95_m)


def _same_tag(cases: Cases, i: Rows, j: Rows) -> NDArray[np.bool_]:
    tag = cases.placements.rows(i).tag
    return np.asarray((tag == cases.others.rows(j).tag) & (tag != ""), dtype=bool)


def _nearest_of_another_tag(cases: Cases, rows: Rows) -> tuple[Rows, Floats]:
    """Find the nearest neighbour of each of some rows, leaving out every placement of the same tag."""
    best, away_m = np.full(len(rows), -1, dtype=np.intp), np.full(len(rows), np.inf)
    case_of = np.full(len(cases.others), -1, dtype=np.intp)
    case_of[cases.own_row[rows]] = np.arange(len(rows))
    for reach_m in _AROUND_M:
        left = np.flatnonzero(best < 0)
        if not len(left):
            return best, away_m
        i, j, distance_m = cases.neighbourhood.within(cases.own_row[rows[left]], reach_m)
        place = case_of[i]
        apart = np.flatnonzero(~_same_tag(cases, rows[place], j))
        order = apart[np.lexsort((j[apart], distance_m[apart], place[apart]))]
        found, first = np.unique(place[order], return_index=True)
        best[found], away_m[found] = j[order[first]], distance_m[order[first]]
    left = np.flatnonzero(best < 0)
    if len(left):
        best[left], away_m[left] = _nearest_by_digits(cases, rows[left])
    return best, away_m


def _nearest_by_digits(cases: Cases, rows: Rows) -> tuple[Rows, Floats]:
    """
    Find it however far it is.

    Tags are numbered. Two that differ do so in at least one binary digit: asking, digit by digit, only those
    with the other value passes over the same tag and over no other, in a few questions for however many.
    """
    p, o = cases.placements, cases.others
    number_of = {tag: number for number, tag in enumerate(dict.fromkeys(o.tag.tolist()))}
    theirs = np.fromiter(map(number_of.__getitem__, o.tag.tolist()), np.int64, len(o))
    own = theirs[cases.own_row[rows]]
    best, away_m = np.full(len(rows), -1, dtype=np.intp), np.full(len(rows), np.inf)
    for digit in range(len(number_of).bit_length()):
        for value in (0, 1):
            ask = np.flatnonzero((own >> digit) & 1 == value)
            may = np.flatnonzero((theirs >> digit) & 1 != value)
            if not (len(ask) and len(may)):
                continue
            others = Neighbourhood(o.lon_deg[may], o.lat_deg[may])
            row, nobody = rows[ask], np.full(len(ask), -1, dtype=np.intp)
            found, distance_m = others.nearest_to(p.lon_deg[row], p.lat_deg[row], nobody)
            nearer = np.flatnonzero(distance_m < away_m[ask])
            best[ask[nearer]], away_m[ask[nearer]] = may[found[nearer]], distance_m[nearer]
    return best, away_m


def _in_reach(cases: Cases, rows: Rows, limit_m: Floats, nearest_m: Floats, *, edge_to_edge: bool) -> _Pairs:
    """
    Give every pair of these placements that is not certain to be farther apart than a limit, one for each.

    A pair is found from the side of the less certain fix: a poor one looks far around itself, and makes
    nobody else do so.
    """
    o = cases.others
    nothing = np.empty(0, dtype=np.intp)
    if not len(rows):
        return _Pairs(nothing, nothing, np.empty(0), np.empty(0))
    # An unknown radius makes its own pairs inconclusive; it must not widen or blind the search.
    base_m = np.nan_to_num(o.base_radius_m) if edge_to_edge else np.zeros(len(o))
    doubt_m = np.nan_to_num(o.r95_m)
    size = _size_of_doubt(doubt_m)
    own = cases.own_row[rows]
    case_of = np.full(len(o), -1, dtype=np.intp)
    case_of[own] = np.arange(len(rows))
    # The greatest doubt among those that are no less certain than the size says.
    largest_m = np.zeros(size.max() + 1)
    np.maximum.at(largest_m, size, doubt_m)
    largest_m = np.maximum.accumulate(largest_m)
    reach_m = limit_m + base_m[own] + base_m.max() + np.hypot(doubt_m[own], largest_m[size[own]])
    asking = nearest_m[rows] <= reach_m + 0.001
    i, j, away_m = _around(cases.neighbourhood, own[asking], reach_m[asking])
    sure = size[j] <= size[i]
    i, j, away_m = case_of[i[sure]], j[sure], away_m[sure]
    poor = np.flatnonzero(size > size[own].min())
    widest_m = limit_m.max() + base_m[poor] + base_m.max() + np.sqrt(2.0) * doubt_m[poor]
    far_m = np.zeros(len(o))
    far_m[cases.own_row] = nearest_m
    asking = far_m[poor] <= widest_m + 0.001
    theirs, mine, between_m = _around(cases.neighbourhood, poor[asking], widest_m[asking])
    other = (case_of[mine] >= 0) & (size[mine] < size[theirs])
    i, j = np.concatenate((i, case_of[mine[other]])), np.concatenate((j, theirs[other]))
    away_m = np.concatenate((away_m, between_m[other]))
    found = _measured(cases, rows[i], j, away_m, edge_to_edge=edge_to_edge)
    many = np.flatnonzero(cases.same_tag[found.i] > 1)
    twins = many[_same_tag(cases, found.i[many], found.j[many])]
    kept = ~(found.distance_m - found.u95_m > limit_m[i] + 0.001)
    kept[twins] = False
    return _Pairs(found.i[kept], found.j[kept], found.distance_m[kept], found.u95_m[kept])


def _around(points: Neighbourhood, rows: Rows, reach_m: Floats) -> tuple[Rows, Rows, Floats]:
    """Find what lies within a reach of each of some points; those of like reach ask together."""
    found = [(np.empty(0, dtype=np.intp), np.empty(0, dtype=np.intp), np.empty(0))]
    reach_m = np.minimum(reach_m, FARTHEST_M)
    alike = np.ceil(2.0 * np.log2(reach_m + 0.001))
    for each in distinct(alike):
        which = np.flatnonzero(alike == each)
        found.append(points.within(rows[which], float(reach_m[which].max()) + 0.001))
    i, j, away_m = zip(*found, strict=True)
    return np.concatenate(i), np.concatenate(j), np.concatenate(away_m)


def _size_of_doubt(r95_m: Floats) -> NDArray[np.int64]:
    """Sort fixes by the size of their doubt: below 4 m, below 16 m, and so on."""
    return np.asarray(np.floor(np.log2(np.maximum(r95_m, 1.0)) / 2.0), dtype=np.int64)


def _first_of_each(pairs: _Pairs, rank: NDArray[np.int8]) -> Rows:
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
