"""
A module of 2026 looked for in 2056: the coordinate of the day lies within its printed radius.

The truth is simulated by a path that shares nothing with the one taken: the module rides in ITRF2020 with the
Euler vector of the North American plate, written out here as a cross product, while the coordinate comes from
the home frame by EPSG:10334.
"""

import math
from datetime import UTC, datetime

import numpy as np
import pytest

from registry.actions.locate_module import locate_module
from registry.actions.record_resurvey import record_resurvey
from registry.errors import ConflictError, FrameError, NotFoundError
from registry.formats.written_position import read_position
from registry.measure.datum import decimal_year, transform
from registry.measure.geodesic import earth_centred, inverse
from registry.measure.uncertainty import R95_FACTOR
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity
from tests.builders import ACTOR, a_placement, a_programme, a_stocked_registry, placement_logged
from tests.fakes import FixedClock, MemoryRegister

PLACED = datetime(2026, 6, 14, 14, 32, tzinfo=UTC)
VISIT = datetime(2056, 6, 14, 16, tzinfo=UTC)
#: Altamimi et al. 2023 (ITRF2020 plate motion model), NOAM: milliarcseconds a year; and the origin rate, mm.
NOAM = np.array([0.045, -0.666, -0.098])
ORIGIN = np.array([0.37, 0.35, 0.74])


@pytest.fixture
def register():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append(a_stocked_registry())
    return register


def ridden(lon: float, lat: float, years: float) -> tuple[float, float]:
    """Move a point of the ellipsoid with its plate: X + (w x X + T) t, and back to degrees."""
    xyz = earth_centred(lon, lat)[0]
    w = NOAM * 1e-3 / 3600 * math.pi / 180
    x, y, z = xyz + (np.cross(w, xyz) + ORIGIN * 1e-3) * years
    e2 = 0.00669438002290
    phi = math.atan2(z, math.hypot(x, y) * (1 - e2))
    return math.degrees(math.atan2(y, x)), math.degrees(phi)


def placed_at(register, lon: float, lat: float, r95_m: float) -> None:
    """Log MR-0001 from a true place in WGS 84 on the day of placement, as the receiver would have it."""
    home = transform(lon, lat, source="WGS 84", target="NAD83(2011)", epoch=decimal_year(PLACED))
    placement = a_placement(
        lon_deg=float(home.lon_deg), lat_deg=float(home.lat_deg), r95_m=r95_m, placed_at=PLACED
    )
    register.append([placement_logged(placement)])


@pytest.mark.parametrize("r95_m", [0.2, 2.0])
def test_a_module_of_2026_is_found_in_2056_within_the_printed_radius(register, r95_m):
    truth = (-77.0, 34.0)
    rng = np.random.default_rng(2026)
    then = ridden(*truth, years=30.0)
    assert 0.35 < float(inverse(*truth, *then)[0]) < 0.50
    placed_at(register, *truth, r95_m=r95_m)
    found = locate_module(register, "MR-0001", on=VISIT)
    missed_m = float(inverse(found.position.lon_deg, found.position.lat_deg, *then)[0])
    assert missed_m < 0.1, "the way itself: a perfect fix misses by this"
    assert found.position.epoch == pytest.approx(2056.45, abs=0.01)
    # And with the error that the fix of 2026 may have had: the offset is the same in every frame.
    errors = rng.normal(0.0, r95_m / R95_FACTOR, (5_000, 2))
    plane_m = np.array(
        [missed_m * f(math.radians(float(inverse(*then, found.position.lon_deg, found.position.lat_deg)[1])))
         for f in (math.sin, math.cos)]
    )  # fmt: skip
    held = np.hypot(*(errors + plane_m).T) <= found.position.r95_m
    assert held.mean() >= 0.945


def test_what_a_spreadsheet_would_do_fails(register):
    """The kept figures typed in as they are, and the WGS 84 figures of 2026 typed in again."""
    truth = (-77.0, 34.0)
    then = ridden(*truth, years=30.0)
    placed_at(register, *truth, r95_m=0.2)
    radius = locate_module(register, "MR-0001", on=VISIT).position.r95_m
    home = register.placement(register.placement_ids("MR-0001")[0]).home.position
    assert float(inverse(home.lon_deg, home.lat_deg, *then)[0]) > 1.2 > radius
    assert float(inverse(*truth, *then)[0]) > 0.35 > radius


def test_a_plate_fixed_frame_does_not_age(register):
    placed_at(register, -77.0, 34.0, r95_m=0.2)
    soon, late = (
        locate_module(register, "MR-0001", on=day, frame="NAD83(2011)").position for day in (PLACED, VISIT)
    )
    assert (soon.lat_deg, soon.lon_deg, soon.epoch) == (late.lat_deg, late.lon_deg, late.epoch)
    assert late.r95_m == 0.2


def test_the_radius_grows_with_the_years(register):
    placed_at(register, -77.0, 34.0, r95_m=0.05)
    soon, late = (locate_module(register, "MR-0001", on=day).position.r95_m for day in (PLACED, VISIT))
    assert 0.05 < soon < late


def test_what_has_moved_is_looked_for_where_it_was_seen_last(register):
    placed_at(register, -77.0, 34.0, r95_m=1.0)
    seen = datetime(2030, 10, 2, 16, tzinfo=UTC)
    row = LogRow(
        tag="MR-0001",
        permit="",
        placed_at=seen,
        position=read_position("34.000500000 N 77.000000000 W"),
        frame="EPSG:6318",
        r95=Quantity(value=1.0, dimension="length", written="1 m", resolution=1.0),
    )
    record_resurvey(register, row, actor=ACTOR)
    found = locate_module(register, "MR-0001", on=VISIT, frame="EPSG:6318")
    assert found.position.lat_deg == pytest.approx(34.0005)
    assert found.place.observed_at == seen
    assert any("found moved on 2030-10-02" in note for note in found.notes)
    assert any("before the observation" in n for n in locate_module(register, "MR-0001", on=PLACED).notes)


def test_what_cannot_be_located(register):
    with pytest.raises(NotFoundError, match="not placed yet"):
        locate_module(register, "MR-0001", on=VISIT)
    with pytest.raises(NotFoundError, match="no module"):
        locate_module(register, "XX", on=VISIT)
    placed_at(register, -77.0, 34.0, r95_m=1.0)
    with pytest.raises(FrameError, match="is a grid"):
        locate_module(register, "MR-0001", on=VISIT, frame="EPSG:32618")
    with pytest.raises(FrameError, match="2156-06-14 lies outside the years 1980 to 2099"):
        locate_module(register, "MR-0001", on=replace_year(2156))
    placed_at(register, -77.001, 34.0, r95_m=1.0)
    with pytest.raises(ConflictError, match="2 places"):
        locate_module(register, "MR-0001", on=VISIT)


def replace_year(year: int) -> datetime:
    return VISIT.replace(year=year)
