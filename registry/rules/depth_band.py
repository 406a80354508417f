"""Does the module stand in the depth band that the permit allows?"""

import numpy as np

from registry.measure.decision import Verdict, at_least, at_most
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["DEPTH_BAND"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the charted depth against the least and the greatest depth."""
    depth, u95 = cases.placements.depth_m, cases.placements.depth_u95_m
    least, greatest = condition.limits.get("least"), condition.limits.get("greatest")
    shallow = at_least(depth, u95, least.value if least else -np.inf)
    deep = at_most(depth, u95, greatest.value if greatest else np.inf)
    # An unknown depth is inconclusive under either limit, also under one that is not stated.
    verdict = np.maximum(shallow, deep)
    low, high = (least.value if least else -np.inf), (greatest.value if greatest else np.inf)
    # The limit reported is the one that is nearer to being broken.
    limit = np.where((deep > shallow) | ((deep == shallow) & (high - depth < depth - low)), high, low)
    limit = np.where(np.isfinite(limit), limit, high if greatest else low)

    def message(row: int) -> str:
        asked = " and ".join(
            f"{word} {limit_text(quantity)}"
            for word, quantity in (("at least", least), ("at most", greatest))
            if quantity
        )
        if np.isnan(depth[row]):
            return f"The depth is not known; {asked} below {cases.permit.chart_datum} is asked."
        found = length_text(depth[row], u95[row])
        return f"{found} below {cases.permit.chart_datum}; {asked} is asked."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="m",
        verdict=np.where(np.isnan(depth), Verdict.INCONCLUSIVE, verdict).astype(np.int8),
        measured=depth,
        limit=limit,
        u95=u95,
        message=Phrases(len(cases), message),
    )


DEPTH_BAND = Rule(
    rule_id="depth-band",
    sentence="The seabed under the module lies in the permitted band of charted depth.",
    source="Permit condition; depth below the permit's chart datum.",
    parameters={"least": "length", "greatest": "length"},
    needs_one_of=("least", "greatest"),
    check=check,
)
