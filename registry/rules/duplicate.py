"""Does one tag lie in one place, and one memorial in one module?"""

import numpy as np

from registry.measure.decision import at_most
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule

__all__ = ["DUPLICATE"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Count the standing placements of each tag and of each memorial."""
    measured = np.maximum(cases.same_tag, cases.same_memorial).astype(float)
    one, nothing = np.broadcast_to(1.0, len(cases)), np.broadcast_to(0.0, len(cases))
    p = cases.placements

    def message(row: int) -> str:
        if cases.same_tag[row] > 1:
            said = f"Tag {p.tag_of(row)} is recorded in {cases.same_tag[row]} places"
            return f"{said}; one module lies in one place."
        if cases.same_memorial[row] > 1:
            return f"The memorial of {p.tag_of(row)} is recorded in {cases.same_memorial[row]} modules."
        return "Recorded once."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="placements",
        verdict=at_most(measured, nothing, one),
        measured=measured,
        limit=one,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


DUPLICATE = Rule(
    rule_id="duplicate",
    sentence="The tag is placed once, and the memorial is placed once.",
    source="Common practice, no source.",
    implied=True,
    check=check,
)
