"""Resurveys: one module, a whole site, a common shift told apart from modules that moved, and its cause."""

import math
from datetime import UTC, datetime

import numpy as np
import pytest

from registry.actions.explain_shift import explain_shift, frame_slips
from registry.actions.record_resurvey import Resurveyed, record_resurvey, record_resurveys
from registry.actions.standing_place import standing_place
from registry.errors import ConflictError, InvalidRecordError, LeadlineError, NotFoundError
from registry.formats.written_position import read_position
from registry.measure.datum import decimal_year, transform
from registry.measure.geodesic import direct
from registry.measure.movement import CommonShift, Motion, bearing_of
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity
from tests.builders import (
    ACTOR,
    LAT_DEG,
    LON_DEG,
    NOON,
    a_placement,
    a_programme,
    a_stocked_registry,
    many_placements,
    placement_corrected,
    placement_logged,
)
from tests.fakes import FixedClock, MemoryRegister

AFTER = datetime(2027, 10, 2, 16, tzinfo=UTC)


@pytest.fixture
def register():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append(a_stocked_registry(40))
    return register


@pytest.fixture
def site(register):
    """Thirty modules, each known to 1.5 m."""
    register.append([placement_logged(one) for one in many_placements(30)])
    return register


def seen(lon, lat, tag="MR-0001", *, r95_m=1.0, frame="EPSG:6318", at=AFTER, **more) -> LogRow:
    return LogRow(
        tag=tag,
        permit="",
        placed_at=at,
        position=read_position(f"{lat:+.9f} {lon:+.9f}"),
        frame=frame,
        r95=Quantity(value=r95_m, dimension="length", written=f"{r95_m} m", resolution=0.1),
        **more,
    )


def walked(east_m, north_m, lon=LON_DEG, lat=LAT_DEG) -> tuple[float, float]:
    lon2, lat2 = direct(lon, lat, bearing_of(east_m, north_m), math.hypot(east_m, north_m))
    return float(lon2), float(lat2)


@pytest.mark.parametrize(
    ("east_m", "north_m", "verdict"),
    [
        (4.0, 0.0, Motion.MOVED),
        (1.7, 0.0, Motion.NOT_SHOWN),
        (1.85, 0.0, Motion.MOVED),
        (0.0, 0.0, Motion.NOT_SHOWN),
    ],
)
def test_one_module(register, east_m, north_m, verdict):
    """Known to 1.5 m and 1 m: the limit is at 1.80 m, their root of squares."""
    register.append([placement_logged(a_placement())])
    done = record_resurvey(register, seen(*walked(east_m, north_m)), actor=ACTOR)
    movement = done.resurvey.movement
    assert movement.verdict == verdict
    assert movement.distance_m == pytest.approx(math.hypot(east_m, north_m), abs=1e-3)
    assert movement.u95_m == pytest.approx(math.hypot(1.5, 1.0), abs=1e-6)
    if east_m:
        assert movement.bearing_deg == pytest.approx(90.0, abs=0.1)
    assert (movement.compared_at, movement.since) == (NOON, NOON)
    (entry,) = register.resurveys("MR-0001")
    assert entry["reference"] == done.resurvey_id


def test_the_placement_is_never_overwritten(register):
    register.append([placement_logged(a_placement())])
    before = register.placement(register.placement_ids("MR-0001")[0])
    record_resurvey(register, seen(*walked(9.0, 0.0)), actor=ACTOR)
    assert register.placement(register.placement_ids("MR-0001")[0]) == before


def test_since_when(register):
    """Seen at rest in 2027, gone in 2028; seen there again in 2029: it moved between the first two."""
    register.append([placement_logged(a_placement())])
    days = [AFTER.replace(year=year) for year in (2027, 2028, 2029)]
    first = record_resurvey(register, seen(*walked(0.5, 0.0), at=days[0]), actor=ACTOR)
    second = record_resurvey(register, seen(*walked(8.0, 0.0), at=days[1]), actor=ACTOR)
    third = record_resurvey(register, seen(*walked(8.3, 0.2), at=days[2]), actor=ACTOR)
    assert [one.resurvey.movement.verdict for one in (first, second, third)] == [
        Motion.NOT_SHOWN, Motion.MOVED, Motion.NOT_SHOWN
    ]  # fmt: skip
    assert (second.resurvey.movement.since, third.resurvey.movement.since) == (days[0], days[1])
    assert third.resurvey.movement.compared_with == second.resurvey_id


def test_nothing_is_written_where_one_only_asks(register):
    register.append([placement_logged(a_placement())])
    head = register.head()
    done = record_resurvey(register, seen(*walked(8.0, 0.0)), actor=ACTOR, write=False)
    assert done.resurvey_id is None
    assert done.resurvey.movement.verdict == Motion.MOVED
    assert register.head() == head


def test_a_resurvey_is_corrected_by_another(register):
    register.append([placement_logged(a_placement())])
    wrong = record_resurvey(register, seen(*walked(80.0, 0.0)), actor=ACTOR)
    assert wrong.resurvey_id is not None
    with pytest.raises(InvalidRecordError, match="says why"):
        record_resurvey(register, seen(*walked(0.8, 0.0)), actor=ACTOR, corrects=wrong.resurvey_id)
    right = record_resurvey(
        register,
        seen(*walked(0.8, 0.0)),
        actor=ACTOR,
        corrects=wrong.resurvey_id,
        reason="two digits swapped",
    )
    assert right.resurvey.movement.verdict == Motion.NOT_SHOWN
    assert [row["reference"] for row in register.resurveys()] == [right.resurvey_id]


@pytest.mark.parametrize(("row", "error", "words"), [
    ({"tag": "MR-0002"}, NotFoundError, "not placed yet"),
    ({"tag": "XX"}, NotFoundError, "no module"),
    ({"at": NOON.replace(year=2025)}, InvalidRecordError, "before 2026-06-01"),
])  # fmt: skip
def test_what_cannot_be_taken_in(register, row, error, words):
    register.append([placement_logged(a_placement())])
    with pytest.raises(error, match=words):
        record_resurvey(register, seen(LON_DEG, LAT_DEG, **row), actor=ACTOR)
    assert register.resurveys() == ()


def test_a_bad_row_does_not_take_the_others_with_it(site):
    rows = site_rows(site, np.zeros((30, 2)))
    rows[3] = seen(LON_DEG, LAT_DEG, tag="XX")
    rows[4] = seen(LON_DEG, LAT_DEG, tag="MR-0005", frame="EPSG:4258")
    found = record_resurveys(site, rows, actor=ACTOR)
    assert [i for i, answer in enumerate(found.answers) if isinstance(answer, LeadlineError)] == [3, 4]
    assert len(site.resurveys()) == 28


def test_a_row_is_taken_in_once(register):
    register.append([placement_logged(a_placement())])
    row = seen(LON_DEG, LAT_DEG, source={"key": "k"})
    first = record_resurveys(register, [row, row], actor=ACTOR)
    again = record_resurveys(register, [row], actor=ACTOR)
    assert [type(answer) for answer in first.answers] == [Resurveyed, ConflictError]
    assert isinstance(again.answers[0], ConflictError)


def site_rows(
    register, moves_m, *, stated="EPSG:6318", actual="EPSG:6318", noise_m=0.3, seed=7
) -> list[LogRow]:
    """Survey every module of a site, moved by some metres, with a receiver set otherwise than stated."""
    rng = np.random.default_rng(seed)
    table = register.placements()
    rows = []
    for i in range(len(table)):
        east, north = moves_m[i] + rng.normal(0.0, noise_m, 2)
        lon, lat = walked(east, north, float(table.lon_deg[i]), float(table.lat_deg[i]))
        out = transform(lon, lat, source="EPSG:6318", target=actual, epoch=decimal_year(AFTER))
        rows.append(seen(float(out.lon_deg), float(out.lat_deg), str(table.tag[i]), frame=stated))
    return rows


def verdicts(found) -> dict[str, Motion]:
    return {
        one.resurvey.tag: one.resurvey.movement.verdict
        for one in found.answers
        if isinstance(one, Resurveyed)
    }


def test_a_quiet_site(site):
    found = record_resurveys(site, site_rows(site, np.zeros((30, 2))), actor=ACTOR)
    assert found.motion == Motion.NOT_SHOWN
    assert set(verdicts(found).values()) == {Motion.NOT_SHOWN}
    assert found.shift is not None
    assert not found.shift.real
    assert found.explanation == ()


def test_single_modules_that_moved_are_no_common_shift(site):
    moves = np.zeros((30, 2))
    moves[4], moves[17] = (6.0, 2.0), (-3.0, -9.0)
    found = record_resurveys(site, site_rows(site, moves), actor=ACTOR)
    assert found.shift is not None
    assert not found.shift.real
    assert {tag for tag, verdict in verdicts(found).items() if verdict == Motion.MOVED} == {
        "MR-0005",
        "MR-0018",
    }
    assert found.motion == Motion.MOVED


SLIPS = [  # stated, actual, size m, toward, words
    ("EPSG:4326", "EPSG:6318", 1.10, 143.0, "WGS 84 stated where this survey was made in NAD83(2011)"),
    ("EPSG:6318", "EPSG:4326", 1.10, 323.0, "NAD83(2011) stated where this survey was made in WGS 84"),
]


@pytest.mark.parametrize(("stated", "actual", "size_m", "toward_deg", "words"), SLIPS)
def test_a_wrong_frame_moves_the_whole_site_and_is_named(site, stated, actual, size_m, toward_deg, words):
    moves = np.zeros((30, 2))
    moves[9] = (5.0, 5.0)
    found = record_resurveys(site, site_rows(site, moves, stated=stated, actual=actual), actor=ACTOR)
    assert found.shift is not None
    assert found.shift.real
    assert found.shift.distance_m == pytest.approx(size_m, abs=0.2)
    assert found.shift.bearing_deg == pytest.approx(toward_deg, abs=10.0)
    assert any(words in line for line in found.explanation)
    assert {tag for tag, verdict in verdicts(found).items() if verdict == Motion.MOVED} == {"MR-0010"}
    kept = site.resurveys("MR-0001")[0]
    assert kept["movement"]["shift_m"] == pytest.approx(found.shift.distance_m)


def test_a_common_shift_alone_leaves_the_whole_inconclusive(site):
    found = record_resurveys(site, site_rows(site, np.full((30, 2), 1.5)), actor=ACTOR)
    assert set(verdicts(found).values()) == {Motion.NOT_SHOWN}
    assert found.motion == Motion.INCONCLUSIVE
    assert "no difference between the frames" in found.explanation[0]


def a_shift(east_m: float, north_m: float, sigma_m: float = 0.3) -> CommonShift:
    return CommonShift(
        east_m=east_m, north_m=north_m, sigma_east_m=sigma_m, sigma_north_m=sigma_m, count=30, p_value=1e-6
    )


EARLIER = ("EPSG:6318", 2026.4)


def explained(east_m, north_m, *, stated=("EPSG:6318", 2027.75), then=EARLIER, lon=-79.75, lat=32.81):
    return explain_shift(
        a_shift(east_m, north_m), lon, lat, home="EPSG:6318", stated=stated, stated_then=then
    )


def test_nad27_is_suspected_by_its_size_where_its_grid_is_absent():
    """NGS station pair CJ0695 (South Carolina): NAD27 numbers lie 26.7 m south-west of NAD83 ones."""
    assert any("NAD27" in line and "--grids DIR" in line for line in explained(-18.4, -19.4))
    assert not any("NAD27" in line for line in explained(-5.0, -5.0))


def test_the_earlier_positions_may_be_the_ones_in_the_wrong_frame():
    """They were stated in NAD83(2011) but taken in WGS 84: 1.1 m too far north-west, so all seems to move back."""
    told = explained(0.65, -0.86, stated=("EPSG:4326", 2027.75))
    assert any("NAD83(2011) stated where the earlier positions were taken in WGS 84" in line for line in told)
    assert any("WGS 84 stated where this survey was made in NAD83(2011)" in line for line in told)


def test_slips_are_the_published_differences():
    """1.0703 m toward 322.74 at 33 N 78 W in 2026.9, computed independently from EPSG:10334; NAD83 is the other way."""
    slips, unknown = frame_slips(-78.0, 33.0, home="EPSG:6318", stated="EPSG:4326", epoch=2026.9)
    assert unknown == ("NAD27",)
    (slip,) = slips
    assert (slip.actual, slip.stated) == ("NAD83(2011)", "WGS 84")
    assert math.hypot(slip.east_m, slip.north_m) == pytest.approx(1.0703, abs=1e-3)
    assert bearing_of(slip.east_m, slip.north_m) == pytest.approx(142.74, abs=0.05)


def test_a_corrected_placement_judges_its_resurveys_anew(register):
    """Logged 80 m off, found by divers where it lies, then corrected: it never moved."""
    wrong = a_placement(lon_deg=walked(80.0, 0.0)[0], lat_deg=walked(80.0, 0.0)[1])
    (logged,) = register.append([placement_logged(wrong)])
    found = record_resurvey(register, seen(LON_DEG, LAT_DEG), actor=ACTOR)
    assert found.resurvey.movement.verdict == Motion.MOVED
    assert standing_place(register, "MR-0001").moved is not None
    register.append([placement_corrected(a_placement(), supersedes=logged.reference)])
    place = standing_place(register, "MR-0001")
    assert place.moved is None
    assert place.last_seen_at == AFTER


def test_an_older_survey_may_come_later(register):
    """A slate of 2028 is found after the survey of 2029 was recorded: it is compared with what was known then."""
    register.append([placement_logged(a_placement())])
    record_resurvey(register, seen(*walked(0.3, 0.0), at=AFTER.replace(year=2029)), actor=ACTOR)
    late = record_resurvey(register, seen(*walked(9.0, 0.0), at=AFTER.replace(year=2028)), actor=ACTOR)
    assert (late.resurvey.movement.since, late.resurvey.movement.verdict) == (NOON, Motion.MOVED)
