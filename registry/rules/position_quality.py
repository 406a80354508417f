"""Is the position known as well as the permit asks?"""

import numpy as np

from registry.measure.decision import Verdict, at_most
from registry.measure.survey_order import ORDERS, horizontal_limit
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import limit_text, radius_text

__all__ = ["POSITION_QUALITY"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the 95 % radius against a radius, or against what a survey order allows in this depth."""
    p = cases.placements
    count = len(cases)
    radius, order = asked.value("greatest"), asked.text("order")
    by_radius = np.full(count, np.inf) if radius is None else radius
    by_order = np.full(count, np.inf) if order is None else horizontal_limit(order, p.depth_m)
    # The radius is itself the doubt; it is compared as it stands.
    nothing = np.zeros(count)
    # A radius that breaks the one limit is broken, also where the other depends on an unknown depth.
    breaks = at_most(p.r95_m, nothing, by_radius) == Verdict.NONCONFORMING
    limit = np.where(breaks & np.isnan(by_order), by_radius, np.minimum(by_radius, by_order))

    def message(row: int) -> str:
        stated = asked.of(row).limits.get("greatest")
        said = [f"at most {limit_text(stated)}"] if stated else []
        if order is not None:
            allowed = "depends on the unknown depth" if np.isnan(by_order[row]) else f"{by_order[row]:.2f} m"
            said.append(f"S-44 order {order} ({allowed})")
        return f"Known within {radius_text(p.r95_m[row])} (95 %); {' and '.join(said)} is asked."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=at_most(p.r95_m, nothing, limit),
        measured=p.r95_m,
        limit=limit,
        u95=nothing,
        message=Phrases(count, message),
    )


POSITION_QUALITY = Rule(
    rule_id="position-quality",
    sentence="The position is known within the radius, or by the survey order, that the permit asks.",
    source="IHO S-44 edition 6.1.0, table 1 (total horizontal uncertainty at 95 %).",
    parameters={"greatest": "length", "order": "text"},
    needs_one_of=("greatest", "order"),
    choices={"order": tuple(ORDERS)},
    check=check,
)
