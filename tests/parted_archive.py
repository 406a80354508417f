"""An archive in which every part needs something of another: for tests of audits part by part."""

import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from shapely import LineString, Polygon

from registry.measure.movement import Motion
from registry.records.entry import Draft
from registry.records.permit import Condition, Permit
from registry.records.placement import Placement
from registry.storage.geopackage import open_register
from registry.storage.register import GeoPackageRegister
from tests.builders import (
    ACTOR,
    a_condition,
    a_keep_out,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_quantity,
    a_resurvey,
    a_type,
    an_area,
    keep_out_added,
    module_added,
    permit_added,
    permit_amended,
    placement_logged,
    placement_resurveyed,
    type_added,
)
from tests.fakes import FixedClock

ROOT = Path(__file__).resolve().parents[1]
#: When what is added to the archive is entered; and a day between the two versions of the amended permit.
ENTERED = datetime(2026, 8, 1, 12, 0, tzinfo=UTC)
BETWEEN = "2026-06-15"
LON, LAT, STEP = -77.05, 33.95, 0.0001


def build(path: Path, *, modules: int = 1200) -> Path:
    """Make the archive: what ``make_archive`` plants with every rule, and beside it the cases below."""
    script = ROOT / "scripts" / "make_archive.py"
    made = subprocess.run(
        [sys.executable, script, path, "--modules", str(modules), "--seed", "5", "--all-rules"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    with open_register(path, clock=FixedClock(ENTERED)) as register:
        register.append(_drafts())
        # Found moved: from a grid to the side of one that had no neighbour for 40 km, and across a border.
        register.append(
            [
                _moved(register, "X-0000", LON + 0.4001, LAT + 0.1),
                _moved(register, "X-0001", LON + 0.0196, LAT + 0.01003),
            ]
        )
    return path


def _moved(register: GeoPackageRegister, tag: str, lon: float, lat: float) -> Draft:
    (placement_id,) = register.placement_ids(tag)
    resurvey = a_resurvey(
        tag=tag,
        placement_id=placement_id,
        observed_at=datetime(2026, 7, 15, 12, 0, tzinfo=UTC),
        lon_deg=lon,
        lat_deg=lat,
        r95_m=0.5,
    )
    movement = replace(resurvey.movement, verdict=Motion.MOVED, compared_with=placement_id)
    return placement_resurveyed(replace(resurvey, movement=movement))


def _permit(number: str, west: float, **limits: float) -> Permit:
    """Give a permit of two kilometres; several lie side by side, from west to east."""
    shape = Polygon(
        [(LON + west + x, LAT + y) for x, y in ((0.0, 0.0), (0.02, 0.0), (0.02, 0.02), (0.0, 0.02))]
    )
    spacing = a_condition(limits={name: a_quantity(value) for name, value in limits.items()})
    return a_permit(number=number, areas=(replace(an_area(), shape=shape),), conditions=(spacing,))


class _Log:
    """Placements and their modules as they are made up."""

    def __init__(self) -> None:
        self.modules: list[Draft] = []
        self.placements: list[Placement] = []
        self.when = datetime(2026, 5, 2, 12, 0, tzinfo=UTC)

    def lay(
        self, permit: str, lon: float, lat: float, *, tag: str = "", name: str = "", r95_m: float = 0.5
    ) -> str:
        self.when += timedelta(minutes=13)
        if not tag:
            tag = f"X-{len(self.modules):04d}"
            memorial = a_memorial(name=name) if name else None
            self.modules.append(module_added(a_module(tag=tag, memorial=memorial)))
        self.placements.append(
            a_placement(
                tag=tag,
                permit=permit,
                lon_deg=round(lon, 7),
                lat_deg=round(lat, 7),
                r95_m=r95_m,
                placed_at=self.when,
            )
        )
        return tag


def _drafts() -> list[Draft]:
    amended = replace(
        _permit("X-D", 0.06, least=12.0), in_force_from=date(2026, 6, 1), amendment="Amendment 1"
    )
    log = _Log()
    # A grid that was typed, up to the border and across it: many have several neighbours equally far.
    for row in range(9):
        for column in range(9):
            log.lay("X-A", LON + 0.0194 + column * STEP, LAT + 0.01 + row * STEP)
            log.lay("X-B", LON + 0.0203 + column * STEP, LAT + 0.01 + row * STEP)
    # Two that are named alike, a tag in two places and under two permits, one of another permit in the grid.
    log.lay("X-A", LON + 0.001, LAT + 0.001, name="Una Tarn")
    log.lay("X-D", LON + 0.061, LAT + 0.001, name="Una Tarn")
    twice = log.lay("X-A", LON + 0.002, LAT + 0.002)
    log.lay("X-C", LON + 0.0415, LAT + 0.003, tag=twice)
    log.lay("X-D", LON + 0.0197, LAT + 0.01004)
    # Poor fixes: beyond any halo of X-A but for their doubt, one of them far from everything.
    log.lay("X-D", LON + 0.065, LAT + 0.012, r95_m=6_000.0)
    log.lay("X-B", LON + 0.025, LAT + 0.015, r95_m=700.0)
    log.lay("X-A", LON + 2.0, LAT, r95_m=400.0)
    # A neighbour is asked for within 30 m: there is one, one of the same tag only, none for 40 km, none at all.
    log.lay("X-C", LON + 0.045, LAT + 0.005)
    log.lay("X-C", LON + 0.0452, LAT + 0.005)
    same = log.lay("X-C", LON + 0.05, LAT + 0.015)
    log.lay("X-C", LON + 0.05001, LAT + 0.015, tag=same)
    log.lay("X-C", LON + 0.4, LAT + 0.1)
    log.lay("X-C", 60.0, -50.0)
    # Under the amended permit, before and after; 10 m apart, which only the first version allows.
    for column in range(5):
        log.lay("X-D", LON + 0.07, LAT + 0.005 + column * STEP)
    log.when = datetime(2026, 6, 20, 12, 0, tzinfo=UTC)
    for column in range(5):
        log.lay("X-D", LON + 0.072, LAT + 0.005 + column * STEP)
    # Off the coast of Norway and on the 180th meridian: one permit, two sides.
    for column in range(6):
        log.lay("X-E", (179.9998 + column * STEP + 180.0) % 360.0 - 180.0, 1.0)
        log.lay("X-A", (179.99985 + column * STEP + 180.0) % 360.0 - 180.0, 1.00002)
        log.lay("X-E", 23.0 + column * STEP, 71.2)
    cable = a_keep_out(
        keep_out_id="cable-x",
        shape=LineString([(LON - 0.1, LAT + 0.0095), (LON + 0.2, LAT + 0.0105)]),
        setback_m=40.0,
    )
    quality = Condition(rule="position-quality", cite="Condition 9", limits={"greatest": a_quantity(5.0)})
    first = _permit("X-A", 0.0, least=6.0)
    return [
        type_added(a_type()),
        permit_added(replace(first, conditions=(*first.conditions, quality))),
        permit_added(_permit("X-B", 0.02, least=9.0)),
        permit_added(_permit("X-C", 0.04, least=2.0, greatest=30.0)),
        permit_added(_permit("X-D", 0.06, least=8.0)),
        permit_amended(amended),
        permit_added(_permit("X-E", 257.0, least=6.0)),
        permit_added(_permit("X-F", 0.08, least=6.0)),
        keep_out_added(cable),
        *log.modules,
        *(placement_logged(each) for each in log.placements),
    ]


__all__ = ["ACTOR", "BETWEEN", "ENTERED", "build"]
