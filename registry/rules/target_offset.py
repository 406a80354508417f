"""Does the module lie where the plan wants it?"""

import numpy as np

from registry.measure.decision import at_most
from registry.measure.geodesic import inverse
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["TARGET_OFFSET"]


def check(cases: Cases, asked: Asked) -> Findings:
    """
    Judge the distance from each module's target; the target is a figure of the plan and has no doubt.

    A module of which the plan says nothing keeps and breaks nothing: it is inconclusive until its target is
    recorded.
    """
    p = cases.placements
    planned = ~np.isnan(cases.target_lon_deg)
    offset_m = np.full(len(cases), np.nan)
    offset_m[planned], _ = inverse(
        cases.target_lon_deg[planned], cases.target_lat_deg[planned], p.lon_deg[planned], p.lat_deg[planned]
    )
    greatest = asked.value("greatest")
    assert greatest is not None

    def message(row: int) -> str:
        said = f"at most {limit_text(asked.of(row).limits['greatest'])} is asked"
        if not planned[row]:
            return f"No target is recorded for this module: leadline target add; {said}."
        return f"{length_text(offset_m[row], p.r95_m[row])} from its target; {said}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=at_most(offset_m, p.r95_m, greatest),
        measured=offset_m,
        limit=greatest,
        u95=p.r95_m,
        message=Phrases(len(cases), message),
    )


TARGET_OFFSET = Rule(
    rule_id="target-offset",
    sentence="The module lies no farther from its planned position than the permit allows.",
    source="Permit condition: layout of the plan; distance along the ellipsoid from the recorded target.",
    parameters={"greatest": "length"},
    needs_one_of=("greatest",),
    check=check,
)
