"""The port ``Register``: the same promises, kept by a GeoPackage and by memory."""

import itertools
import json
import random
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from shapely import MultiPolygon, Polygon

from registry.errors import (
    ConflictError,
    InvalidRecordError,
    NewerRegistryError,
    NotFoundError,
)
from registry.ports import Clock, Register, Signer
from registry.records.custody import Step, hand_over_from_body
from registry.records.entry import GENESIS, Draft, canonical_json
from registry.records.resurvey import resurvey_from_body
from registry.storage.clock import SystemClock
from registry.storage.geopackage import create_registry
from registry.storage.register import degree_boxes
from tests.builders import (
    ACTOR,
    NOON,
    a_baseline,
    a_condition,
    a_hand_over,
    a_keep_out,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_quantity,
    a_resurvey,
    a_stocked_registry,
    a_target,
    a_type,
    amended,
    an_area,
    baseline_added,
    certificate_issued,
    custody_handed,
    custody_withdrawn,
    keep_out_added,
    many_placements,
    module_added,
    module_amended,
    permit_added,
    permit_amended,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    placement_withdrawn,
    target_added,
    type_added,
)
from tests.fakes import FakeSigner, FixedClock, MemoryRegister


@pytest.fixture(params=["geopackage", "memory"])
def register(request, tmp_path) -> Iterator[Register]:
    if request.param == "memory":
        yield MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
        return
    clock = FixedClock(step_s=1.0)
    with create_registry(tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=clock) as kept:
        yield kept


@pytest.fixture
def stocked(register: Register) -> Register:
    register.append(a_stocked_registry())
    return register


def test_the_ports_are_kept():
    clock: Clock = SystemClock()
    signer: Signer = FakeSigner()
    assert clock.now().utcoffset() == timedelta(0)
    assert len(signer.sign(b"anything")) == 64


def test_a_registry_begins_with_its_programme(register):
    assert register.programme() == a_programme()
    (first,) = register.journal()
    assert (first.kind, first.sequence, first.previous, first.actor) == (
        "registry.created",
        1,
        GENESIS,
        ACTOR,
    )
    assert len(first.origin) == 8
    assert first.content()["format"] == 1
    assert register.head() == first.digest == first.expected_digest()
    assert register.permits() == register.keep_outs() == register.modules() == register.module_types() == ()
    assert len(register.placements()) == 0
    assert register.certificates() == ()


def test_records_come_back_exactly(register):
    ring = [(179.9, -17.0), (180.2, -17.0), (180.1 + 1e-13, -16.9)]
    hole = Polygon(
        [(-77.01, 33.99), (-76.99, 33.99), (-77.0, 34.01)],
        [[(-77.001, 33.995), (-76.999, 33.995), (-77, 33.999)]],
    )
    permit = a_permit(
        number="Ω-1",
        areas=(
            an_area(area_id="seam", shape=Polygon(ring), edges="rhumb"),
            an_area(area_id="parts", shape=MultiPolygon([hole, Polygon(ring)])),
        ),
        conditions=(
            a_condition(limits={"least": a_quantity(1 / 3), "greatest": a_quantity(20.0)}),
            a_condition(
                rule="season", limits={"months": a_quantity(0.0, "text", written="May to September")}
            ),
        ),
    )
    weighed = a_module(tag="MR-0002", mass_kg=1411.1, cast_on=None, memorial=a_memorial())
    placement = a_placement(
        lon_deg=-77.0 + 1e-13,
        lat_deg=34.0 + 1e-14,
        placed_at=NOON + timedelta(milliseconds=7),
        charted_depth_m=None,
        depth_u95_m=None,
        warnings=("No depth was given.",),
        note='=HYPERLINK("x") <b>',
    )
    written = register.append(
        [
            permit_added(permit),
            permit_added(),
            keep_out_added(),
            type_added(),
            module_added(weighed),
            module_added(),
            placement_logged(placement),
        ]
    )
    assert register.permits() == (a_permit(), permit)
    assert register.permit("Ω-1") == permit
    assert register.keep_outs() == (a_keep_out(),)
    assert register.module_types() == (a_type(),)
    assert register.module_type("dome-120") == a_type()
    assert register.modules() == (a_module(), weighed)
    assert register.module("MR-0002") == weighed
    assert register.placement(written[-1].reference) == placement


def test_placements_are_columns_joined_with_module_and_type(stocked):
    heavy = a_module(tag="MR-0009", mass_kg=1500.0, memorial=a_memorial(consent_listed=False))
    late, early, unknown = many_placements(3)
    late = replace(late, tag="MR-0009", placed_at=NOON + timedelta(hours=2, milliseconds=250))
    unknown = replace(unknown, tag="NOT-CAST", charted_depth_m=None, depth_u95_m=None, permit="HB-0500")
    entries = stocked.append([module_added(heavy), *map(placement_logged, (late, early, unknown))])
    table = stocked.placements()
    assert list(table.tag) == ["MR-0002", "NOT-CAST", "MR-0009"]
    assert list(table.placement_id) == [entries[2].reference, entries[3].reference, entries[1].reference]
    assert list(table.memorial) == ["", "", a_memorial().name]
    assert list(table.module_type) == ["dome-120", "", "dome-120"]
    np.testing.assert_array_equal(table.mass_kg, [1400.0, np.nan, 1500.0])
    np.testing.assert_array_equal(table.height_m, [1.2, np.nan, 1.2])
    np.testing.assert_array_equal(table.height_u95_m, [0.03, np.nan, 0.03])
    np.testing.assert_array_equal(table.base_radius_m, [0.75, np.nan, 0.75])
    np.testing.assert_array_equal(table.depth_m, [20.36, np.nan, 20.36])
    np.testing.assert_array_equal(table.depth_u95_m, [0.4, np.nan, 0.4])
    home = [one.home.position for one in (early, unknown, late)]
    np.testing.assert_array_equal(table.lon_deg, [position.lon_deg for position in home])
    np.testing.assert_array_equal(table.lat_deg, [position.lat_deg for position in home])
    assert table.placed_at_s[2] == NOON.timestamp() + 7200.25
    assert list(stocked.placements(permit="HB-0500").tag) == ["NOT-CAST"]
    assert len(stocked.placements(permit="none")) == 0
    # Written down only afterwards: the module is joined all the same.
    stocked.append([module_added(a_module(tag="NOT-CAST"))])
    assert list(stocked.placements().module_type) == ["dome-120"] * 3


def test_the_same_instant_is_put_in_order_of_identifier(stocked):
    entries = stocked.append([placement_logged() for _ in range(12)])
    assert list(stocked.placements().placement_id) == sorted(entry.reference for entry in entries)


def test_a_correction_stands_and_what_it_corrects_is_kept(stocked):
    (first,) = stocked.append([placement_logged()])
    moved = a_placement(lon_deg=-77.002)
    (second,) = stocked.append([placement_corrected(moved, supersedes=first.reference)])
    assert list(stocked.placements().placement_id) == [second.reference]
    assert stocked.placement_ids("MR-0001") == (second.reference,)
    assert stocked.placement(first.reference) == a_placement()
    assert stocked.placement(second.reference) == moved
    with pytest.raises(ConflictError):
        stocked.append([placement_corrected(moved, supersedes=first.reference)])
    with pytest.raises(NotFoundError):
        stocked.append([placement_corrected(moved, supersedes="00000000-1")])
    assert len(list(stocked.journal())) == 9


def test_a_withdrawn_placement_stands_no_longer_and_is_kept(stocked):
    first, again = stocked.append([placement_logged(), placement_logged()])
    stocked.append([placement_withdrawn(again.reference)])
    assert list(stocked.placements().placement_id) == [first.reference]
    assert stocked.placement_ids("MR-0001") == (first.reference,)
    assert stocked.placement(again.reference) == a_placement()
    assert list(stocked.placements_near(lon_deg=-77.0, lat_deg=34.0, reach_m=50.0).placement_id) == [
        first.reference
    ]
    length = stocked.journal_length()
    with pytest.raises(ConflictError):
        stocked.append([placement_withdrawn(again.reference)])
    with pytest.raises(ConflictError):
        stocked.append([placement_corrected(a_placement(), supersedes=again.reference)])
    with pytest.raises(NotFoundError, match="00000000-1"):
        stocked.append([placement_withdrawn("00000000-1")])
    assert stocked.journal_length() == length
    stocked.append([placement_withdrawn(first.reference)])
    assert len(stocked.placements()) == 0


def test_a_correction_can_be_withdrawn_and_what_it_corrected_cannot(stocked):
    (first,) = stocked.append([placement_logged()])
    (second,) = stocked.append([placement_corrected(a_placement(), supersedes=first.reference)])
    with pytest.raises(ConflictError):
        stocked.append([placement_withdrawn(first.reference)])
    stocked.append([placement_withdrawn(second.reference)])
    assert stocked.placement_ids("MR-0001") == ()


def test_the_row_of_a_withdrawn_placement_stays_taken(stocked):
    row = {"file": "log.csv", "sha256": "ab", "row": 2, "key": "ab:2"}
    (entry,) = stocked.append([placement_logged(a_placement(source=row))])
    stocked.append([placement_withdrawn(entry.reference)])
    assert stocked.source_rows(["ab:2"]) == {"ab:2"}


def test_an_amended_module_is_what_it_is_now_wherever_it_is_asked(stocked):
    other = a_type(type_id="cube-90", base_radius_m=0.6, height_m=0.9)
    stocked.append([type_added(other), placement_logged()])
    mended = a_module(type_id="cube-90", mass_kg=1390.0, memorial=a_memorial())
    (entry,) = stocked.append([module_amended(mended)])
    assert entry.content()["reason"] == "misspelt"
    assert stocked.module("MR-0001") == mended
    assert mended in stocked.modules()
    assert stocked.modules_tagged(["MR-0001"]) == {"MR-0001": mended}
    assert len(stocked.modules()) == 3
    table = stocked.placements()
    assert (table.module_type[0], table.memorial[0]) == ("cube-90", a_memorial().name)
    assert (table.mass_kg[0], table.base_radius_m[0]) == (1390.0, 0.6)
    with pytest.raises(NotFoundError):
        stocked.append([module_amended(a_module(tag="NOT-CAST"))])
    with pytest.raises(NotFoundError):
        stocked.append([module_amended(a_module(type_id="pyramid"))])


def test_a_tag_may_stand_twice_and_both_are_known(stocked):
    entries = stocked.append(
        [placement_logged(a_placement(placed_at=NOON + timedelta(days=1))), placement_logged()]
    )
    assert stocked.placement_ids("MR-0001") == (entries[1].reference, entries[0].reference)
    assert stocked.placement_ids("MR-0002") == ()


@pytest.mark.parametrize(
    "again",
    [permit_added(), keep_out_added(), type_added(), module_added()],
    ids=lambda draft: draft.kind,
)
def test_what_exists_already_is_refused_and_nothing_is_written(stocked, again):
    head = stocked.head()
    with pytest.raises(ConflictError):
        stocked.append([placement_logged(), again])
    assert stocked.head() == head
    assert len(stocked.placements()) == 0


def test_what_is_not_there_names_what_is(stocked):
    with pytest.raises(NotFoundError, match="HB-0417"):
        stocked.permit("HB-9")
    with pytest.raises(NotFoundError, match="dome-120"):
        stocked.module_type("cube")
    with pytest.raises(NotFoundError, match="MR-0002"):
        stocked.module("MR-2")
    with pytest.raises(NotFoundError):
        stocked.placement("0badcafe-999")
    with pytest.raises(NotFoundError, match="cube"):
        stocked.append([module_added(a_module(tag="X", type_id="cube"))])


def test_a_row_is_taken_in_once(stocked):
    row = {"file": "log.csv", "sha256": "ab", "row": 2, "key": "ab:2"}
    (entry,) = stocked.append([placement_logged(a_placement(source=row))])
    assert stocked.source_rows(["ab:1", "ab:2"]) == {"ab:2"}
    assert stocked.source_rows([]) == frozenset()
    with pytest.raises(ConflictError, match="ab:2"):
        stocked.append([placement_logged(a_placement(source=row))])
    stocked.append([placement_corrected(a_placement(source=row), supersedes=entry.reference)])
    assert stocked.source_rows(["ab:2"]) == {"ab:2"}


def test_resurveys_never_overwrite_a_placement(stocked):
    (placed,) = stocked.append([placement_logged(a_placement())])
    seen = a_resurvey(placement_id=placed.reference, lon_deg=-77.001, source={"key": "again:1"})
    first, second = stocked.append(
        [
            placement_resurveyed(seen),
            placement_resurveyed(a_resurvey(placement_id=placed.reference, tag="MR-0002")),
        ]
    )
    assert stocked.placement(placed.reference) == a_placement()
    assert stocked.placements().lon_deg.tolist() == [-77.0]
    (body,) = stocked.resurveys("MR-0001")
    assert body["reference"] == first.reference
    assert resurvey_from_body(body) == seen
    assert [row["reference"] for row in stocked.resurveys()] == [first.reference, second.reference]
    assert stocked.source_rows(["again:1"]) == {"again:1"}
    with pytest.raises(ConflictError, match="again:1"):
        stocked.append([placement_resurveyed(seen)])


def test_a_resurvey_is_corrected_by_another(stocked):
    (placed,) = stocked.append([placement_logged(a_placement())])
    one = a_resurvey(placement_id=placed.reference)
    (first,) = stocked.append([placement_resurveyed(one)])
    (second,) = stocked.append([placement_resurveyed(one, supersedes=first.reference)])
    assert [row["reference"] for row in stocked.resurveys()] == [second.reference]
    with pytest.raises(ConflictError):
        stocked.append([placement_resurveyed(one, supersedes=first.reference)])
    with pytest.raises(NotFoundError):
        stocked.append([placement_resurveyed(one, supersedes="00000000-1")])
    with pytest.raises(NotFoundError):
        stocked.append([placement_resurveyed(a_resurvey(placement_id="00000000-1"))])
    assert len(stocked.resurveys()) == 1


def test_certificates_come_oldest_first_with_their_reference(stocked):
    first, second, other = stocked.append(
        [
            certificate_issued(),
            certificate_issued(version=2),
            certificate_issued(number="MC-2", tag="MR-0002"),
        ]
    )
    assert [body["reference"] for body in stocked.certificates()] == [
        first.reference,
        second.reference,
        other.reference,
    ]
    mine = stocked.certificates("MR-0001")
    assert [body["version"] for body in mine] == [1, 2]
    assert mine[0]["statement"] == {"lat": "34.0"}
    with pytest.raises(ConflictError):
        stocked.append([certificate_issued()])


def test_each_entry_seals_the_one_before(stocked):
    entries = list(stocked.journal())
    assert [entry.sequence for entry in entries] == list(range(1, 8))
    for before, entry in itertools.pairwise(entries):
        assert entry.previous == before.digest
        assert entry.digest == entry.expected_digest()
        assert entry.body == canonical_json(json.loads(entry.body))
    assert entries[-1].digest == stocked.head()
    assert list(stocked.journal(after=5)) == entries[5:]


def test_a_transaction_stands_whole_or_not_at_all(stocked):
    head = stocked.head()

    def give_up():
        stocked.append([placement_logged()])
        assert len(stocked.placements()) == 1
        with stocked.writing():
            stocked.append([placement_logged()])
        raise RuntimeError("the sea")

    with pytest.raises(RuntimeError, match="the sea"), stocked.writing():
        give_up()
    assert stocked.head() == head
    assert len(stocked.placements()) == 0


def test_an_inner_failure_takes_back_only_itself(stocked):
    with stocked.writing():
        stocked.append([placement_logged()])
        with pytest.raises(ConflictError):
            stocked.append([placement_logged(), permit_added()])
        stocked.append([placement_logged()])
    assert len(stocked.placements()) == 2
    assert [entry.sequence for entry in stocked.journal()] == list(range(1, 10))


def test_an_unknown_kind_was_written_by_a_later_version(register):
    with pytest.raises(NewerRegistryError, match="moon"):
        register.append([Draft(kind="moon.phase", actor=ACTOR, body={})])
    assert len(list(register.journal())) == 1


def test_a_number_that_is_none_is_refused(register):
    with pytest.raises(InvalidRecordError):
        register.append([Draft(kind="intake.read", actor=ACTOR, body={"share": float("nan")})])


def test_an_intake_is_kept_in_the_journal(register):
    body = {
        "file": "log.csv",
        "sha256": "ab",
        "rejected": [{"row": 3, "reason": "no hemisphere", "text": "34 0"}],
    }
    (entry,) = register.append([Draft(kind="intake.read", actor=ACTOR, body=body)])
    assert entry.content() == body


def test_times_are_kept_to_the_millisecond_in_utc():
    clock = FixedClock(datetime(2026, 6, 1, 12, 0, 0, 123_987, tzinfo=UTC))
    memory = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
    assert next(memory.journal()).time.microsecond == 123_000


# The neighbourhood


def _geodesic_circle(lon_deg: float, lat_deg: float, reach_m: float) -> tuple[Any, Any]:
    from pyproj import Geod

    azimuths = np.linspace(0, 360, 73)
    lon, lat, _ = Geod(ellps="GRS80").fwd(
        np.full(73, lon_deg), np.full(73, lat_deg), azimuths, np.full(73, reach_m)
    )
    return lon, lat


@pytest.mark.parametrize("reach_m", [0.5, 150.0, 20_000.0, 900_000.0])
@pytest.mark.parametrize("lat_deg", [0.0, 34.0, -60.0, 84.0, 89.9995, -90.0])
@pytest.mark.parametrize("lon_deg", [-77.0, 179.9999, -180.0])
def test_the_boxes_hold_every_point_within_reach(lon_deg, lat_deg, reach_m):
    """Against PROJ's geodesics (Karney 2013): every point of the circle lies in a box, whatever its turn."""
    lon, lat = _geodesic_circle(lon_deg, lat_deg, reach_m)
    boxes = degree_boxes(lon_deg, lat_deg, reach_m)
    for x, y in zip(lon, lat, strict=True):
        assert any(w <= x <= e and s <= y <= n for w, e, s, n in boxes), (x, y, boxes)


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg"), [(-77.0, 34.0), (179.9999, 12.0), (-180.0, -65.0), (10, 89.9999)]
)
def test_neighbours_are_found_on_both_sides_of_the_seam(stocked, lon_deg, lat_deg):
    lon, lat = _geodesic_circle(lon_deg, lat_deg, 150.0)
    stocked.append(
        [placement_logged(a_placement(lon_deg=x, lat_deg=y)) for x, y in zip(lon, lat, strict=True)]
    )
    stocked.append([placement_logged(a_placement(tag="far", lat_deg=lat_deg - 1.0, lon_deg=lon_deg))])
    near = stocked.placements_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=150.001)
    assert np.sum(near.tag == "MR-0001") == 73
    if not isinstance(stocked, MemoryRegister):
        assert "far" not in near.tag


def test_placements_come_in_order_of_permit_where_that_is_asked(stocked):
    """Of several types and permits, logged in no order; a tag need not be one that can be cast."""
    tags = ["MR-0001", "MR-0002", "long tag with spaces", "Ärö-1", "a\x1fb", "[1", "MR-0003"]
    shuffled = random.Random(3)
    placements = [
        a_placement(
            tag=tags[k % len(tags)],
            permit=("HB-0417", "TN-0033", "HB-0500")[k % 3],
            placed_at=NOON + timedelta(minutes=shuffled.randrange(5)),
            lat_deg=34.0 + k * 1e-5,
        )
        for k in range(40)
    ]
    stocked.append([type_added(a_type(type_id="cube-90"))])
    stocked.append([module_added(a_module(tag="[1", type_id="cube-90"))])
    stocked.append([placement_logged(each) for each in placements])
    by_time, by_permit = stocked.placements(), stocked.placements(by_permit=True)
    keys = list(zip(by_time.placed_at_s, by_time.placement_id, strict=True))
    assert keys == sorted(keys)
    order = np.argsort(by_time.permit.astype(str), kind="stable")
    assert by_permit.permit.tolist() == sorted(by_time.permit)
    for name in ("placement_id", "tag", "permit", "module_type", "lat_deg", "placed_at_s", "mass_kg"):
        expected, found = getattr(by_time, name)[order].tolist(), getattr(by_permit, name).tolist()
        assert repr(found) == repr(expected), name
    assert sorted(by_time.tag) == sorted(each.tag for each in placements)
    assert [by_permit.tag_of(row) for row in range(40)] == by_permit.tag.tolist()


def test_the_unsure_are_found_from_afar(stocked):
    poor = a_placement(tag="poor", r95_m=40.0)
    far = a_placement(tag="far", r95_m=40.0, lat_deg=35.0)
    stranger = a_placement(tag="stranger", r95_m=40.0, lat_deg=35.0, permit="TN-0033")
    stocked.append([placement_logged(each) for each in (a_placement(), poor, far, stranger)])
    here = {"lon_deg": -77.0, "lat_deg": 34.0, "reach_m": 50.0}
    for permit, those in ((None, {"poor"}), ("HB-0417", {"poor", "far"})):
        found = stocked.placements_near(**here, permit=permit, less_sure_than_m=10.0)
        assert set(found.tag) >= those
        if not isinstance(stocked, MemoryRegister):
            assert set(found.tag) == those
    nobody = stocked.placements_near(**here, less_sure_than_m=40.0)
    assert isinstance(stocked, MemoryRegister) or not len(nobody)


def test_what_lay_under_a_permit_is_counted_and_weighed(stocked):
    """MR-0001 was weighed, or has the mass of its type; of one that nobody listed the mass is unknown."""
    first, second = (a_placement(placed_at=NOON + timedelta(minutes=k)) for k in (0, 1))
    strange = a_placement(tag="strange", placed_at=NOON + timedelta(minutes=2))
    stocked.append([placement_logged(each) for each in (first, second, strange)])
    mass_kg = float(stocked.placements().mass_kg[0])
    assert mass_kg > 0
    for minutes, count, together in ((-1, 0, 0.0), (0, 1, mass_kg), (1.5, 2, 2 * mass_kg)):
        until = NOON + timedelta(minutes=minutes)
        assert stocked.placed_under("HB-0417", until=until) == (count, together)
    count, together = stocked.placed_under("HB-0417", until=NOON + timedelta(minutes=2))
    assert count == 3
    assert np.isnan(together)
    assert stocked.placed_under("TN-0033", until=NOON) == (0, 0.0)


# Versions of permits


def test_an_amended_permit_is_in_force_from_its_first_day_on(stocked):
    """The clock stands at 13:00 on 2026-06-01 in the zone of the programme."""
    assert stocked.today() == date(2026, 6, 1)
    coming, today = amended(), amended(in_force_from=date(2026, 6, 1), amendment="Amendment 0", holder="Tern")
    stocked.append([permit_amended(coming)])
    assert stocked.permit("HB-0417") == a_permit()
    assert stocked.permits() == (a_permit(),)
    assert stocked.permit_versions("HB-0417") == (a_permit(), coming)
    # Recorded later, in force earlier.
    stocked.append([permit_amended(today)])
    assert stocked.permit("HB-0417") == today
    assert stocked.permits() == (today,)
    assert stocked.permit_versions("HB-0417") == (a_permit(), today, coming)
    days = [date(2020, 1, 1), date(2026, 5, 31), date(2026, 6, 1), date(2026, 6, 2), date(2050, 1, 1)]
    assert [stocked.permit("HB-0417", on=day) for day in days] == [
        *(a_permit(), a_permit(), today, coming, coming)
    ]


def test_the_day_is_that_of_the_programme(tmp_path):
    """At 03:59 UTC on 2026-06-02 it is still 2026-06-01 in New York."""
    for minute, expected in ((59, a_permit()), (60, amended())):
        instant = datetime(2026, 6, 2, 3, tzinfo=UTC) + timedelta(minutes=minute)
        drafts = [permit_added(), permit_amended(amended())]
        memory = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(instant))
        path = tmp_path / f"{minute}.gpkg"
        with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock(instant)) as kept:
            for register in (memory, kept):
                register.append(drafts)
                assert register.permit("HB-0417") == expected
                assert register.permits() == (expected,)


def test_before_the_first_version_the_first_is_given(register):
    later = a_permit(valid_from=date(2030, 1, 1))
    register.append([permit_added(later), permit_amended(amended(in_force_from=date(2031, 1, 1)))])
    assert register.permit("HB-0417") == later
    assert register.permits() == (later,)


def test_a_version_of_the_same_day_takes_the_place_of_the_earlier(stocked):
    first = amended()
    better = amended(amendment="Amendment 1, transcribed anew", areas=(an_area(area_id="tern-patch"),))
    stocked.append([permit_amended(first), permit_amended(better)])
    assert stocked.permit_versions("HB-0417") == (a_permit(), better)
    # So does one of the first day of the permit itself.
    mended = a_permit(holder="Marram", in_force_from=a_permit().valid_from, amendment="mistyped")
    stocked.append([permit_amended(mended)])
    assert stocked.permit_versions("HB-0417") == (mended, better)
    assert [entry.kind for entry in stocked.journal()].count("permit.amended") == 3


def test_versions_of_many_permits_are_given_in_order_of_number(register):
    numbers = [f"HB-{number:04d}" for number in (3, 1, 2)]
    register.append([permit_added(a_permit(number=number)) for number in numbers])
    past = amended(number="HB-0002", in_force_from=date(2025, 1, 1))
    register.append([permit_amended(past), permit_amended(amended(number="HB-0001"))])
    assert [permit.number for permit in register.permits()] == sorted(numbers)
    assert [permit.in_force_from for permit in register.permits()] == [None, date(2025, 1, 1), None]


def test_the_version_in_force_is_the_same_by_sql_and_by_memory(tmp_path):
    """Amendments in any order, several for one day among them, asked on days between, on and around theirs."""
    chance = random.Random(20260601)
    numbers = [f"HB-{number:04d}" for number in range(1, 41)]
    drafts = [permit_added(a_permit(number=number, valid_from=date(2026, 1, 1))) for number in numbers]
    amendments = [
        amended(
            number=number,
            valid_from=date(2026, 1, 1),
            in_force_from=date(2026, 1, 1) + timedelta(days=chance.randrange(0, 12)),
            amendment=f"Amendment {turn}",
        )
        for number in numbers
        for turn in range(chance.randrange(0, 6))
    ]
    chance.shuffle(amendments)
    drafts += [permit_amended(each) for each in amendments]
    clock = FixedClock()
    memory = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
    memory.append(drafts)
    with create_registry(tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=clock) as kept:
        kept.append(drafts)
        seen = set()
        for day in range(-2, 15):
            clock.instant = datetime(2026, 1, 1, 17, tzinfo=UTC) + timedelta(days=day)
            assert kept.permits() == memory.permits()
            seen |= {permit.amendment for permit in kept.permits()}
            for number in numbers:
                assert kept.permit(number) == memory.permit(number)
                assert kept.permit_versions(number) == memory.permit_versions(number)
        assert len(seen) >= 5


def test_what_does_not_fit_a_version_is_refused_and_nothing_is_written(stocked):
    before = stocked.head()
    with pytest.raises(NotFoundError, match="HB-0999"):
        stocked.append([permit_amended(amended(number="HB-0999"))])
    with pytest.raises(NotFoundError, match="HB-0999"):
        stocked.permit_versions("HB-0999")
    with pytest.raises(ConflictError):
        stocked.append([permit_added(a_permit(valid_from=date(2025, 5, 1)))])
    assert stocked.head() == before
    assert stocked.permit_versions("HB-0417") == (a_permit(),)


def test_a_permit_recorded_before_there_were_versions_is_read(register):
    body = dict(permit_added().body)
    for name in ("holder", "in_force_from", "amendment", "reporting"):
        del body[name]
    body["conditions"] = [
        {name: value for name, value in condition.items() if name != "areas"}
        for condition in body["conditions"]
    ]
    register.append([Draft(kind="permit.added", actor=ACTOR, body=body)])
    assert register.permit("HB-0417") == a_permit()
    assert register.permits() == register.permit_versions("HB-0417") == (a_permit(),)


# Targets, baselines and declarations


def test_targets_and_baselines_come_back_exactly(stocked):
    assert stocked.targets() == stocked.baselines() == ()
    land = a_baseline(baseline_id="baseline-0002", shape=an_area().shape, epoch=None)
    other = a_target(target_id="target-0002", tag="MR-0002", lon_deg=-77.0 + 1e-13)
    stocked.append([target_added(other), target_added(), baseline_added(land), baseline_added()])
    assert stocked.targets() == (a_target(), other)
    assert stocked.baselines() == (a_baseline(), land)


def test_the_target_of_one_module_is_that_of_its_permit(stocked):
    other = a_target(target_id="target-0002", permit="HB-0500", lat_deg=34.001)
    stocked.append([target_added(), target_added(other)])
    assert stocked.target_of("HB-0417", "MR-0001") == a_target()
    assert stocked.target_of("HB-0500", "MR-0001") == other
    assert stocked.target_of("HB-0417", "MR-0002") is None


def test_a_target_that_moved_takes_the_place_of_the_earlier(stocked):
    stocked.append([target_added()])
    before = stocked.head()
    elsewhere = a_target(target_id="target-0002", lat_deg=34.001)
    with pytest.raises(ConflictError):
        stocked.append([target_added(elsewhere)])
    with pytest.raises(NotFoundError, match="target-0009"):
        stocked.append([target_added(elsewhere, supersedes="target-0009")])
    assert stocked.head() == before
    stocked.append([target_added(elsewhere, supersedes="target-0001")])
    assert stocked.targets() == (elsewhere,)
    # Under another permit the same module may have another target.
    stocked.append([target_added(a_target(target_id="target-0003", permit="HB-0500"))])
    assert [target.target_id for target in stocked.targets()] == ["target-0002", "target-0003"]


def test_what_was_declared_and_done_comes_back_with_who_said_so_and_when(stocked):
    assert stocked.declarations() == stocked.duties_done() == ()
    said = {"burial_report": "yes", "days": 30, "cite": "Letter of 2026-05-01"}
    done = {"duty_id": "notice-1", "sent_on": "2026-06-01", "note": ""}
    first, second = stocked.append(
        [
            Draft(kind="programme.declared", actor="Ada", body=said),
            Draft(kind="duty.done", actor="Ben", body=done),
        ]
    )
    time = first.time.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    assert stocked.declarations() == ({**said, "reference": first.reference, "time": time, "actor": "Ada"},)
    assert stocked.duties_done() == ({**done, "reference": second.reference, "time": time, "actor": "Ben"},)


def test_hand_overs_come_back_exactly_and_a_correction_takes_the_place_of_the_earlier(stocked):
    assert not stocked.keeps_custody()
    said = a_hand_over(note="in the blue box", source={"row": 2})
    (first,) = stocked.append([custody_handed(said)])
    (kept,) = stocked.hand_overs("MR-0001")
    read = hand_over_from_body(kept)
    assert read == replace(said, reference=first.reference, told=f"{ACTOR}, {kept['time'][:16]}Z")
    assert stocked.hand_overs("MR-0002") == ()
    better = replace(said, step=Step.CAST, corrects=first.reference, reason="the wrong line of the form")
    (second,) = stocked.append([custody_handed(better)])
    (kept,) = stocked.hand_overs("MR-0001")
    assert hand_over_from_body(kept).corrects == first.reference
    assert hand_over_from_body(kept).reason == "the wrong line of the form"
    with pytest.raises(ConflictError):
        stocked.append([custody_handed(better)])
    with pytest.raises(NotFoundError, match="00000000-99"):
        stocked.append([custody_withdrawn("00000000-99")])
    with pytest.raises(NotFoundError, match="MR-0002"):
        stocked.append([custody_withdrawn(second.reference, tag="MR-0002")])
    assert len(stocked.hand_overs("MR-0001")) == 1
    stocked.append([custody_withdrawn(second.reference)])
    assert stocked.hand_overs("MR-0001") == ()
    assert stocked.keeps_custody()


def test_receipts_for_erasures_come_back_oldest_first(stocked):
    assert stocked.erasures() == ()
    body = {"tag": "MR-0001", "contacts": 2}
    entries = stocked.append([Draft(kind="family.erased", actor="Ada", body=body)] * 2)
    assert [kept["reference"] for kept in stocked.erasures()] == [entry.reference for entry in entries]
    assert stocked.erasures()[0].items() >= {**body, "actor": "Ada"}.items()
