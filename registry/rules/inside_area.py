"""Is the module inside a permit area, by at least the setback from its edge?"""

import numpy as np

from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["INSIDE_AREA"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the distance to the edge against the setback, both along the ellipsoid."""
    inside_m, setback = cases.inside_m, asked.value("setback")
    limit = np.zeros(len(cases)) if setback is None else setback
    # The radius stands in for the one-dimensional doubt across the edge: a little wider, never narrower.
    u95 = cases.placements.r95_m

    def message(row: int) -> str:
        name = cases.permit_of(row).areas[cases.area_row[row]].area_id
        stated = asked.of(row).limits.get("setback")
        distance = length_text(abs(inside_m[row]), u95[row])
        side = "inside" if inside_m[row] >= 0 else "outside"
        said = f"; at least {limit_text(stated)} inside is asked" if stated else ""
        return f"{distance} {side} the edge of {name}{said}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=at_least(inside_m, u95, limit),
        measured=inside_m,
        limit=limit,
        u95=u95,
        message=Phrases(len(cases), message),
    )


INSIDE_AREA = Rule(
    rule_id="inside-area",
    sentence="The module lies inside a permit area, by at least the setback from its edge.",
    source="Permit area; distance along the ellipsoid, edges as the permit says they run.",
    parameters={"setback": "length"},
    implied=True,
    check=check,
)
