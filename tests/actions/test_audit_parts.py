"""Parts of an archive, each judged with its halo alone, against one audit of the whole: the same to the bit."""

import pickle
from datetime import UTC, datetime

import numpy as np
import pytest

from registry.actions.audit_parts import (
    SIGHT_M,
    halo_of,
    judge_part,
    look_beyond,
    part_with_halo,
    plan_parts,
    put_together,
)
from registry.actions.audit_registry import audit_registry
from registry.rules import spacing
from registry.storage.geopackage import open_register
from registry.storage.placement_parts import PlacementParts, boxes_around
from tests.fakes import FixedClock
from tests.parted_archive import ENTERED, build

MIDSUMMER = datetime(2026, 6, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    path = build(tmp_path_factory.mktemp("archive") / "leadline.gpkg")
    with open_register(path, clock=FixedClock(ENTERED), writable=False) as register, register.reading():
        yield register


def in_parts(register, *, workers, on=None, in_full=True):
    """Audit part by part, as workers do, and tell how many parts there were."""
    history, parts = register.permit_history(), PlacementParts(register)
    rest = look_beyond(register, parts, on=on)
    plan = plan_parts(history, parts.counts(until=on), workers=workers)
    judged = []
    for part in reversed(plan):
        versions = [register.permit_versions(number) for number in part.permits]
        standing = part_with_halo(register, parts, versions, rest)
        judged.append(
            pickle.loads(pickle.dumps(judge_part(register, versions, standing, rest, in_full=in_full)))
        )
    return put_together(history, judged, head=register.head()), len(plan)


def bits(column):
    return column.tolist() if column.dtype == object else np.ascontiguousarray(column).tobytes()


def insist_on_the_same(one, other, *, sentences=True):
    assert one.head == other.head
    # What conforms today is told to nobody.
    for mine, theirs, told in ((one.permits, other.permits, sentences), (one.today, other.today, False)):
        assert [(a.permit, a.conditions) for a in mine] == [(b.permit, b.conditions) for b in theirs]
        for a, b in zip(mine, theirs, strict=True):
            for name in vars(a.placements):
                assert bits(getattr(a.placements, name)) == bits(getattr(b.placements, name)), name
            assert (bits(a.inside_m), bits(a.area_row)) == (bits(b.inside_m), bits(b.area_row))
            for found, again in zip(a.findings, b.findings, strict=True):
                where = (a.permit.number, found.rule)
                for name in ("verdict", "measured", "limit", "u95"):
                    assert bits(getattr(found, name)) == bits(getattr(again, name)), (where, name)
                rows = np.arange(len(found.verdict)) if told else np.flatnonzero(found.verdict >= 2)
                assert [found.message[row] for row in rows] == [again.message[row] for row in rows], where


@pytest.mark.parametrize("workers", [1, 3, 40])
@pytest.mark.parametrize("on", [None, MIDSUMMER])
def test_parts_say_what_the_whole_says(archive, workers, on):
    found, count = in_parts(archive, workers=workers, on=on)
    assert count > min(workers, 5)
    whole = audit_registry(archive, on=on)
    assert {verdict for audit in whole.permits for verdict in audit.verdict.tolist()} >= {1, 2, 3}
    insist_on_the_same(found, whole)


def test_what_is_not_asked_in_words_is_not_carried_in_words(archive):
    found, _ = in_parts(archive, workers=3, in_full=False)
    insist_on_the_same(found, audit_registry(archive), sentences=False)
    findings = next(each for audit in found.permits for each in audit.findings if (each.verdict == 1).any())
    with pytest.raises(KeyError):
        findings.message[int(np.flatnonzero(findings.verdict == 1)[0])]


def test_without_its_halo_a_part_would_say_something_else(archive):
    """The archive needs every one of these: each left out changes a finding."""
    parts, whole = PlacementParts(archive), {a.permit.number: a for a in audit_registry(archive).permits}
    rest = look_beyond(archive, parts)

    def says(number, standing, rest=rest):
        versions = [archive.permit_versions(number)]
        (by_day, _) = judge_part(archive, versions, standing, rest, in_full=False)
        return [bits(found.verdict) for found in by_day[0].findings]

    def expected(number):
        return [bits(found.verdict) for found in whole[number].findings]

    for number in ("X-A", "X-C"):
        full = part_with_halo(archive, parts, [archive.permit_versions(number)], rest)
        assert says(number, full) == expected(number)
        assert says(number, full.rows(full.permit == number)) != expected(number)
    near = part_with_halo(archive, parts, [archive.permit_versions("X-A")], rest)
    assert says("X-A", near.rows((near.r95_m < rest.sure_m) | (near.permit == "X-A"))) != expected("X-A")
    alone = look_beyond(archive, parts).__class__(
        same_tag={},
        same_memorial={},
        poor=rest.poor,
        sure_m=rest.sure_m,
        moved=rest.moved,
        base_radius_m=rest.base_radius_m,
        on=None,
    )
    assert says("X-A", near, rest=alone) != expected("X-A")


def test_a_halo_reaches_as_far_as_anybody_has_a_say(archive):
    rest = look_beyond(archive, PlacementParts(archive))
    assert SIGHT_M == spacing.NEAR_M
    (version,) = archive.permit_versions("X-B")
    assert halo_of([[version]], rest) > spacing.NEAR_M
    without = [each for each in version.conditions if each.rule != "spacing"]
    assert halo_of([[type(version)(**{**_fields(version), "conditions": tuple(without)})]], rest) == 0.0


def _fields(record):
    return {name: getattr(record, name) for name in record.__dataclass_fields__}


def test_every_permit_is_in_one_part_and_no_part_is_too_large(archive):
    history, counts = archive.permit_history(), PlacementParts(archive).counts()
    for workers in (1, 2, 100):
        plan = plan_parts(history, counts, workers=workers)
        numbers = [number for part in plan for number in part.permits]
        assert sorted(numbers) == [versions[0].number for versions in history]
        assert sum(part.placements for part in plan) == sum(counts.values())
        most = -(-sum(counts.values()) // (4 * workers))
        assert all(
            part.placements <= most or len(part.permits) == 1 for part in plan if part.placements > most
        )
    assert plan_parts([], {}, workers=2) == ()


@pytest.mark.parametrize("place", [(0.0, 0.0), (179.9999, 12.0), (-77.0, 34.0), (5.0, 89.9), (5.0, -89.99)])
@pytest.mark.parametrize("reach_m", [50.0, 2_000.0, 90_000.0])
def test_boxes_hold_whatever_lies_within_reach_of_any_place(place, reach_m):
    from registry.measure.geodesic import direct

    rng = np.random.default_rng(4)
    x0, y0 = np.full(60, place[0]), np.full(60, place[1])
    lon, lat = direct(x0, y0, rng.uniform(0, 360, 60), rng.uniform(0, 9_000, 60))
    boxes = boxes_around(lon.tolist(), lat.tolist(), reach_m)
    x, y = direct(lon, lat, rng.uniform(0, 360, 60), np.full(60, reach_m))
    for px, py in zip(x.tolist(), y.tolist(), strict=True):
        assert any(w <= px <= e and s <= py <= n for w, e, s, n in boxes)
