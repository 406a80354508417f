"""Permits and what lies under them, for tests of the as-built list and of what is written from it."""

from datetime import UTC, datetime
from typing import Any

from shapely import MultiPolygon, Polygon, box

from registry.actions.as_built_list import as_built_list
from registry.formats.reported_position import write_reported
from registry.formats.written_position import read_position
from registry.records.as_built import AsBuiltList
from registry.records.entry import Draft
from registry.records.permit import Permit
from registry.records.placement import Placement
from tests.actions.stocked import add_permit_text
from tests.builders import (
    ACTOR,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_type,
    an_area,
    module_added,
    permit_added,
    placement_logged,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

MADE = datetime(2026, 11, 27, 16, 0, tzinfo=UTC)
#: Names that no list may show.
PRIVATE = ("Perdita Unlisted", "Ada", "Ben", "Sanderling")

HEAD = """
[permit]
number = "HB-0417"
authority = "Harbour Bay Coastal Office"
valid_from = 2024-05-01
valid_to = 2034-04-30
chart_datum = "MLLW"
"""
SQUARE = """
[[area]]
id = "gannet-patch"
corners = ["34 00.600 N 077 00.600 W", "34 00.600 N 076 59.400 W",
           "33 59.400 N 076 59.400 W", "33 59.400 N 077 00.600 W"]
frame = "EPSG:6318"
"""
HOLED = """
[[area]]
id = "ring"
corners = ["34 00.600 N 077 00.600 W", "34 00.600 N 076 59.400 W",
           "33 59.400 N 076 59.400 W", "33 59.400 N 077 00.600 W"]
holes = [["34 00.300 N 077 00.300 W", "34 00.300 N 077 00.100 W", "34 00.100 N 077 00.100 W"]]
frame = "EPSG:6318"
"""
CIRCLE = """
[[area]]
id = "circle"
centre = "34 00.000 N 077 00.000 W"
radius = "500 ft"
frame = "EPSG:6318"
"""
CAPACITY = """
[[condition]]
rule = "capacity"
greatest_count = 3
greatest_mass = "5 t"
cite = "Special condition 6"
"""
CLEARANCE = """
[[condition]]
rule = "clearance"
least = "50 ft"
cite = "Special condition 2"
"""


def reporting(**lines: str) -> str:
    """Give the table in which a permit says how it wants to be told."""
    return "\n[reporting]\n" + "".join(f'{name} = "{value}"\n' for name, value in lines.items())


def a_reef(*placements: Placement, permit: str | Permit = "", modules: int = 9) -> MemoryRegister:
    """Give a registry with one permit, by its file's text or as a record, and what lies under it."""
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    memorial = a_memorial(name=PRIVATE[0], consent_listed=True)
    drafts: list[Draft] = [type_added(), type_added(a_type(type_id="cube-90", height_m=0.9, note="a cube"))]
    drafts += [module_added(a_module(tag=f"MR-{k:04d}", memorial=memorial)) for k in range(1, modules + 1)]
    if isinstance(permit, Permit):
        drafts.append(permit_added(permit))
    register.append(drafts)
    if isinstance(permit, str):
        add_permit_text(register, permit or HEAD + SQUARE + CAPACITY + CLEARANCE)
    register.append([placement_logged(each) for each in placements])
    return register


def three_placements(**changes: Any) -> list[Placement]:
    """Give three modules 20 m apart, the second in the shallowest water."""
    depths = (20.36, 19.02, 21.5)
    return [
        a_placement(
            **{"tag": f"MR-{k + 1:04d}", "lon_deg": -77.0 + k * 0.0002, "charted_depth_m": depth} | changes
        )
        for k, depth in enumerate(depths)
    ]


def listed(register: MemoryRegister, number: str = "HB-0417") -> AsBuiltList:
    """List what was built."""
    return as_built_list(
        register, number, now=MADE, read_position=read_position, write_position=write_reported
    )


def a_list(*placements: Placement, permit: str | Permit = "") -> AsBuiltList:
    """Give the list of a registry with those placements, by default three."""
    return listed(a_reef(*(placements or three_placements()), permit=permit))


def two_part_permit() -> Permit:
    """Give a permit of which the one area came as a drawing of two parts, one with a hole."""
    west, hole = box(-77.01, 33.99, -77.002, 34.01), box(-76.996, 33.995, -76.994, 33.997)
    east = Polygon(box(-76.998, 33.99, -76.99, 34.01).exterior, [hole.exterior])
    return a_permit(
        areas=(an_area(area_id="twins", shape=MultiPolygon([west, east]), written="twins.gpkg, layer a"),),
        conditions=(),
    )
