"""Was the module placed while the permit was valid?"""

from datetime import date

import numpy as np
from numpy.typing import NDArray

from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule

__all__ = ["VALIDITY"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the day of placement, in the programme's zone, against the first and the last valid day."""
    first = _days([permit.valid_from for permit in cases.permits])[cases.permit_row]
    last = _days([permit.valid_to for permit in cases.permits])[cases.permit_row]
    after_first = (cases.placed_day - first).astype(float)
    before_last = (last - cases.placed_day).astype(float)
    inside_d = np.minimum(after_first, before_last)
    nothing = np.broadcast_to(0.0, len(cases))

    def message(row: int) -> str:
        permit = cases.permit_of(row)
        span = f"from {permit.valid_from} to {permit.valid_to}"
        return f"Placed on {cases.placed_day[row]}; the permit is valid {span}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="d",
        verdict=at_least(inside_d, nothing, nothing),
        measured=inside_d,
        limit=nothing,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


def _days(days: list[date]) -> NDArray[np.datetime64]:
    return np.array(days, dtype="datetime64[D]")


VALIDITY = Rule(
    rule_id="validity",
    sentence="The module was placed on a day on which the permit was valid.",
    source="The permit's own dates, both included.",
    implied=True,
    check=check,
)
