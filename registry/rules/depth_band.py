"""Does the module stand in the depth band that the permit allows?"""

import numpy as np

from registry.measure.decision import Verdict, at_least, at_most
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import band_text, length_text

__all__ = ["DEPTH_BAND"]


def check(cases: Cases, asked: Asked) -> Findings:
    """Judge the charted depth against the least and the greatest depth."""
    depth, u95 = cases.placements.depth_m, cases.placements.depth_u95_m
    least, greatest = asked.value("least"), asked.value("greatest")
    low = np.full(len(cases), -np.inf) if least is None else least
    high = np.full(len(cases), np.inf) if greatest is None else greatest
    shallow, deep = at_least(depth, u95, low), at_most(depth, u95, high)
    # An unknown depth is inconclusive under either limit, also under one that is not stated.
    verdict = np.maximum(shallow, deep)
    # The limit reported is the one that is nearer to being broken.
    limit = np.where((deep > shallow) | ((deep == shallow) & (high - depth < depth - low)), high, low)
    limit = np.where(np.isfinite(limit), limit, low if greatest is None else high)

    def message(row: int) -> str:
        said = band_text(asked.of(row))
        datum = cases.permit_of(row).chart_datum
        if np.isnan(depth[row]):
            return f"The depth is not known; {said} below {datum} is asked."
        return f"{length_text(depth[row], u95[row])} below {datum}; {said} is asked."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
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
