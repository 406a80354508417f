"""Placements as a rule sees them: columns with sane values, judged by one condition."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
from shapely import Polygon

from registry.actions.gather_cases import cases_of
from registry.measure.decision import Verdict
from registry.measure.geodesic import direct
from registry.records.baseline import Baseline
from registry.records.finding import Findings
from registry.records.module import ModuleType
from registry.records.permit import Condition, KeepOut, Permit
from registry.records.placement import PlacementTable
from registry.records.quantity import Quantity
from registry.rules.cases import Cases
from registry.rules.catalogue import judge
from tests.builders import LAT_DEG, LON_DEG, NOON, a_permit, a_quantity

WORDS = ("placement_id", "tag", "permit", "module_type", "memorial")
OK, BAD, UNSURE = Verdict.CONFORMING, Verdict.NONCONFORMING, Verdict.INCONCLUSIVE
NOT_ASKED = Verdict.NOT_APPLICABLE
FOOT_M = 0.3048


def a_table(count: int = 1, **columns: Any) -> PlacementTable:
    """Give placements in the middle of the area, 20 m of water over a dome; a column may be one value."""
    defaults: dict[str, Any] = {
        "placement_id": [f"0badcafe-{row}" for row in range(count)],
        "tag": [f"MR-{row + 1:04d}" for row in range(count)],
        "permit": "HB-0417",
        "module_type": "dome-120",
        "memorial": "",
        "lon_deg": LON_DEG,
        "lat_deg": LAT_DEG,
        "r95_m": 1.5,
        "depth_m": 20.0,
        "depth_u95_m": 0.4,
        "placed_at_s": [NOON.timestamp() + 60.0 * row for row in range(count)],
        "height_m": 1.2,
        "height_u95_m": 0.03,
        "base_radius_m": 0.75,
        "mass_kg": 1400.0,
    }
    return PlacementTable(
        **{name: _column(name, value, count) for name, value in (defaults | columns).items()}
    )


def _column(name: str, value: Any, count: int) -> np.ndarray:
    column = np.empty(count, dtype=object if name in WORDS else float)
    column[:] = value
    return column


def at(*metres: tuple[float, float], lon_deg: float = LON_DEG, lat_deg: float = LAT_DEG) -> dict[str, Any]:
    """Give the columns of points so many metres east and north of a place."""
    east, north = np.array(metres, dtype=float).T
    bearing = np.degrees(np.arctan2(east, north))
    count = len(metres)
    lon, lat = direct(np.full(count, lon_deg), np.full(count, lat_deg), bearing, np.hypot(east, north))
    return {"lon_deg": lon, "lat_deg": lat}


def gathered(
    table: PlacementTable,
    *,
    permit: Permit | None = None,
    keep_outs: Sequence[KeepOut] = (),
    judged: Sequence[int] | None = None,
    zone: str = "America/New_York",
    baselines: Sequence[Baseline] = (),
    types: Sequence[ModuleType] = (),
    targets: tuple[Any, Any] | None = None,
) -> Cases:
    """
    Gather every placement of the permit, or those judged, among all of the table.

    `targets` are longitudes and latitudes, one for each judged placement or one for all.
    """
    permit = permit or a_permit()
    rows = (
        np.flatnonzero(table.permit == permit.number) if judged is None else np.array(judged, dtype=np.intp)
    )
    cases = cases_of(
        asked=[(permit, rows)],
        keep_outs=tuple(keep_outs),
        standing=table,
        zone=zone,
        baselines=tuple(baselines),
        types={each.type_id: each for each in types},
    )
    if targets is None:
        return cases
    lon, lat = (np.broadcast_to(np.asarray(each, dtype=float), (len(cases),)) for each in targets)
    return replace(cases, target_lon_deg=lon, target_lat_deg=lat)


def asked(rule_id: str, **limits: Quantity | float | str) -> Condition:
    """Give a condition; a bare number is a length in metres, a text its words."""
    return Condition(
        rule=rule_id, cite="Special condition 9", limits={k: limit(v) for k, v in limits.items()}
    )


def limit(value: Quantity | float | str) -> Quantity:
    if isinstance(value, Quantity):
        return value
    if isinstance(value, str):
        return Quantity(value=0.0, dimension="text", written=value)
    return a_quantity(float(value), written=f"{value:g} m")


def feet(value: float) -> Quantity:
    return a_quantity(value * FOOT_M, written=f"{value:g} ft")


def share(value: float) -> Quantity:
    return a_quantity(value, dimension="share")


def count_of(value: int) -> Quantity:
    return a_quantity(float(value), dimension="count")


def kilograms(value: float) -> Quantity:
    return a_quantity(value, dimension="mass", written=f"{value:g} kg")


def ratio(value: float) -> Quantity:
    return a_quantity(value, dimension="ratio", written=f"{value:g}")


#: What an engineer said of the dome of the tests, and the wave that a permit names; all invented.
SEA: dict[str, Quantity | float | str] = {
    "wave_height": 4.0,
    "wave_period": a_quantity(10.0, dimension="time", written="10 s"),
    "water_density": a_quantity(1025.0, dimension="density", written="1025 kg/m3"),
    "drag_coefficient": ratio(1.0),
    "inertia_coefficient": ratio(1.6),
    "lift_coefficient": ratio(0.4),
    "friction_coefficient": ratio(0.45),
    "force_height": 0.6,
    "edge_distance": 0.6,
}


def judged(
    rule_id: str,
    table: PlacementTable,
    limits: Mapping[str, Quantity | float | str] | None = None,
    **around: Any,
) -> Findings:
    """Ask one rule of a table."""
    (found,) = judge(gathered(table, **around), [(asked(rule_id, **(limits or {})),)])
    return found[0]


def verdicts(found: Findings) -> list[Verdict]:
    """Give the verdicts, having read every sentence: none may fail to be written."""
    assert all(sentence.endswith(".") and "nan" not in sentence.lower().split() for sentence in found.message)
    assert (
        len(found.message) == len(found.verdict) == len(found.measured) == len(found.limit) == len(found.u95)
    )
    return [Verdict(int(v)) for v in found.verdict]


def seconds(*instants: datetime) -> list[float]:
    return [instant.timestamp() for instant in instants]


def a_square(lon_deg: float, lat_deg: float, half_m: float = 500.0) -> Polygon:
    """Give a square area around a place, its longitudes running on past 180."""
    corners = at(
        (-half_m, -half_m),
        (half_m, -half_m),
        (half_m, half_m),
        (-half_m, half_m),
        lon_deg=lon_deg,
        lat_deg=lat_deg,
    )
    lon = lon_deg + np.remainder(corners["lon_deg"] - lon_deg + 180.0, 360.0) - 180.0
    return Polygon(zip(lon, corners["lat_deg"], strict=True))
