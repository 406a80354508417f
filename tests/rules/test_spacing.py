"""Room between modules: edge to edge or centre to centre, at least and at most, across permits and meridians."""

import math
import time

import numpy as np
import pytest

from registry.errors import PermitError
from tests.rules.one_case import (
    BAD,
    NOT_ASKED,
    OK,
    UNSURE,
    a_table,
    asked,
    at,
    gathered,
    judged,
    verdicts,
)

#: Uncertainty of a pair of the tests' placements, and their two base radii together. Units: m.
U95_M = math.hypot(1.5, 1.5)
BASES_M = 1.5


def a_pair(edge_m, **columns):
    return a_table(2, **at((0, 0), (edge_m + BASES_M, 0)), **columns)


@pytest.mark.parametrize(
    ("edge_m", "verdict"),
    [
        (6.0 + U95_M + 0.001, OK),
        (6.0 + U95_M - 0.001, UNSURE),
        (6.0, UNSURE),
        (6.0 - U95_M + 0.001, UNSURE),
        (6.0 - U95_M - 0.001, BAD),
        (-1.0, BAD),
    ],
)
def test_the_guard_band_lies_on_both_sides_of_the_least_spacing(edge_m, verdict):
    found = judged("spacing", a_pair(edge_m), {"least": 6.0})
    assert verdicts(found) == [verdict, verdict]
    assert found.measured == pytest.approx(np.full(2, edge_m), abs=1e-4)
    assert found.u95 == pytest.approx(np.full(2, U95_M))


def test_exact_positions_at_exactly_the_limit_conform():
    assert verdicts(judged("spacing", a_pair(6.0, r95_m=0.0), {"least": 6.0 - 1e-6})) == [OK, OK]
    assert verdicts(judged("spacing", a_pair(6.0, r95_m=0.0), {"least": 6.0 + 1e-6})) == [BAD, BAD]


def test_the_basis_may_be_the_centres():
    found = judged("spacing", a_pair(5.0, r95_m=0.1), {"least": 6.0, "basis": "centre"})
    assert verdicts(found) == [OK, OK]
    assert "centre to centre" in found.message[0]
    assert verdicts(judged("spacing", a_pair(5.0, r95_m=0.1), {"least": 6.0, "basis": "edge"})) == [BAD, BAD]


def test_a_basis_that_nobody_knows_is_never_guessed():
    with pytest.raises(PermitError, match="'center'"):
        judged("spacing", a_pair(5.0), {"least": 6.0, "basis": "center"})


def test_alone_on_the_seabed_is_not_applicable():
    found = judged("spacing", a_table(), {"least": 6.0, "greatest": 50.0})
    assert verdicts(found) == [NOT_ASKED]
    assert found.message[0] == "No other module lies near."
    assert np.isnan(found.measured).all()


def test_neighbours_of_another_permit_count_and_are_not_judged():
    table = a_table(2, **at((0, 0), (4, 0)), permit=["HB-0417", "TN-0033"])
    found = judged("spacing", table, {"least": 6.0})
    assert verdicts(found) == [BAD]
    assert "from MR-0002" in found.message[0]


def test_the_same_tag_elsewhere_is_a_duplicate_and_no_neighbour():
    table = a_table(3, **at((0, 0), (2, 0), (40, 0)), tag=["A", "A", "B"])
    found = judged("spacing", table, {"least": 6.0, "greatest": 60.0})
    assert verdicts(found) == [OK, OK, OK]
    assert found.measured == pytest.approx([38.5, 36.5, 36.5], abs=1e-3)
    assert ["from B" in found.message[row] for row in range(3)] == [True, True, False]


def test_only_its_own_duplicate_around_is_alone():
    found = judged("spacing", a_table(2, **at((0, 0), (2, 0)), tag="A"), {"least": 6.0, "greatest": 5.0})
    assert verdicts(found) == [NOT_ASKED, NOT_ASKED]


def test_modules_without_a_tag_are_neighbours():
    assert verdicts(judged("spacing", a_table(2, **at((0, 0), (2, 0)), tag=""), {"least": 6.0})) == [BAD, BAD]


def test_the_nearest_of_another_tag_is_found_among_any_number_of_duplicates():
    generator = np.random.default_rng(4)
    places = at(*generator.uniform(-40, 40, (150, 2)).tolist())
    tags = [f"MR-{k:04d}" for k in generator.integers(0, 12, 150)]
    table = a_table(150, **places, tag=tags, r95_m=0.01)
    found = judged("spacing", table, {"greatest": 1000.0, "basis": "centre"})
    x, y = (places["lon_deg"] + 77.0) * 92_384.0, (places["lat_deg"] - 34.0) * 110_922.0
    for row in range(150):
        others = [math.hypot(x[row] - x[k], y[row] - y[k]) for k in range(150) if tags[k] != tags[row]]
        assert found.measured[row] == pytest.approx(min(others), rel=1e-3, abs=1e-3)


def test_the_worst_pair_is_reported_not_the_nearest():
    # Nearest is a precise neighbour that is surely too close; or one of poor fix that only may be.
    table = a_table(3, **at((0, 0), (5.5, 0), (-7.0, 0)), r95_m=[0.1, 9.0, 0.1])
    found = judged("spacing", table, {"least": 6.0})
    assert verdicts(found)[0] == BAD
    assert found.measured[0] == pytest.approx(5.5, abs=1e-3)
    assert "MR-0003" in found.message[0]


def test_a_wider_base_farther_away_may_be_nearer_by_its_edge():
    table = a_table(3, **at((0, 0), (8, 0), (-9, 0)), base_radius_m=[0.5, 0.5, 4.0], r95_m=0.01)
    found = judged("spacing", table, {"least": 6.0})
    assert verdicts(found)[0] == BAD
    assert found.measured[0] == pytest.approx(4.5, abs=1e-3)
    near = judged("spacing", table, {"greatest": 5.0})
    assert verdicts(near)[0] == OK
    assert "MR-0003" in near.message[0]


@pytest.mark.parametrize(
    ("edge_m", "verdict"), [(47.8, OK), (47.9, UNSURE), (52.1, UNSURE), (52.2, BAD), (900.0, BAD)]
)
def test_the_guard_band_lies_on_both_sides_of_the_greatest_spacing(edge_m, verdict):
    found = judged("spacing", a_pair(edge_m), {"greatest": 50.0})
    assert verdicts(found) == [verdict, verdict]
    assert found.limit.tolist() == [50.0, 50.0]


def test_one_certain_neighbour_near_enough_outweighs_a_nearer_uncertain_one():
    table = a_table(3, **at((0, 0), (40, 0), (-45, 0)), r95_m=[0.1, 15.0, 0.1])
    found = judged("spacing", table, {"greatest": 50.0})
    assert verdicts(found)[0] == OK
    assert "MR-0003" in found.message[0]


def test_both_limits_report_the_one_that_is_broken():
    found = judged("spacing", a_table(3, **at((0, 0), (4, 0), (300, 0))), {"least": 6.0, "greatest": 50.0})
    assert verdicts(found) == [BAD, BAD, BAD]
    assert found.limit.tolist() == [6.0, 6.0, 50.0]


@pytest.mark.parametrize("lat_deg", [0.0, 70.0, 89.9])
def test_neighbours_across_the_180th_meridian_are_near(lat_deg):
    places = at((-2, 0), (2, 0), lon_deg=180.0, lat_deg=lat_deg)
    places["lon_deg"] = (places["lon_deg"] + 180.0) % 360.0 - 180.0
    assert np.ptp(places["lon_deg"]) > 300
    found = judged("spacing", a_table(2, **places), {"least": 6.0})
    assert verdicts(found) == [BAD, BAD]
    assert found.measured == pytest.approx([2.5, 2.5], abs=1e-3)


def test_a_base_of_unknown_size_is_in_doubt_and_blinds_nobody_else():
    table = a_table(4, **at((0, 0), (30, 0), (60, 0), (64, 0)), base_radius_m=[math.nan, 0.75, 0.75, 0.75])
    found = judged("spacing", table, {"least": 6.0})
    assert verdicts(found)[0] == UNSURE
    assert verdicts(found)[2:] == [BAD, BAD]
    assert verdicts(judged("spacing", a_pair(2.0, base_radius_m=[0.75, math.nan]), {"least": 6.0})) == [
        UNSURE,
        UNSURE,
    ]


def test_a_module_without_placement_of_its_own_in_the_table_sees_everybody():
    table = a_table(2, **at((0, 0), (4, 0)))
    cases = gathered(table, judged=[0])
    assert verdicts(judged("spacing", table, {"least": 6.0}, judged=[0])) == [BAD]
    assert len(cases) == 1


def test_one_poor_fix_does_not_make_the_audit_compare_everything_with_everything():
    side = 60
    grid = [(20.0 * (k % side), 20.0 * (k // side)) for k in range(side * side)]
    doubt = np.full(len(grid), 1.5)
    doubt[7] = 40_000.0
    table = a_table(len(grid), **at(*grid), r95_m=doubt)
    started = time.perf_counter()
    found = judged("spacing", table, {"least": 6.0})
    assert time.perf_counter() - started < 20.0
    assert (found.verdict == UNSURE).all()


def test_two_conditions_may_ask_for_different_spacings():
    cases = gathered(a_pair(12.0))
    from registry.rules.catalogue import judge

    (found,) = judge(cases, [(asked("spacing", least=6.0), asked("spacing", least=20.0))])
    assert [verdicts(f) for f in found] == [[OK, OK], [BAD, BAD]]


def test_a_neighbour_out_of_sight_is_named_only_where_one_must_be_near():
    table = a_table(2, **at((0, 0), (2_500, 0)))
    assert verdicts(judged("spacing", table, {"least": 6.0})) == [NOT_ASKED, NOT_ASKED]
    assert np.isnan(judged("spacing", table, {"least": 6.0}).measured).all()
    far = judged("spacing", table, {"least": 6.0, "greatest": 100.0})
    assert verdicts(far) == [BAD, BAD]
    assert far.measured[0] == pytest.approx(2_498.5, abs=0.01)
    # It is in sight within twice what is asked at the least.
    assert verdicts(judged("spacing", table, {"least": 1_300.0})) == [OK, OK]


def test_a_poor_fix_far_away_makes_doubtful_whom_it_may_concern():
    # One known to 6 km lies 5 km from two good ones; a third good one lies 20 km away.
    table = a_table(4, **at((0, 0), (30, 0), (5_000, 0), (-20_000, 0)), r95_m=[1.5, 1.5, 6_000.0, 1.5])
    found = judged("spacing", table, {"least": 6.0})
    assert verdicts(found) == [UNSURE, UNSURE, UNSURE, NOT_ASKED]
    assert "MR-0003" in found.message[0]
