"""Does the module stand no higher than the permit allows, in metres and as a share of the water?"""

import numpy as np

from registry.measure.clearance import share_of_water_column
from registry.measure.decision import at_most
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
    limit, u95 = np.full(count, height.value if height else np.inf), p.height_u95_m
    verdict = at_most(p.height_m, u95, limit)
    if share:
        # A share is judged and reported as the height that it allows in this depth: one unit serves both.
        allowed, spread = share.value * p.depth_m, np.hypot(p.height_u95_m, share.value * p.depth_u95_m)
        by_share = at_most(p.height_m, spread, allowed)
        decides = (by_share > verdict) | ((by_share == verdict) & ((allowed < limit) | np.isinf(limit)))
        limit, u95 = np.where(decides, allowed, limit), np.where(decides, spread, u95)
        verdict = np.maximum(verdict, by_share)
    part, _ = share_of_water_column(p.height_m, p.height_u95_m, p.depth_m, p.depth_u95_m)

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
        verdict=verdict,
        measured=p.height_m,
        limit=limit,
        u95=u95,
        message=Phrases(count, message),
    )


RELIEF = Rule(
    rule_id="relief",
    sentence="The module stands no higher above the seabed than allowed, in metres or in share of water.",
    source="Permit condition: height over the seabed, or its share of the depth.",
    parameters={"greatest": "length", "greatest_share": "share"},
    needs_one_of=("greatest", "greatest_share"),
    check=check,
)
