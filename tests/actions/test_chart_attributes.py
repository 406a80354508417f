"""What a chart office asks of a fish haven: a value where the record gives one, a reason where it does not."""

import math
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.actions.chart_attributes import Charted, chart_attributes
from registry.records.as_built import LeastClearance

KNOWN = Charted(
    area_id="gannet-patch",
    count=3,
    clearance=LeastClearance(value_m=17.829, u95_m=0.401, tag="MR-0002"),
    unmeasured=0,
    least_depth_m=19.02,
    greatest_height_m=1.2,
    chart_datum="MLLW",
    instrument="echo",
    last_placed=date(2026, 6, 9),
    corners_within_m=1.86,
)
UNKNOWN = replace(KNOWN, clearance=None, unmeasured=1)


def values(area):
    return {each.s57 or each.s101: each.value for each in chart_attributes(area)}


def reasons(area):
    return {each.s57 or each.s101: each.meaning for each in chart_attributes(area) if not each.value}


def test_all_that_is_known_is_told():
    assert values(KNOWN) == {
        "OBJL": "OBSTRN / Obstruction",
        "CATOBS": "5",
        "OBJNAM": "gannet-patch",
        "WATLEV": "3",
        "VALSOU": "17.8",
        "SOUACC": "0.5",
        "QUASOU": "8",
        "TECSOU": "1",
        "VERDAT": "12",
        "VERLEN": "1.2",
        "surroundingDepth": "19.0",
        "defaultClearanceDepth": "",
        "NATCON": "2",
        "NATSUR": "",
        "SORDAT": "20260609",
        "POSACC": "1.9",
        "QUAPOS": "",
    }


def test_every_blank_has_a_reason():
    for area in (
        KNOWN,
        UNKNOWN,
        replace(UNKNOWN, count=0, least_depth_m=math.nan, greatest_height_m=math.nan),
    ):
        assert all(len(reason) > 10 for reason in reasons(area).values())


def test_an_unknown_clearance_gives_no_sounding_and_says_that_the_depth_is_unknown():
    found = values(UNKNOWN)
    assert {found[name] for name in ("VALSOU", "SOUACC", "TECSOU", "WATLEV")} == {""}
    assert found["QUASOU"] == "2"
    assert found["surroundingDepth"] == "19.0"
    assert "1 of the 3" in reasons(UNKNOWN)["VALSOU"]


def test_a_top_that_may_dry_is_not_said_to_be_under_water():
    shallow = replace(KNOWN, clearance=LeastClearance(value_m=0.3, u95_m=0.4, tag="MR-0002"))
    assert values(shallow)["WATLEV"] == ""
    assert "MR-0002" in reasons(shallow)["WATLEV"]


def test_a_top_above_the_datum_has_a_negative_sounding():
    drying = replace(KNOWN, clearance=LeastClearance(value_m=-0.31, u95_m=0.4, tag="MR-0002"))
    assert values(drying)["VALSOU"] == "-0.4"


@pytest.mark.parametrize(
    ("instrument", "code"),
    [("echo", "1"), ("gauge", "4"), ("lead", "5"), ("pressure", ""), ("", ""), ("chart", "")],
)
def test_the_technique_is_that_of_the_instrument(instrument, code):
    assert values(replace(KNOWN, instrument=instrument))["TECSOU"] == code


@pytest.mark.parametrize(("datum", "code"), [("mllw", "12"), ("LAT", "23"), ("CD", ""), ("XYZ (a note)", "")])
def test_a_datum_that_the_standard_does_not_know_is_left_blank(datum, code):
    assert values(replace(KNOWN, chart_datum=datum))["VERDAT"] == code


@given(st.floats(-5, 60), st.floats(0, 9))
def test_rounding_is_never_toward_more_water(value, u95):
    found = values(
        replace(KNOWN, clearance=LeastClearance(value_m=value, u95_m=u95, tag="T"), least_depth_m=value)
    )
    assert float(found["VALSOU"]) <= value + 1e-6
    assert value - float(found["VALSOU"]) <= 0.1 + 1e-6
    assert float(found["SOUACC"]) >= u95 - 1e-6
    assert float(found["surroundingDepth"]) <= value + 1e-6


def test_a_value_on_the_decimetre_stays():
    found = values(replace(KNOWN, clearance=LeastClearance(value_m=19.02 - 1.22, u95_m=0.1 + 0.2, tag="T")))
    assert (found["VALSOU"], found["SOUACC"]) == ("17.8", "0.3")
