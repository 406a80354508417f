"""Placements read many at a time: exactly what each row says, whatever words and numbers there are."""

import random
import sqlite3
import struct
from dataclasses import fields
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import RegistryError
from registry.records.placement import PlacementTable
from registry.storage.geopackage import create_registry
from registry.storage.placement_numbers import packed_numbers, unpacked_numbers
from tests.builders import (
    ACTOR,
    NOON,
    a_memorial,
    a_module,
    a_placement,
    a_programme,
    a_type,
    module_added,
    placement_logged,
    type_added,
)
from tests.fakes import FixedClock, MemoryRegister

NUMBER = st.floats(allow_nan=False, allow_infinity=False)


@given(st.lists(st.tuples(*[NUMBER] * 3, *[st.none() | NUMBER] * 2), min_size=1, max_size=5))
def test_numbers_come_back_to_the_last_bit_and_hold_no_zero_byte(rows):
    packed = [
        packed_numbers(
            lon_deg=lon,
            lat_deg=lat,
            r95_m=r95,
            depth_m=depth,
            depth_u95_m=u95,
            placed_at="1970-01-01T00:00:01.250Z",
        )
        for lon, lat, r95, depth, u95 in rows
    ]
    assert all(0 not in one for one in packed)
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE TABLE kept (numbers BLOB)")
    connection.executemany("INSERT INTO kept VALUES (?)", [(one,) for one in packed])
    (joined,) = connection.execute("SELECT CAST(group_concat(numbers, '') AS BLOB) FROM kept").fetchone()
    expected = [[np.nan if number is None else number for number in row] + [1.25] for row in rows]
    # Bit by bit, so that a zero keeps its sign.
    assert unpacked_numbers(joined).tobytes() == b"".join(struct.pack("<6d", *row) for row in expected)


@pytest.mark.parametrize("seed", range(3))
def test_any_words_come_back_as_they_were_written(tmp_path, seed):
    """The other implementation of the port is the oracle: it makes one row after the other."""
    rng = random.Random(seed)
    awkward = [
        "A-1",
        "A-10",
        "A-2",
        'say "so"',
        "a, b",
        "Ω",
        "über\u2014all",
        "\\",
        "[1]",
        "'",
        "日本",
        "null",
    ]
    drafts = [type_added(), type_added(a_type(type_id='hump, "90"'))]
    for tag in awkward[:9]:
        named = a_memorial(name=rng.choice(["Ann, Other", 'O"Neill', "Ōno"])) if rng.random() < 0.5 else None
        weighed = rng.choice([None, 1390.0 + rng.random()])
        type_id = rng.choice(["dome-120", 'hump, "90"'])
        drafts.append(
            module_added(
                a_module(tag=tag.replace("\\", "-"), type_id=type_id, memorial=named, mass_kg=weighed)
            )
        )
    for _ in range(80):
        depth = rng.choice([None, 20.0 + rng.random()])
        drafts.append(
            placement_logged(
                a_placement(
                    tag=rng.choice(awkward),
                    permit=rng.choice(["HB-0417", "Ω-1", 'p, "q"', "a\x1fb"]),
                    placed_at=NOON + timedelta(milliseconds=rng.choice([0, 0, 1, 250, -86_400_000])),
                    lon_deg=-77.0 + rng.random() * 1e-9,
                    lat_deg=34.0 + rng.random(),
                    r95_m=rng.random(),
                    charted_depth_m=depth,
                    depth_u95_m=None if depth is None else rng.random(),
                )
            )
        )
    memory = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    with create_registry(
        tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0)
    ) as register:
        register.append(drafts)
        memory.origin = register.origin
        memory.append(drafts)
        for permit in (None, "Ω-1", 'p, "q"', "none"):
            _assert_same(register.placements(permit=permit), memory.placements(permit=permit))


def _assert_same(one: PlacementTable, other: PlacementTable) -> None:
    for column in fields(PlacementTable):
        ours, theirs = getattr(one, column.name), getattr(other, column.name)
        assert ours.dtype == theirs.dtype, column.name
        np.testing.assert_array_equal(ours, theirs, err_msg=column.name)


@pytest.mark.parametrize("damage", ["x''", "x'0102'", "numbers || numbers", "'text'"])
def test_a_row_that_leadline_did_not_write_is_told(tmp_path, damage):
    with create_registry(
        tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0)
    ) as register:
        register.append([placement_logged(), placement_logged()])
        register.connection.execute(f"UPDATE placements SET numbers = {damage} WHERE fid = 2")
        with pytest.raises(RegistryError, match="under permit HB-0417, is not as Leadline writes it"):
            register.placements()


def test_a_table_that_was_read_can_be_chosen_from_and_joined_before_its_identifiers_are_looked_at(tmp_path):
    with create_registry(
        tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0)
    ) as register:
        references = [entry.reference for entry in register.append([placement_logged() for _ in range(12)])]
        asked = register.placements
        ordered = sorted(references)
        assert asked().rows(np.array([3, 1])).placement_id.tolist() == [ordered[3], ordered[1]]
        assert asked().rows(slice(2)).joined(asked()).placement_id.tolist() == [*ordered[:2], *ordered]
        looked_at = asked()
        assert looked_at.placement_id[0] == ordered[0]
        assert (
            looked_at.joined(asked()).placement_id.tolist() == asked().joined(looked_at).placement_id.tolist()
        )
