"""Advice before a drop: findings, neighbours, and a move that really conforms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod
from shapely import Point, Polygon

from registry.actions.charted_depth import charted_depth
from registry.actions.check_placement import check_placement
from registry.errors import NotFoundError
from registry.formats.written_position import read_position
from registry.formats.written_quantity import read_length
from registry.measure.decision import Verdict
from tests.actions.stocked import DEEP, ROOMY, a_register, logged, settled
from tests.builders import (
    NOON,
    a_keep_out,
    a_permit,
    a_target,
    an_area,
    baseline_added,
    keep_out_added,
    many_placements,
    placement_logged,
    target_added,
)
from tests.rules.one_case import a_square, asked, at

GRS80 = Geod(ellps="GRS80")
MENDED = {"inside-area", "keep-out", "spacing"}


def advice(
    register,
    text="34 00.0000 N 077 00.0000 W",
    *,
    depth="20.36 m",
    r95_m=1.5,
    permit="HB-0417",
    type_id="dome-120",
    tag="",
):
    charted = charted_depth(read_length(depth), u95=read_length("0.4 m"), datum="MLLW") if depth else None
    return check_placement(
        register,
        permit_number=permit,
        type_id=type_id,
        written=read_position(text),
        settled=settled(text, r95_m=r95_m),
        depth=charted,
        depth_text=depth or "",
        at=NOON,
        tag=tag,
    )


def decimal(lat_deg, lon_deg):
    return f"{lat_deg:.9f}, {lon_deg:.9f}"


def test_nothing_is_written():
    register = a_register()
    before = register.head()
    advice(register)
    assert register.head() == before
    assert len(register.placements()) == 0


def test_open_ground_conforms_and_needs_no_move():
    found = advice(a_register())
    assert found.verdict == Verdict.CONFORMING
    assert (found.move, found.move_note) == (None, "No move is needed.")
    assert [finding.placement for finding in found.findings] == [None] * len(found.findings)
    assert found.neighbours == ()


def test_neighbours_come_nearest_first_with_distance_and_true_bearing():
    register = a_register()
    logged(register, "MR-0001", "34 00.0500 N 077 00.0000 W")
    logged(register, "MR-0002", "34 00.0000 N 076 59.9900 W")
    logged(register, "MR-0003", "33 59.9800 N 077 00.0000 W")
    found = advice(register).neighbours
    assert [neighbour.tag for neighbour in found] == ["MR-0002", "MR-0003", "MR-0001"]
    # One minute of latitude at 34 N is 1848.7 m and of longitude 1539.7 m on GRS 80 (geodesics by PROJ).
    assert [n.distance_m for n in found] == pytest.approx([15.397, 36.974, 92.435], abs=0.01)
    assert [n.bearing_deg % 360 for n in found] == pytest.approx([90.0, 180.0, 0.0], abs=0.01)
    assert [n.edge_m for n in found] == pytest.approx([n.distance_m - 1.5 for n in found])
    assert found[0].u95_m == pytest.approx(np.hypot(1.5, 1.5), rel=0.02)


def test_at_most_five_neighbours_are_told_and_none_beyond_reach():
    register = a_register()
    register.append([placement_logged(placement) for placement in many_placements(9)])
    text = decimal(
        many_placements(1)[0].home.position.lat_deg + 0.0001, many_placements(1)[0].home.position.lon_deg
    )
    assert len(advice(register, text).neighbours) == 5
    assert advice(register, "34.0090000, -76.9910000").neighbours == () or all(
        n.distance_m <= 2000 for n in advice(register, "34.0090000, -76.9910000").neighbours
    )


def test_a_neighbour_of_another_permit_is_told_and_judged():
    register = a_register(permits=[a_permit(conditions=(ROOMY,)), a_permit(number="TN-0033")])
    logged(register, "MR-0001", "34 00.0010 N 077 00.0000 W", permit="TN-0033")
    found = advice(register)
    assert found.verdict == Verdict.NONCONFORMING
    assert [neighbour.tag for neighbour in found.neighbours] == ["MR-0001"]


def test_advice_before_the_drop_is_what_is_recorded_after_it():
    register = a_register()
    logged(register, "MR-0002", "34 00.0020 N 077 00.0000 W")
    before = advice(register).findings
    after = logged(register).findings
    for a, b in zip(before, after, strict=True):
        assert (a.rule, a.verdict, a.message) == (b.rule, b.verdict, b.message)
        assert (a.measured, a.limit, a.u95) == pytest.approx((b.measured, b.limit, b.u95), nan_ok=True)


def test_without_a_depth_what_needs_one_is_inconclusive_and_no_move_settles_it():
    found = advice(a_register(), depth="")
    assert found.verdict == Verdict.INCONCLUSIVE
    assert (found.move, found.move_note) == (None, "Moving the hook does not settle clearance.")


def test_a_move_says_what_it_does_not_settle():
    register = a_register()
    logged(register, "MR-0002", "34 00.0010 N 077 00.0000 W")
    found = advice(register, depth="9 m")
    assert found.move is not None
    assert "clearance" in found.move_note


def test_a_fix_worse_than_the_area_allows_no_certain_place():
    found = advice(a_register(), r95_m=5000.0)
    assert found.move is None
    assert "certain to conform" in found.move_note


def test_too_far_from_every_neighbour_is_not_mended_by_moving_away():
    permit = a_permit(conditions=(asked("spacing", greatest=50.0),))
    register = a_register(permits=[permit])
    logged(register, "MR-0002", "34 00.2000 N 077 00.0000 W")
    found = advice(register)
    assert found.verdict == Verdict.NONCONFORMING
    assert found.move is None
    assert "spacing" in found.move_note


def test_the_nearest_of_several_areas_is_chosen():
    areas = (
        an_area(shape=a_square(-77.0, 34.0, 200.0)),
        an_area(area_id="tern-patch", shape=a_square(-77.02, 34.0, 200.0)),
    )
    register = a_register(permits=[a_permit(areas=areas, conditions=())])
    found = advice(register, "34.0000000, -77.0150000")
    assert found.move is not None
    assert 180 < found.move.bearing_deg < 360
    assert found.move.distance_m == pytest.approx(461.8 - 200 + 1.5, abs=2.0)


@pytest.mark.parametrize(("permit", "type_id"), [("HB-9999", "dome-120"), ("HB-0417", "pyramid")])
def test_an_unknown_permit_or_type_is_refused(permit, type_id):
    with pytest.raises(NotFoundError):
        advice(a_register(), permit=permit, type_id=type_id)


def test_a_slip_is_warned_of():
    assert any(
        "Latitude and longitude" in w or "outside every permit area" in w
        for w in advice(a_register(), "34 00.0000 N 077 06.0000 W").warnings
    )


CROWDED = a_register(
    permits=[
        a_permit(
            areas=(
                an_area(
                    shape=Polygon(
                        a_square(-77.0, 34.0, 150.0).exterior.coords,
                        [a_square(-77.0, 34.0, 20.0).exterior.coords],
                    )
                ),
            ),
            conditions=(ROOMY, DEEP, asked("inside-area", setback=10.0), asked("keep-out", setback=25.0)),
        )
    ],
    keep_outs=False,
)
CROWDED.append(
    [
        keep_out_added(
            a_keep_out(setback_m=5.0, shape=Point(at((60, 60))["lon_deg"][0], at((60, 60))["lat_deg"][0]))
        )
    ]
)
for _number, (_east, _north) in enumerate(
    [(-60, 0), (-50, 3), (-40, -2), (0, 70), (8, 74), (90, -90), (30, 30)], start=1
):
    _where = at((_east, _north))
    logged(CROWDED, f"MR-000{_number}", decimal(_where["lat_deg"][0], _where["lon_deg"][0]))


@settings(max_examples=60, deadline=None)
@given(st.integers(-2500, 2500), st.integers(-2500, 2500), st.sampled_from([0.1, 1.5, 8.0, 30.0]))
def test_the_move_that_is_advised_really_conforms(east_dm, north_dm, r95_m):
    where = at((east_dm / 10, north_dm / 10))
    start = decimal(where["lat_deg"][0], where["lon_deg"][0])
    found = advice(CROWDED, start, r95_m=r95_m)
    if found.move is None:
        wrong = {f.rule for f in found.findings if f.verdict > Verdict.CONFORMING}
        assert not wrong & MENDED or "certain to conform" in found.move_note
        return
    # As a crew is told it: whole degrees and tenths of a metre.
    assert found.move.bearing_deg == round(found.move.bearing_deg)
    assert found.move.distance_m == pytest.approx(round(found.move.distance_m, 1), abs=1e-9)
    here = settled(start).home.position
    lon, lat, _ = GRS80.fwd(here.lon_deg, here.lat_deg, found.move.bearing_deg, found.move.distance_m)
    assert GRS80.inv(lon, lat, found.move.lon, found.move.lat)[2] < 0.001
    again = advice(CROWDED, decimal(found.move.lat, found.move.lon), r95_m=r95_m)
    for finding in again.findings:
        if finding.rule in MENDED:
            # Nine decimals of a degree are 0.1 mm: the spot is clear but for that.
            short_m = (
                (finding.limit - (finding.measured - finding.u95))
                if finding.verdict > Verdict.CONFORMING
                else 0.0
            )
            assert short_m < 0.002, finding.message


def planned(*conditions, **target):
    """Give a registry with a target for MR-0001 and the baseline 55 km to the west."""
    register = a_register(permits=[a_permit(conditions=(*conditions, ROOMY))])
    register.append([target_added(a_target(**target)), baseline_added()])
    return register


def found_by(register, rule, **said):
    told = advice(register, **said)
    return next(each for each in told.findings if each.rule == rule), told


@pytest.mark.parametrize("east_m", [9.0, 60.0, -300.0])
def test_the_hook_is_led_to_the_target(east_m):
    register = planned(asked("target-offset", greatest=10.0), lon_deg=at((east_m, 0.0))["lon_deg"][0])
    finding, told = found_by(register, "target-offset", tag="MR-0001")
    assert finding.measured == pytest.approx(abs(east_m), abs=0.01)
    assert told.move is not None
    assert told.move.bearing_deg == (90 if east_m > 0 else 270)
    # As near to the target as its circle less the doubt of the fix, and no nearer than needed.
    assert told.move.distance_m == pytest.approx(abs(east_m) - 10.0 + 1.5, abs=0.12)
    after, again = found_by(
        register, "target-offset", tag="MR-0001", text=decimal(told.move.lat, told.move.lon)
    )
    assert after.verdict == Verdict.CONFORMING
    assert again.move is None


def test_a_target_on_a_neighbour_leaves_no_place_and_says_so():
    register = planned(asked("target-offset", greatest=3.0))
    logged(register, "MR-0002")
    _, told = found_by(register, "target-offset", tag="MR-0001", text="34 00.0100 N 077 00.0000 W")
    assert told.move is None
    assert "No " in told.move_note


def test_a_fix_coarser_than_the_circle_leads_nowhere():
    _, told = found_by(
        planned(asked("target-offset", greatest=3.0)), "target-offset", tag="MR-0001", r95_m=3.0
    )
    assert told.move is None
    assert "certain to conform with this uncertainty" in told.move_note


def test_without_a_tag_the_plan_says_nothing_and_other_moves_are_still_told():
    register = planned(asked("target-offset", greatest=10.0))
    finding, told = found_by(register, "target-offset")
    assert finding.verdict == Verdict.INCONCLUSIVE
    assert (told.move, told.move_note) == (None, "Moving the hook does not settle target-offset.")
    assert any("leadline check --tag TAG" in warning for warning in told.warnings)
    logged(register, "MR-0002")
    _, crowded = found_by(register, "target-offset")
    assert crowded.move is not None
    assert crowded.move_note == "The move does not settle target-offset."


def test_the_hook_is_led_away_from_the_shore():
    # The baseline runs along 77.6 W; the middle of the area lies some 55.4 km from it.
    finding, _ = found_by(planned(asked("offshore-distance", least=1.0)), "offshore-distance")
    register = planned(asked("offshore-distance", least=float(np.floor(finding.measured)) + 20.0))
    before, told = found_by(register, "offshore-distance")
    assert before.verdict == Verdict.NONCONFORMING
    assert told.move is not None
    assert 85 <= told.move.bearing_deg <= 95
    assert told.move.distance_m == pytest.approx(before.limit + 1.5 - before.measured, abs=0.15)
    after, _ = found_by(register, "offshore-distance", text=decimal(told.move.lat, told.move.lon))
    assert after.verdict == Verdict.CONFORMING
