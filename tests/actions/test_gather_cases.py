"""What the rules may look at: days in the programme's zone, what lay there before, who else bears the tag."""

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.actions.gather_cases import Surroundings, local_days, table_of
from tests.actions.stocked import a_register, logged
from tests.builders import NOON, a_memorial, a_module, a_placement, a_type
from tests.rules.one_case import a_table, gathered

ZONES = [
    "America/New_York",
    "UTC",
    "Pacific/Kiritimati",
    "Pacific/Pago_Pago",
    "Asia/Kathmandu",
    "Australia/Lord_Howe",
]


@settings(deadline=None)
@given(st.integers(-631_152_000, 4_102_444_800), st.sampled_from(ZONES))
def test_days_are_those_of_the_standard_library(second, zone):
    found = local_days(np.array([float(second)]), zone)
    assert found[0].astype(object) == datetime.fromtimestamp(second, ZoneInfo(zone)).date()


@pytest.mark.parametrize("zone", ZONES)
def test_days_follow_summer_time_within_the_hour(zone):
    start = datetime(2026, 3, 7, tzinfo=UTC)
    instants = [start + timedelta(minutes=10 * k) for k in range(500)]
    found = local_days(np.array([i.timestamp() for i in instants]), zone)
    assert found.astype(object).tolist() == [i.astimezone(ZoneInfo(zone)).date() for i in instants]


def test_no_instants_have_no_days():
    assert local_days(np.empty(0), "UTC").tolist() == []


def test_a_table_joins_placements_with_what_their_modules_are():
    module = a_module(mass_kg=1390.0, memorial=a_memorial())
    table = table_of(
        [a_placement(), a_placement(tag="strange", charted_depth_m=None, depth_u95_m=None)],
        {"MR-0001": module},
        {"dome-120": a_type()},
    )
    assert table.module_type.tolist() == ["dome-120", ""]
    assert table.mass_kg[0] == 1390.0
    assert table.memorial.tolist() == [a_memorial().name, ""]
    assert (table.height_m[0], table.base_radius_m[0], table.placed_at_s[0]) == (1.2, 0.75, NOON.timestamp())
    assert all(
        math.isnan(getattr(table, name)[1]) for name in ("height_m", "base_radius_m", "mass_kg", "depth_m")
    )


def test_a_module_not_weighed_has_the_mass_of_its_type():
    assert table_of([a_placement()], {"MR-0001": a_module()}, {"dome-120": a_type()}).mass_kg.tolist() == [
        1400.0
    ]


def test_columns_made_here_are_those_that_a_register_gives():
    register = a_register()
    found = logged(register)
    kept = register.placements()
    made = table_of(
        [found.placement],
        {m.tag: m for m in register.modules()},
        {t.type_id: t for t in register.module_types()},
        identifiers=[found.placement_id],
    )
    for name in (
        "placement_id",
        "tag",
        "permit",
        "module_type",
        "memorial",
        "lon_deg",
        "lat_deg",
        "r95_m",
        "depth_m",
        "depth_u95_m",
        "placed_at_s",
        "height_m",
        "height_u95_m",
        "base_radius_m",
        "mass_kg",
    ):
        assert getattr(made, name).tolist() == getattr(kept, name).tolist(), name


def test_what_lay_there_is_counted_for_the_permit_alone():
    table = a_table(
        4,
        permit=["HB-0417", "TN-0033", "HB-0417", "HB-0417"],
        tag=["A", "A", "B", "C"],
        memorial=["", "Q", "Q", ""],
    )
    cases = gathered(table)
    assert cases.count_so_far.tolist() == [1, 2, 3]
    assert cases.mass_so_far_kg.tolist() == [1400.0, 2800.0, 4200.0]
    assert cases.same_tag.tolist() == [2, 1, 1]
    assert cases.same_memorial.tolist() == [1, 2, 1]
    assert len(cases.others) == 4


@settings(deadline=None)
@given(st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=20), max_size=60))
def test_tags_are_counted_alike_as_words_and_as_bytes(words):
    """Kept as bytes they may be longer than a machine word, or shorter, and an empty one counts as once."""
    words = words + words[::3]
    expected = [words.count(word) if word else 1 for word in words]
    table = a_table(len(words), tag=words)
    assert Surroundings(table).same_tag.tolist() == expected
    table = replace(table, tag=np.array([word.encode() for word in words], dtype=np.bytes_))
    assert Surroundings(table).same_tag.tolist() == expected
