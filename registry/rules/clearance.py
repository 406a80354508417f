"""Is there enough water over the top of the module?"""

import numpy as np

from registry.measure.clearance import clearance_arrays
from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["CLEARANCE"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the water over the top at chart datum against the least clearance."""
    p = cases.placements
    clearance, u95 = clearance_arrays(p.depth_m, p.depth_u95_m, p.height_m, p.height_u95_m)
    least = asked.value("least")
    assert least is not None

    def message(row: int) -> str:
        said = f"at least {limit_text(asked.of(row).limits['least'])} is asked"
        if np.isnan(clearance[row]):
            return f"The depth or the height is not known; {said} over the top."
        found = length_text(clearance[row], u95[row])
        return f"{found} of water over the top at {cases.permit_of(row).chart_datum}; {said}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=at_least(clearance, u95, least),
        measured=clearance,
        limit=least,
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
