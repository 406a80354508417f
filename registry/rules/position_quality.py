"""Is the position known as well as the permit asks?"""

import numpy as np

from registry.errors import PermitError
from registry.measure.decision import Verdict, at_most
from registry.measure.survey_order import ORDERS, horizontal_limit
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import limit_text

__all__ = ["POSITION_QUALITY"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the 95 % radius against a radius, or against what a survey order allows in this depth."""
    p = cases.placements
    count = len(cases)
    radius, order = condition.limits.get("greatest"), condition.limits.get("order")
    limit = np.full(count, radius.value if radius else np.inf)
    if order:
        if order.written not in ORDERS:
            what = f"{order.written!r} is no order of IHO S-44."
            raise PermitError(what, remedy=f"Give one of {', '.join(ORDERS)}.")
        limit = np.minimum(limit, horizontal_limit(order.written, p.depth_m))
    # The radius is itself the doubt; it is compared as it stands.
    nothing = np.zeros(count)
    verdict = at_most(p.r95_m, nothing, limit)

    def message(row: int) -> str:
        asked = f"at most {limit_text(radius)}" if radius else f"S-44 order {order.written if order else ''}"
        if np.isnan(limit[row]):
            return f"The order {asked} depends on the depth, which is not known."
        return f"Known within {p.r95_m[row]:.2g} m (95 %); {asked} ({limit[row]:.2f} m) is asked."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="m",
        verdict=np.where(np.isnan(limit), Verdict.INCONCLUSIVE, verdict).astype(np.int8),
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
    check=check,
)
