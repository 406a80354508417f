"""Is the module inside a permit area, by at least the setback from its edge?"""

import numpy as np

from registry.measure.boundary import signed_distance
from registry.measure.decision import at_least
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule
from registry.rules.wording import length_text, limit_text

__all__ = ["INSIDE_AREA", "distance_inside"]


def distance_inside(cases: Cases) -> tuple[np.ndarray, np.ndarray]:
    """
    Give how far each module lies inside the permit area that holds it best, and which area that is.

    Returns
    -------
    tuple of numpy.ndarray
        Distance to the edge, positive inside (units: m), and the index of the area; each of shape (n,).
    """
    lon, lat = cases.placements.lon_deg, cases.placements.lat_deg
    by_area = np.stack([signed_distance(lon, lat, a.shape, a.edges).distance_m for a in cases.permit.areas])
    best = by_area.argmax(axis=0)
    return by_area[best, np.arange(len(cases))], best


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge the distance to the edge against the setback, both along the ellipsoid."""
    inside_m, area = distance_inside(cases)
    setback = condition.limits.get("setback")
    limit = np.full(len(cases), setback.value if setback else 0.0)
    # The radius stands in for the one-dimensional doubt across the edge: a little wider, never narrower.
    u95 = cases.placements.r95_m

    def message(row: int) -> str:
        name = cases.permit.areas[area[row]].area_id
        distance = length_text(abs(inside_m[row]), u95[row])
        side = "inside" if inside_m[row] >= 0 else "outside"
        asked = f"; at least {limit_text(setback)} inside is asked" if setback else ""
        return f"{distance} {side} the edge of {name}{asked}."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
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
