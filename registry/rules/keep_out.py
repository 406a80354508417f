"""Is the module clear of every cable, channel, wreck and habitat by its setback?"""

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import Verdict, at_least
from registry.measure.distinct import distinct
from registry.measure.geodesic import FARTHEST_M
from registry.measure.near_shapes import near_shapes
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import length_text

__all__ = ["KEEP_OUT"]

#: Beyond its setback and so much more a keep-out is clear of everything, and is not measured. Units: m.
SEEN_M = 1_000.0


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the distance to each keep-out in sight against its setback and report the tightest."""
    p, count = cases.placements, len(cases)
    override = asked.value("setback")
    # The base of a module is concrete, not a point: its edge must stay clear.
    unknown = np.isnan(p.base_radius_m)
    verdict = np.full(count, Verdict.CONFORMING if cases.keep_outs else Verdict.NOT_APPLICABLE, dtype=np.int8)
    if cases.keep_outs:
        verdict[unknown | np.isnan(p.r95_m) | np.isnan(p.lon_deg) | np.isnan(p.lat_deg)] = (
            Verdict.INCONCLUSIVE
        )
    row, index, found_m = _in_sight(cases, override)
    setback_m = np.array([keep_out.setback_m for keep_out in cases.keep_outs], dtype=float)[index]
    if override is not None:
        setback_m = np.maximum(setback_m, override[row])
    clear_m = found_m - p.base_radius_m[row]
    np.maximum.at(verdict, row, at_least(clear_m, p.r95_m[row], setback_m))
    order = np.lexsort((index, clear_m - setback_m, row))
    order = order[~np.isnan(clear_m[order])]
    seen, first = np.unique(row[order], return_index=True)
    measured, limit, tightest = np.full(count, np.nan), np.full(count, np.nan), np.full(count, -1)
    measured[seen], limit[seen] = clear_m[order[first]], setback_m[order[first]]
    tightest[seen] = index[order[first]]

    def message(row: int) -> str:
        if not cases.keep_outs:
            return "No keep-out is recorded in this registry."
        if unknown[row]:
            return "The radius of this module's base is not known, nor how far its edge is from any keep-out."
        if tightest[row] < 0:
            return f"Every keep-out is farther away than its setback and {SEEN_M:.0f} m more."
        keep_out = cases.keep_outs[tightest[row]]
        return (
            f"{length_text(measured[row], p.r95_m[row])} from {keep_out.kind} {keep_out.name}; "
            f"at least {limit[row]:g} m is asked."
        )

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=verdict,
        measured=measured,
        limit=limit,
        u95=np.where(tightest < 0, np.nan, p.r95_m),
        message=Phrases(count, message),
    )


def _in_sight(
    cases: Cases, override: NDArray[np.float64] | None
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    """Give the row of each case and keep-out that may matter to one another, and the distance. Units: m."""
    p = cases.placements
    doubt_m = np.nan_to_num(p.r95_m) + np.nan_to_num(p.base_radius_m)
    # What lies in sight of a module depends on its own doubt alone, so that no other changes its finding.
    sight_m = np.minimum(2.0 ** np.ceil(np.log2(np.maximum(doubt_m, SEEN_M))), FARTHEST_M)
    sight_m[doubt_m <= SEEN_M] = SEEN_M
    shapes = [keep_out.shape for keep_out in cases.keep_outs]
    setback_m = np.array([keep_out.setback_m for keep_out in cases.keep_outs], dtype=float)
    rows, indexes, found = [np.empty(0, np.intp)], [np.empty(0, np.intp)], [np.empty(0)]
    for reach_m in distinct(sight_m).tolist() if shapes else ():
        which = np.flatnonzero(sight_m == reach_m)
        widest_m = setback_m if override is None else np.maximum(setback_m, override[which].max())
        point, index, distance_m = near_shapes(p.lon_deg[which], p.lat_deg[which], shapes, widest_m + reach_m)
        row = which[point]
        own_m = setback_m[index] if override is None else np.maximum(setback_m[index], override[row])
        seen = distance_m <= own_m + reach_m
        rows.append(row[seen])
        indexes.append(index[seen])
        found.append(distance_m[seen])
    return np.concatenate(rows), np.concatenate(indexes), np.concatenate(found)


KEEP_OUT = Rule(
    rule_id="keep-out",
    sentence="The module is clear of every cable, pipeline, channel, wreck and habitat by its setback.",
    source="The setback recorded with each keep-out; distance along the ellipsoid from the base's edge.",
    parameters={"setback": "length"},
    implied=True,
    check=check,
)
