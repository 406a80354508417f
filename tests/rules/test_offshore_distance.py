"""Distances from the baseline: lines and land, the nearest of several, and none at all."""

from typing import Any

import pytest
from shapely import LineString, MultiPolygon, Point, Polygon

from registry.measure.boundary import distance_to
from registry.records.quantity import Quantity
from tests.builders import LAT_DEG, LON_DEG, a_baseline
from tests.rules.one_case import BAD, OK, UNSURE, a_square, a_table, at, judged, verdicts

#: R95 of the tests' placements. Units: m.
R95_M = 1.5
THREE_MILES = Quantity(value=5556.0, dimension="length", written="3 nmi", resolution=1852.0)
SHORE = a_baseline(shape=LineString([(LON_DEG, 33.5), (LON_DEG, 34.5)]))


# US 40 CFR 229.1(a)(3): cremated remains no closer than 3 nautical miles to land, land being the nearest portion of
# the territorial-sea baseline; one nautical mile is 1852 m exactly (SI brochure, 8th edition, table 8; from memory).
# Beyond 5556 m (m), verdict.
MILES = [(1.51, OK), (1.49, UNSURE), (-1.49, UNSURE), (-1.51, BAD)]


@pytest.mark.parametrize(("beyond_m", "verdict"), MILES)
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_three_nautical_miles_from_the_baseline(beyond_m, verdict, side):
    table = a_table(**at((side * (5556.0 + beyond_m), 0.0)))
    found = judged("offshore-distance", table, {"least": THREE_MILES}, baselines=[SHORE])
    assert verdicts(found) == [verdict]
    # The meridian is a geodesic, and a line that sets out due east meets it nowhere nearer.
    assert found.measured[0] == pytest.approx(5556.0 + beyond_m, abs=2e-3)
    assert (found.limit[0], found.u95[0], found.unit) == (5556.0, R95_M, "m")


def test_the_end_of_a_baseline_by_a_known_line():
    """Flinders Peak to Buninyong, 54 972.271 m: the worked example of the GDA technical manual; from memory."""
    flinders: dict[str, Any] = {
        "lon_deg": 144.0 + (25 + 29.52440 / 60) / 60,
        "lat_deg": -(37.0 + (57 + 3.72030 / 60) / 60),
    }
    buninyong = 143.0 + (55 + 35.38390 / 60) / 60, -(37.0 + (39 + 10.15610 / 60) / 60)
    beyond = a_baseline(shape=LineString([buninyong, (143.5, -37.3)]))
    found = judged("offshore-distance", a_table(**flinders), {"least": 50_000.0}, baselines=[beyond])
    assert found.measured[0] == pytest.approx(54_972.271, abs=1e-3)
    assert verdicts(found) == [OK]


def test_the_side_of_the_land_is_below_zero():
    land = a_baseline(name="Skua Isle", shape=a_square(LON_DEG, LAT_DEG, 1000.0))
    table = a_table(3, **at((900, 0), (1000, 0), (1600, 0)))
    found = judged("offshore-distance", table, {"least": 500.0}, baselines=[land])
    assert verdicts(found) == [BAD, BAD, OK]
    assert found.measured == pytest.approx([-100.0, 0.0, 600.0], abs=0.01)
    assert found.message[0] == "100.0 ± 1.5 m on the side of the land of Skua Isle; at least 500 m is asked."
    assert found.message[2] == "600.0 ± 1.5 m from Skua Isle; at least 500 m is asked."


def test_the_nearest_of_several_counts_and_is_named():
    west = a_baseline(name="mainland", shape=LineString([(-77.1, 33.0), (-77.1, 35.0)]))
    rocks = [
        Point(at((700, north))["lon_deg"][0], at((700, north))["lat_deg"][0]).buffer(1e-4)
        for north in (0, 900)
    ]
    isles = a_baseline(baseline_id="baseline-0002", name="isles", shape=MultiPolygon(rocks))
    found = judged(
        "offshore-distance", a_table(2, lon_deg=[LON_DEG, -77.09]), {"least": 600.0}, baselines=[west, isles]
    )
    assert found.measured.tolist() == [
        pytest.approx(distance_to([LON_DEG], [LAT_DEG], isles.shape).distance_m[0], abs=1e-6),
        pytest.approx(distance_to([-77.09], [LAT_DEG], west.shape).distance_m[0], abs=1e-6),
    ]
    assert ["isles" in found.message[0], "mainland" in found.message[1]] == [True, True]
    assert verdicts(found) == [OK, OK]


def test_a_condition_may_name_its_baseline():
    shore = a_baseline(name="shore, 2024: north", shape=LineString([(-77.001, 33.9), (-77.001, 34.1)]))
    federal = a_baseline(
        baseline_id="baseline-0007", name="federal", shape=LineString([(-77.1, 33.9), (-77.1, 34.1)])
    )

    def near(name):
        return judged(
            "offshore-distance", a_table(), {"least": 1000.0, "baseline": name}, baselines=[shore, federal]
        )

    assert verdicts(near("federal")) == verdicts(near("baseline-0007")) == [OK]
    assert verdicts(near("shore, 2024")) == verdicts(near("shore, 2024: north")) == [BAD]
    missing = near("state")
    assert verdicts(missing) == [UNSURE]
    assert missing.message[0] == (
        "No baseline named state is recorded: leadline baseline add; at least 1000 m is asked."
    )


def test_without_a_baseline_nothing_is_concluded_and_the_remedy_is_named():
    found = judged("offshore-distance", a_table(2), {"greatest": THREE_MILES})
    assert verdicts(found) == [UNSURE, UNSURE]
    assert found.message[1] == (
        "No baseline is recorded: leadline baseline add; at most 3 nmi (5556.00 m) is asked."
    )


@pytest.mark.parametrize(
    ("east_m", "verdict", "limit"),
    [
        (990, BAD, 1000.0),
        (1000.5, UNSURE, 1000.0),
        (1400, OK, 1000.0),
        (1900, OK, 2000.0),
        (2002, BAD, 2000.0),
    ],
)
def test_the_limit_that_is_nearer_to_being_broken_is_reported(east_m, verdict, limit):
    limits = {"least": 1000.0, "greatest": 2000.0}
    found = judged("offshore-distance", a_table(**at((east_m, 0))), limits, baselines=[SHORE])
    assert (verdicts(found), found.limit[0]) == ([verdict], limit)


def test_a_baseline_across_the_180th_meridian_is_met_from_both_sides():
    land = a_baseline(shape=Polygon([(179.99, -0.01), (180.01, -0.01), (180.01, 0.01), (179.99, 0.01)]))
    table = a_table(3, lon_deg=[179.98, -179.98, 179.999], lat_deg=0.0)
    found = judged("offshore-distance", table, {"least": 1000.0}, baselines=[land])
    assert found.measured == pytest.approx([1113.19, 1113.19, -1001.88], abs=0.02)
    assert verdicts(found) == [OK, OK, BAD]
