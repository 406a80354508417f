"""Does the module stand no higher than the permit allows, in metres and as a share of the water?"""

import numpy as np

from registry.measure.clearance import share_of_water_column
from registry.measure.decision import Verdict, at_most
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["RELIEF"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge height above the seabed, and where asked its share of the water column."""
    p = cases.placements
    height, share = condition.limits.get("greatest"), condition.limits.get("greatest_share")
    count = len(cases)
    verdict = np.zeros(count, dtype=np.int8)
    measured, u95, limit = p.height_m, p.height_u95_m, np.full(count, np.nan)
    part, part_u95 = share_of_water_column(p.height_m, p.height_u95_m, p.depth_m, p.depth_u95_m)
    by_share = np.zeros(count, dtype=np.int8)
    if height:
        verdict = at_most(p.height_m, p.height_u95_m, height.value)
        limit[:] = height.value
    if share:
        by_share = at_most(part, part_u95, share.value)
        # A share is reported as the height that it allows in this depth, so that one unit serves both.
        allowed = share.value * p.depth_m
        decides = (by_share >= verdict) & ~np.isnan(allowed) if height else np.ones(count, dtype=bool)
        limit = np.where(decides, allowed, limit)
        spread = np.hypot(p.height_u95_m, share.value * p.depth_u95_m)
        u95 = np.where(decides, spread, u95)
        verdict = np.maximum(verdict, by_share)

    def message(row: int) -> str:
        if np.isnan(p.height_m[row]):
            return "The height of this module is not known."
        said = f"{length_text(p.height_m[row], p.height_u95_m[row])} above the seabed"
        asked = [f"at most {limit_text(height)}"] if height else []
        if share:
            found = "an unknown share" if np.isnan(part[row]) else f"{part[row]:.0%}"
            said += f", {found} of the water column"
            asked.append(f"at most {share.written} of it")
        return f"{said}; {' and '.join(asked)} is asked."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="m",
        verdict=np.where(np.isnan(measured), Verdict.INCONCLUSIVE, verdict).astype(np.int8),
        measured=measured,
        limit=limit,
        u95=u95,
        message=Phrases(count, message),
    )


RELIEF = Rule(
    rule_id="relief",
    sentence="The module stands no higher above the seabed than allowed, in metres or in share of water.",
    source="Permit condition; a share of one half is common in general permits (FAC 62-330.600(1)(d)).",
    parameters={"greatest": "length", "greatest_share": "share"},
    needs_one_of=("greatest", "greatest_share"),
    check=check,
)
