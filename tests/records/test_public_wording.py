import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.records.public_wording import (
    coordinate_decimals,
    length_decimals,
    module_facts,
    module_name,
    rounded_depth,
    rounded_position,
    rounded_u95,
    short_facts,
    xml_text,
)
from tests.formats.public_sites import module, site


@pytest.mark.parametrize(
    ("r95_m", "decimals"),
    [
        (0.05, 7),
        (0.1, 7),
        (0.5, 6),
        (1, 6),
        (2, 6),
        (3, 6),
        (5, 5),
        (8, 5),
        (10, 5),
        (20, 5),
        (0, 7),
        (1e6, 0),
    ],
)
def test_digits_of_a_degree(r95_m, decimals):
    """The fewest decimals whose last digit is worth R95/3 or less at 111 320 m per degree (worked out)."""
    assert coordinate_decimals(r95_m) == decimals


@given(st.floats(0.04, 1000), st.floats(-90, 90), st.floats(-180, 179.99))
def test_rounding_stays_within_a_quarter_of_r95(r95_m, lat_deg, lon_deg):
    one = module(r95_m=r95_m, lat_deg=lat_deg, lon_deg=lon_deg)
    lon, lat = rounded_position(one)
    east = (abs(lon - lon_deg + 180) % 360 - 180) * 111_320
    assert math.hypot(east, (lat - lat_deg) * 111_320) <= 0.24 * r95_m
    assert -180 <= lon < 180


@given(st.floats(1e-4, 1e6))
def test_doubt_is_never_told_smaller_than_it_is(r95_m):
    told = rounded_u95(r95_m)
    assert r95_m * (1 - 1e-9) <= told <= r95_m * 1.1 * (1 + 1e-9)


def test_depth_has_the_digits_of_its_uncertainty():
    assert rounded_depth(module(charted_depth_m=18.2834, depth_u95_m=0.41)) == 18.28
    assert rounded_depth(module(charted_depth_m=18.2834, depth_u95_m=30.0)) == 18.0
    assert rounded_depth(module(charted_depth_m=None)) is None
    assert str(rounded_depth(module(charted_depth_m=-0.01, depth_u95_m=2.0))) == "0.0"
    assert length_decimals(0.02) == 3


def test_what_is_told_of_a_module():
    facts = " ".join(module_facts(module(name="Ada Quill"), site()))
    assert "In memory of Ada Quill." in facts
    assert "18.28 m ± 0.41 m (95 %) below MLLW" in facts
    assert "Position within 2.7 m (95 %), WGS 84 (G2296)" in facts
    assert "at or near permit area gannet-patch" in facts


def test_a_name_that_may_not_be_listed_is_nowhere():
    assert module_name(module()) == "MC-0001"
    assert "memory" not in " ".join(module_facts(module(), site()))


def test_short_facts_say_when_nobody_measured():
    assert short_facts(module(charted_depth_m=None), site()) == "depth unknown, position ± 2.7 m"


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x1b", "\ufffe", "\ud800"])
def test_characters_that_xml_forbids(character):
    assert xml_text(f"a{character}b\t金") == "a\ufffdb\t金"
