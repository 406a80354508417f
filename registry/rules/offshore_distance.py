"""Does the module lie as far from the shore as the permit asks, or no farther than it allows?"""

from collections.abc import Sequence

import numpy as np

from registry.measure.decision import at_least, at_most
from registry.measure.nearest_shape import nearest_shape
from registry.records.baseline import Baseline
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import band_text, length_text

__all__ = ["OFFSHORE_DISTANCE", "baselines_meant"]


def check(cases: Cases, asked: Asked) -> Findings:
    """
    Judge the distance from the nearest baseline; on the side of the land of one it is below zero.

    Only a baseline drawn as a polygon has a side of the land; a line is measured from both sides alike.
    """
    p, count = cases.placements, len(cases)
    name = asked.text("baseline")
    baselines = baselines_meant(cases.baselines, name)
    measured, nearest = nearest_shape(p.lon_deg, p.lat_deg, [each.shape for each in baselines])
    least, greatest = asked.value("least"), asked.value("greatest")
    low = np.full(count, -np.inf) if least is None else least
    high = np.full(count, np.inf) if greatest is None else greatest
    near, far = at_least(measured, p.r95_m, low), at_most(measured, p.r95_m, high)
    # The limit reported is the one that is nearer to being broken.
    limit = np.where((far > near) | ((far == near) & (high - measured < measured - low)), high, low)
    limit = np.where(np.isfinite(limit), limit, low if greatest is None else high)

    def message(row: int) -> str:
        said = f"{band_text(asked.of(row))} is asked"
        if not baselines:
            wanted = "No baseline is recorded" if name is None else f"No baseline named {name} is recorded"
            return f"{wanted}: leadline baseline add; {said}."
        baseline = baselines[nearest[row]].name
        if measured[row] < 0:
            return (
                f"{length_text(-measured[row], p.r95_m[row])} on the side of the land of {baseline}; {said}."
            )
        return f"{length_text(measured[row], p.r95_m[row])} from {baseline}; {said}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="m",
        verdict=np.maximum(near, far),
        measured=measured,
        limit=limit,
        u95=p.r95_m,
        message=Phrases(count, message),
    )


def baselines_meant(baselines: Sequence[Baseline], name: str | None) -> list[Baseline]:
    """
    Choose the baselines from which a condition counts.

    Parameters
    ----------
    baselines : sequence of Baseline
        All that are recorded.
    name : str or None
        An identifier, a name, or the name of a source of several shapes; None for all.
    """
    return [
        each
        for each in baselines
        if name is None or name in (each.baseline_id, each.name) or each.name.startswith(f"{name}: ")
    ]


OFFSHORE_DISTANCE = Rule(
    rule_id="offshore-distance",
    sentence="The module lies at the distance from the baseline that the permit asks.",
    source="Permit condition; distance along the ellipsoid from the nearest baseline of those recorded.",
    parameters={"least": "length", "greatest": "length", "baseline": "text"},
    needs_one_of=("least", "greatest"),
    check=check,
)
