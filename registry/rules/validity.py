"""Was the module placed while the permit was valid?"""

import numpy as np

from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule

__all__ = ["VALIDITY"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the day of placement, in the programme's zone, against the first and the last valid day."""
    first = np.datetime64(cases.permit.valid_from)
    last = np.datetime64(cases.permit.valid_to)
    after_first = (cases.placed_day - first).astype(float)
    before_last = (last - cases.placed_day).astype(float)
    inside_d = np.minimum(after_first, before_last)
    nothing = np.zeros(len(cases))

    def message(row: int) -> str:
        span = f"from {cases.permit.valid_from} to {cases.permit.valid_to}"
        return f"Placed on {cases.placed_day[row]}; the permit is valid {span}."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="d",
        verdict=at_least(inside_d, nothing, nothing),
        measured=inside_d,
        limit=nothing,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


VALIDITY = Rule(
    rule_id="validity",
    sentence="The module was placed on a day on which the permit was valid.",
    source="The permit's own dates, both included.",
    implied=True,
    check=check,
)
