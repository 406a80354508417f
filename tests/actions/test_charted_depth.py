"""From a depth as typed to a depth below chart datum."""

import math

import pytest

from registry.actions.charted_depth import charted_depth
from registry.errors import QuantityError
from registry.formats.written_quantity import read_length


def depth(text, **beside):
    return charted_depth(
        read_length(text), **{name: read_length(value) for name, value in beside.items()}, datum="MLLW"
    )


def test_the_tide_is_taken_off():
    found = depth("21.00 m", tide="0.64 m", u95="0.40 m")
    assert found.depth_m == pytest.approx(20.36)
    assert "Tide of 0.64 m above MLLW taken off 21.00 m." in found.basis


def test_a_tide_below_datum_adds_water():
    assert depth("21.00 m", tide="-0.30 m").depth_m == pytest.approx(21.30)


def test_feet_and_fathoms_are_converted_exactly():
    # International foot 0.3048 m, fathom 6 ft = 1.8288 m (NIST SP 811, appendix B.8).
    assert depth("60 ft", tide="2 ft").depth_m == pytest.approx(58 * 0.3048)
    assert depth("10 fm").depth_m == pytest.approx(18.288)


def test_a_tide_left_out_is_said():
    assert "No tide was stated: 60 ft is taken as depth below MLLW." in depth("60 ft").basis


def test_an_unstated_accuracy_is_that_of_the_loosest_survey_order():
    # IHO S-44 edition 6.1.0, table 1, order 2 at 20 m: 1.1007 m.
    found = depth("20.000 m")
    assert found.u95_m == pytest.approx(1.1007, abs=1e-4)
    assert any("S-44 order 2" in sentence for sentence in found.basis)


def test_the_digits_written_widen_the_doubt():
    # A whole foot leaves half a foot either way: 95 % of a uniform error lie within 0.475 of the unit.
    found = depth("60 ft", u95="0.1 m", tide="1 ft")
    assert found.u95_m == pytest.approx(math.hypot(0.1, 0.475 * 0.3048, 0.475 * 0.3048))


@pytest.mark.parametrize(
    ("text", "beside"),
    [
        ("0 m", {}),
        ("-20 m", {}),
        ("12000 m", {}),
        ("20 m", {"tide": "12 m"}),
        ("1.0 m", {"tide": "1.5 m"}),
        ("20 m", {"u95": "-0.5 m"}),
    ],
)
def test_what_is_no_depth_is_refused(text, beside):
    with pytest.raises(QuantityError) as refusal:
        depth(text, **beside)
    assert refusal.value.remedy


def test_no_depth_is_known_exactly():
    with pytest.raises(QuantityError, match="known exactly") as caught:
        charted_depth(read_length("18 m"), u95=read_length("0 m"), datum="MLLW")
    assert "leave it out" in caught.value.remedy
