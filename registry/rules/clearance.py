"""Is there enough water over the top of the module?"""

import numpy as np

from registry.measure.clearance import clearance_arrays
from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["CLEARANCE"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the water over the top at chart datum against the least clearance."""
    p = cases.placements
    clearance, u95 = clearance_arrays(p.depth_m, p.depth_u95_m, p.height_m, p.height_u95_m)
    least = condition.limits["least"]

    def message(row: int) -> str:
        asked = f"at least {limit_text(least)} is asked"
        if np.isnan(clearance[row]):
            return f"The depth or the height is not known; {asked} over the top."
        found = length_text(clearance[row], u95[row])
        return f"{found} of water over the top at {cases.permit.chart_datum}; {asked}."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="m",
        verdict=at_least(clearance, u95, least.value),
        measured=clearance,
        limit=np.full(len(cases), least.value),
        u95=u95,
        message=Phrases(len(cases), message),
    )


CLEARANCE = Rule(
    rule_id="clearance",
    sentence="The water over the top of the module, at chart datum, is at least the authorised clearance.",
    source="Permit condition (authorised minimum clearance); depth and height combined by JCGM 100:2008.",
    parameters={"least": "length"},
    needs_one_of=("least",),
    check=check,
)
