"""
Codes of IHO S-57 and S-101 for a fish haven.

OBSTRN is object class 86, and CATOBS 5 is "fish haven": public tables of the S-57 object catalogue. The values of
S-101 are those of its feature catalogue 2.0.0 (2024-10-16): Obstruction, categoryOfObstruction 5 "Fish Haven" and
14 "Artificial Reef", waterLevelEffect and surroundingDepth mandatory, 3 "always under water/submerged". From
memory, and to be checked against S-57 edition 3.1, appendix A, chapter 2: the codes of VERDAT, TECSOU, QUASOU and
NATCON; and the S-101 names of vertical uncertainty, quality, technique, datum and reported date.
"""

import pytest

from registry.actions.chart_attributes import chart_attributes
from registry.records.chart_codes import (
    ALWAYS_UNDER_WATER,
    ARTIFICIAL_REEF,
    CONCRETED,
    FISH_HAVEN,
    MANDATORY,
    QUALITY,
    TECHNIQUES,
    VERTICAL_DATUMS,
)
from tests.actions.test_chart_attributes import KNOWN


def test_the_categories():
    assert (FISH_HAVEN, ARTIFICIAL_REEF, ALWAYS_UNDER_WATER) == (5, 14, 3)
    # IHO S-57 edition 3.1, NATCON: 1 masonry, 2 concreted (from memory).
    assert CONCRETED == 2


def test_the_object_class_and_its_attributes():
    found = chart_attributes(KNOWN)
    first = found[0]
    assert (first.s57, first.s101, first.value) == ("OBJL", "feature", "OBSTRN / Obstruction")
    assert "86" in first.meaning
    # The attributes that NOAA and IHO S-57 name for an obstruction of this kind (public tables).
    assert {each.s57 for each in found} >= {
        "CATOBS", "VALSOU", "VERLEN", "WATLEV", "QUASOU", "SOUACC", "TECSOU", "VERDAT", "NATSUR",
    }  # fmt: skip
    assert {each.s101 for each in found} >= {
        "categoryOfObstruction", "waterLevelEffect", "surroundingDepth", "valueOfSounding", "verticalLength",
        "defaultClearanceDepth", "natureOfSurface",
    }  # fmt: skip
    # S-101 feature catalogue 2.0.0: multiplicity 1..1.
    assert (
        {each.s101 for each in found if each.mandatory}
        == MANDATORY
        == {"waterLevelEffect", "surroundingDepth"}
    )


@pytest.mark.parametrize(
    ("datum", "code"),
    # IHO S-57 edition 3.1, VERDAT (from memory).
    [("MLWS", 1), ("MSL", 3), ("LLW", 4), ("MLW", 5), ("ISLW", 8), ("MLLW", 12), ("MHW", 16), ("MHWS", 17),
     ("MHHW", 21), ("LAT", 23), ("IGLD85", 25), ("LLWLT", 27), ("HHWLT", 28), ("HAT", 30)],
)  # fmt: skip
def test_vertical_datums(datum, code):
    assert VERTICAL_DATUMS[datum][0] == code


def test_no_code_stands_for_two_datums():
    words = {
        code: {w for c, w in VERTICAL_DATUMS.values() if c == code} for code, _ in VERTICAL_DATUMS.values()
    }
    assert all(len(said) == 1 for said in words.values())


def test_techniques_and_qualities():
    """IHO S-57 edition 3.1, TECSOU 1 echo sounder, 4 diver, 5 lead line; QUASOU 2 and 8 (from memory)."""
    assert {name: code for name, (code, _) in TECHNIQUES.items()} == {"echo": 1, "gauge": 4, "lead": 5}
    assert QUALITY == {"depth unknown": 2, "value reported (not surveyed)": 8}
