"""A misplaced position is warned of in the same words whether all permits are looked at or those in question."""

import random
from dataclasses import replace
from datetime import date

import pytest
from shapely import Polygon

from registry.actions.permits_in_question import permits_in_question
from registry.actions.warn_of_slips import furthest_inside, slip_of_permit, warnings_of_position
from registry.formats.written_position import read_position
from registry.storage.geopackage import create_registry
from tests.actions.stocked import settled
from tests.builders import ACTOR, a_permit, a_programme, amended, an_area, permit_added, permit_amended
from tests.fakes import FixedClock

#: Corners to the south-west. A pair that touches, one that a slip leads to, both sides of the seam, the far north.
PLACES = {
    "HB-0417": (-77.01, 33.99),
    "HB-0418": (-76.99, 33.99),
    "HB-0419": (-78.21, 33.75),
    "E-0001": (76.99, 33.99),
    "S-0001": (-77.01, -34.01),
    "W-0001": (179.99, -17.0),
    "W-0002": (-179.98, -17.0),
    "N-0001": (25.0, 71.0),
}


def square(west, south, size_deg=0.02):
    east, north = west + size_deg, south + size_deg
    return Polygon([(west, south), (east, south), (east, north), (west, north)])


@pytest.fixture(scope="module")
def register(tmp_path_factory):
    file = tmp_path_factory.mktemp("reefs") / "reef.gpkg"
    with create_registry(file, a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0)) as kept:
        kept.append(
            [
                permit_added(a_permit(number=number, areas=(an_area(shape=square(*at)),)))
                for number, at in PLACES.items()
            ]
        )
        # Its area lies elsewhere today, and elsewhere again next year.
        for begins, at in ((date(2026, 5, 1), (-70.0, 40.0)), (date(2027, 5, 1), (-60.0, 40.0))):
            moved = replace(
                amended(in_force_from=begins, areas=(an_area(shape=square(*at)),)), number="HB-0419"
            )
            kept.append([permit_amended(moved)])
        yield kept


def typed(lat, lon):
    return f"{abs(lat):.5f} {'NS'[lat < 0]} {abs(lon):.5f} {'EW'[lon < 0]}"


def places():
    rng = random.Random(7)
    for west, south in [*PLACES.values(), (-70.0, 40.0), (-60.0, 40.0)]:
        for off_deg in (0.003, 0.3):
            lat, lon = (
                south + 0.01 + rng.uniform(-off_deg, off_deg),
                west + 0.01 + rng.uniform(-off_deg, off_deg),
            )
            lon = (lon + 180.0) % 360.0 - 180.0
            yield typed(lat, lon)
            yield typed(lat, -lon)
    yield from (
        "33.45123, -78.12456",
        "34 00.0000 N 077 06.0000 W",
        "0 N 0 E",
        "72.0 N 10.0 E",
        "34.00000 N 76.00000 W",
    )


@pytest.mark.parametrize("r95_m", [1.5, 400.0])
def test_the_warnings_are_those_of_every_permit(register, r95_m):
    every = register.permits()
    rng, told, fewest = random.Random(11), set(), len(every)
    for text in places():
        written, where = read_position(text), settled(text, r95_m=r95_m)
        home = where.home.position
        for permit in rng.sample(every, 2):
            if furthest_inside([permit], [home.lon_deg], [home.lat_deg])[0] >= 0:
                continue  # there a check asks nothing of other permits
            some = permits_in_question(register, permit, written, where)
            assert [each for each in every if each in some] == list(some)
            assert permit in some
            of_all, of_some = (
                (
                    *warnings_of_position(written, where.observed, home, permits),
                    *slip_of_permit(home, permit.number, permits),
                )
                for permits in (every, some)
            )
            assert of_all == of_some, (text, permit.number)
            told |= set(of_all)
            fewest = min(fewest, len(some))
    assert any("which was meant?" in warning for warning in told)
    assert any("No common slip" in warning for warning in told)
    assert any("was meant with" in warning for warning in told)
    assert fewest == 1


def test_permits_near_a_point_are_those_of_today(register):
    def near(lon_deg, lat_deg, reach_m):
        return [p.number for p in register.permits_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=reach_m)]

    assert near(-77.0, 34.0, 10.0) == ["HB-0417", "HB-0418"]
    assert near(180.0, -16.99, 10.0) == near(-180.0, -16.99, 10.0) == ["W-0001", "W-0002"]
    assert near(0.0, 0.0, 100_000.0) == []
    assert near(0.0, 0.0, 21_000_000.0) == [p.number for p in register.permits()]
    # Where any version of it lies it is found, and given as it is today.
    for lon_deg, lat_deg in ((-78.2, 33.76), (-69.99, 40.01), (-59.99, 40.01)):
        assert near(lon_deg, lat_deg, 10.0) == ["HB-0419"]
        assert register.permits_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=10.0) == (
            register.permit("HB-0419"),
        )


def test_boxes_are_those_of_the_areas_of_today(register):
    boxes = dict(register.permit_boxes())
    assert sorted(boxes) == sorted(PLACES)
    for permit in register.permits():
        # The spatial index rounds outward, to single precision.
        west, south, east, north = permit.areas[0].shape.bounds
        assert boxes[permit.number] == pytest.approx((west, south, east, north), abs=3e-5)
        assert boxes[permit.number][0] <= west <= east <= boxes[permit.number][2]
        assert boxes[permit.number][1] <= south <= north <= boxes[permit.number][3]
