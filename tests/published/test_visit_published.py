"""
The course of a visit against a published line on the ellipsoid.

Flinders Peak to Buninyong, GRS 80: 54,972.271 m at 306 52 05.37. Source: ICSM, Geocentric Datum of Australia
Technical Manual, worked example of Vincenty's formulae; coordinates from memory, as in
``test_geodesics_published``.
"""

from datetime import date

import pytest
from shapely.geometry import box

from registry.actions.plan_visit import plan_visit
from registry.formats.written_position import read_position
from tests.builders import (
    ACTOR,
    a_module,
    a_permit,
    a_placement,
    a_position,
    a_programme,
    an_area,
    module_added,
    permit_added,
    placement_logged,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

FRAME = "EPSG:7844"
LON_DEG, LAT_DEG = 143 + 55 / 60 + 35.38390 / 3600, -(37 + 39 / 60 + 10.15610 / 3600)


@pytest.mark.parametrize("year", [2026, 2056])
def test_from_flinders_peak_to_buninyong(year):
    register = MemoryRegister(
        a_programme(frame=FRAME, frame_epoch=2020.0, zone="Australia/Melbourne"),
        actor=ACTOR,
        clock=FixedClock(step_s=1.0),
    )
    area = an_area(
        shape=box(LON_DEG - 0.01, LAT_DEG - 0.01, LON_DEG + 0.01, LAT_DEG + 0.01), frame=FRAME, epoch=2020.0
    )
    place = a_position(lon_deg=LON_DEG, lat_deg=LAT_DEG, frame=FRAME, epoch=2020.0, r95_m=0.5)
    placement = a_placement()
    placement = a_placement(
        observed=place,
        home=type(placement.home)(position=place, operation="none", accuracy_m=0.0, software="-"),
    )
    register.append(
        [
            type_added(),
            module_added(a_module()),
            permit_added(a_permit(areas=(area,))),
            placement_logged(placement),
        ]
    )
    visit = plan_visit(
        register,
        "MR-0001",
        day=date(year, 6, 14),
        start_name="Flinders Peak",
        start=read_position("37 57 03.72030 S 144 25 29.52440 E"),
    )
    # The plate turns both ends alike, by some 0.6 degrees in a million years.
    assert visit.course.distance_m == pytest.approx(54_972.271, abs=0.005)
    assert visit.course.bearing_deg == pytest.approx(306 + 52 / 60 + 5.37 / 3600, abs=0.1 / 3600)
