"""What lies around an intended place says of it what the whole sea within sight would say."""

import math
import random
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from registry.actions.gather_around import NEIGHBOURS_TOLD, REACH_M, Around
from registry.actions.gather_cases import table_of
from registry.measure.geodesic import direct, inverse
from registry.records.permit import Condition
from registry.rules.catalogue import conditions_of, judge
from registry.storage.geopackage import open_register
from tests.builders import a_condition, a_module, a_placement, a_quantity
from tests.fakes import FixedClock
from tests.parted_archive import ENTERED, build


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    path = build(tmp_path_factory.mktemp("archive") / "leadline.gpkg", modules=400)
    with open_register(path, clock=FixedClock(ENTERED), writable=False) as register, register.reading():
        yield register


def around(register, permit, lon_deg, lat_deg, *, tag="", r95_m=0.5, at=ENTERED):
    """Give the surroundings of an intended place, as a check does."""
    placement = a_placement(
        tag=tag or "candidate",
        permit=permit.number,
        lon_deg=lon_deg,
        lat_deg=lat_deg,
        r95_m=r95_m,
        placed_at=at,
    )
    module_type = register.module_type("dome-120")
    module = a_module(tag=placement.tag, type_id=module_type.type_id)
    new = table_of([placement], {placement.tag: module}, {module_type.type_id: module_type})
    return Around(register, permit, new, planned=bool(tag))


def found(cases):
    """Give each finding to the bit, and the nearest neighbours."""
    (judged,) = judge(cases, [conditions_of(cases.permits[0])])
    lines = [
        (f.rule, int(f.verdict[0]), f.measured[0].hex(), f.limit[0].hex(), f.u95[0].hex(), f.message[0])
        for f in judged
    ]
    others = cases.others.rows(np.arange(len(cases.others) - 1))
    place = cases.placements.lon_deg[0], cases.placements.lat_deg[0]
    away_m, _ = inverse(*place, others.lon_deg, others.lat_deg)
    order = np.argsort(away_m, kind="stable")[:NEIGHBOURS_TOLD]
    return lines, [(others.tag[k], away_m[k].hex()) for k in order if away_m[k] <= REACH_M]


def places(register, count, seed):
    """Give places beside placements of every permit, near and far, with fixes good and bad."""
    random_ = random.Random(seed)
    table = register.placements()
    own = [row for row, tag in enumerate(table.tag) if tag.startswith("X-")]
    for turn in range(count):
        row = random_.choice(own) if turn % 2 else random_.randrange(len(table))
        away_m = 10.0 ** random_.uniform(-1.0, 3.7)
        lon, lat = direct(table.lon_deg[row], table.lat_deg[row], random_.uniform(0.0, 360.0), away_m)
        yield (
            table.permit[row],
            float(lon),
            float(lat),
            random_.choice(["", "NEW-1", table.tag[row]]),
            random_.choice([0.2, 0.5, 8.0, 60.0, 900.0]),
            ENTERED - timedelta(days=random_.choice([0, 60, 200])),
        )


@pytest.mark.parametrize("seed", range(3))
def test_what_is_left_out_has_no_say(archive, seed):
    read = {True: 0, False: 0}
    for number, lon_deg, lat_deg, tag, r95_m, at in places(archive, 50, seed):
        one = around(archive, archive.permit(number), lon_deg, lat_deg, tag=tag, r95_m=r95_m, at=at)
        told = {}
        for whole in read:
            cases = one.cases(whole=whole)
            read[whole] += len(cases.others)
            told[whole] = found(cases)
        assert told[False] == told[True], (number, lon_deg, lat_deg, tag, r95_m)
    assert read[False] < 0.7 * read[True]


def test_few_placements_are_read_where_fixes_are_sure(archive):
    number, (west, south) = "X-A", (-77.05 + 0.0197, 33.95 + 0.0103)
    one = around(archive, archive.permit(number), west, south)
    assert len(one.cases().others) < len(one.cases(whole=True).others)


def test_a_capacity_is_counted_as_if_every_placement_had_been_read(archive):
    conditions = tuple(
        Condition(
            rule="capacity",
            cite="Special condition 7",
            limits={name: a_quantity(value, dimension=dimension, written=f"{value}")},
        )
        for name, value, dimension in (("greatest_count", 90.0, "count"), ("greatest_mass", 1e5, "mass"))
    )
    permit = replace(archive.permit("X-A"), conditions=(a_condition(), *conditions))
    rows = archive.placements(permit="X-A")
    for days in (0, 60, 92):
        at = ENTERED - timedelta(days=days)
        before = rows.placed_at_s <= at.timestamp()
        cases = around(archive, permit, -77.049, 33.951, at=at).cases()
        assert cases.count_so_far.tolist() == [np.count_nonzero(before) + 1]
        assert cases.mass_so_far_kg.tolist() == [rows.mass_kg[before].sum() + cases.placements.mass_kg[0]]


def test_a_tag_that_lies_under_another_permit_far_away_is_a_duplicate(archive):
    tag = archive.placements(permit="X-E").tag[0]
    cases = around(archive, archive.permit("X-A"), -77.049, 33.951, tag=tag).cases()
    assert cases.same_tag.tolist() == [2]


def test_what_was_found_moved_is_a_neighbour_where_it_was_found(archive):
    """X-0001 was found 20 m east of the border, on the ground of X-B."""
    moved = -77.05 + 0.0196, 33.95 + 0.01003
    cases = around(archive, archive.permit("X-A"), *moved).cases()
    _, neighbours = found(cases)
    assert neighbours[0][0] == "X-0001"
    assert math.isclose(float.fromhex(neighbours[0][1]), 0.0, abs_tol=1e-6)
