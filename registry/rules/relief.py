"""Does the module stand no higher than the permit allows, in metres and as a share of the water?"""

import numpy as np

from registry.measure.clearance import share_of_water_column
from registry.measure.decision import at_most
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["RELIEF"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge height above the seabed, and where asked its share of the water column."""
    p = cases.placements
    height, share = asked.value("greatest"), asked.value("greatest_share")
    count = len(cases)
    limit, u95 = np.full(count, np.inf) if height is None else height, p.height_u95_m
    verdict = at_most(p.height_m, u95, limit)
    if share is not None:
        # A share is judged and reported as the height that it allows in this depth: one unit serves both.
        allowed, spread = share * p.depth_m, np.hypot(p.height_u95_m, share * p.depth_u95_m)
        by_share = at_most(p.height_m, spread, allowed)
        decides = (by_share > verdict) | ((by_share == verdict) & ((allowed < limit) | np.isinf(limit)))
        limit, u95 = np.where(decides, allowed, limit), np.where(decides, spread, u95)
        verdict = np.maximum(verdict, by_share)
    part, _ = share_of_water_column(p.height_m, p.height_u95_m, p.depth_m, p.depth_u95_m)

    def message(row: int) -> str:
        if np.isnan(p.height_m[row]):
            return "The height of this module is not known."
        said = f"{length_text(p.height_m[row], p.height_u95_m[row])} above the seabed"
        limits = asked.of(row).limits
        parts = [f"at most {limit_text(limits['greatest'])}"] if height is not None else []
        if share is not None:
            found = "an unknown share" if np.isnan(part[row]) else f"{part[row]:.0%}"
            said += f", {found} of the water column"
            parts.append(f"at most {limits['greatest_share'].written} of it")
        return f"{said}; {' and '.join(parts)} is asked."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
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
