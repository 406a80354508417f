"""Is the module clear of every cable, channel, wreck and habitat by its setback?"""

import numpy as np

from registry.measure.boundary import distance_to
from registry.measure.decision import Verdict, at_least
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text

__all__ = ["KEEP_OUT"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the distance to each keep-out against its setback and report the tightest."""
    count = len(cases)
    u95 = cases.placements.r95_m
    override = condition.limits.get("setback")
    measured, limit = np.full(count, np.nan), np.full(count, np.nan)
    verdict = np.full(count, Verdict.NOT_APPLICABLE, dtype=np.int8)
    tightest = np.full(count, -1)
    margin = np.full(count, np.inf)
    for index, keep_out in enumerate(cases.keep_outs):
        setback_m = max(keep_out.setback_m, override.value if override else 0.0)
        found = distance_to(cases.placements.lon_deg, cases.placements.lat_deg, keep_out.shape).distance_m
        # The base of a module is concrete, not a point: its edge must stay clear.
        clear_m = found - cases.placements.base_radius_m
        closer = clear_m - setback_m < margin
        margin[closer] = (clear_m - setback_m)[closer]
        measured[closer], limit[closer], tightest[closer] = clear_m[closer], setback_m, index
        verdict = np.maximum(verdict, at_least(clear_m, u95, setback_m))

    def message(row: int) -> str:
        if not cases.keep_outs:
            return "No keep-out is recorded in this registry."
        if tightest[row] < 0:
            return "The radius of this module's base is not known, nor how far its edge is from any keep-out."
        keep_out = cases.keep_outs[tightest[row]]
        return (
            f"{length_text(measured[row], u95[row])} from {keep_out.kind} {keep_out.name}; "
            f"at least {limit[row]:g} m is asked."
        )

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


KEEP_OUT = Rule(
    rule_id="keep-out",
    sentence="The module is clear of every cable, pipeline, channel, wreck and habitat by its setback.",
    source="The setback recorded with each keep-out; distance along the ellipsoid from the base's edge.",
    parameters={"setback": "length"},
    implied=True,
    check=check,
)
