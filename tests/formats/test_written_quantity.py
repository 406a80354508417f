"""Lengths and masses as people write them."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import QuantityError
from registry.formats.written_quantity import read_density, read_length, read_mass, read_time

# Factors: international yard and pound of 1959; US survey foot 1200/3937 m; nautical mile 1852 m.
LENGTHS = [
    ("50 ft", Fraction(50) * Fraction("0.3048"), 0.3048),
    ("20.5 ft", Fraction("20.5") * Fraction("0.3048"), 0.03048),
    ("62' 6\"", Fraction("62.5") * Fraction("0.3048"), 0.0254),
    ("62′ 6″", Fraction("62.5") * Fraction("0.3048"), 0.0254),
    ("62 ft 6.5 in", Fraction(62) * Fraction("0.3048") + Fraction("6.5") * Fraction("0.0254"), 0.00254),
    ("10 fm", Fraction(10) * Fraction("1.8288"), 1.8288),
    ("10 fm 3 ft", Fraction(10) * Fraction("1.8288") + 3 * Fraction("0.3048"), 0.3048),
    ("18,3 m", Fraction("18.3"), 0.1),
    ("18.3m", Fraction("18.3"), 0.1),
    ("0,350 m", Fraction("0.35"), 0.001),
    (".5 m", Fraction("0.5"), 0.1),
    ("−1.2 m", Fraction("-1.2"), 0.1),
    ("60 US survey feet", Fraction(60) * Fraction(1200, 3937), 1200 / 3937),
    ("3 nmi", Fraction(3 * 1852), 1852.0),
    ("60 FEET", Fraction(60) * Fraction("0.3048"), 0.3048),
]


@pytest.mark.parametrize(("text", "metres", "resolution"), LENGTHS, ids=[row[0] for row in LENGTHS])
def test_lengths(text, metres, resolution):
    quantity = read_length(text)
    assert quantity.value == pytest.approx(float(metres), rel=1e-14)
    assert quantity.resolution == pytest.approx(resolution, rel=1e-12)
    assert (quantity.dimension, quantity.written) == ("length", text)


def test_masses():
    assert read_mass("2.3 t").value == 2300.0
    assert read_mass("4500 lb").value == pytest.approx(4500 * 0.45359237, rel=1e-14)
    assert read_mass("1.2 short tons").value == pytest.approx(1.2 * 907.18474, rel=1e-14)


def test_times_and_densities():
    assert [read_time(text).value for text in ("12 s", "12.5 sec", "2 min")] == [12.0, 12.5, 120.0]
    assert read_time("12.5 s").resolution == pytest.approx(0.1)
    for text in ("1025 kg/m3", "1.025 g/cm³", "1.025 t/m^3"):
        assert read_density(text).value == pytest.approx(1025.0, rel=1e-14)
    # 64 lb/ft3 is how the US Navy Diving Manual counts sea water (from memory).
    assert read_density("64 lb/ft3").value == pytest.approx(1025.18, abs=0.005)
    assert (read_time("8 s").dimension, read_density("1025 kg/m3").dimension) == ("time", "density")


@pytest.mark.parametrize(
    ("read", "text", "told"),
    [
        (read_time, "12", "12 s"),
        (read_time, "12 m", "is a length"),
        (read_time, "12 h", "not known. Use one of s, min"),
        (read_density, "1025", "1025 kg/m3"),
        (read_density, "1025 kg", "is a mass"),
        (read_length, "12 s", "is a time"),
    ],
)
def test_one_dimension_is_not_taken_for_another(read, text, told):
    with pytest.raises(QuantityError, match=told):
        read(text)


# Text, and a word of the fault or the remedy that must be told.
REFUSED = [
    ("60", "60 ft"),
    ("", "empty"),
    ("5 nm", "nanometres"),
    ("62'", "minutes of arc"),
    ("5 parsecs", "parsecs"),
    ("2.3 t", "mass"),
    ("1,200 ft", "thousands"),
    ("1e3 m", "exponent"),
    ("1E3 ft", "exponent"),
    ("nan m", "finite"),
    ("inf ft", "finite"),
    ("6 nan", "finite"),
    ("60-62 ft", "range"),
    ("60 ± 2 ft", "range"),
    ("5' 13\"", "under 12"),
    ("12 m 5 cm", "together"),
    ("6 1/2 ft", "number"),
    ("½ ft", "number"),
    ("~60 ft", "number"),
    ("18.3 m MLLW", "MLLW"),
    ("1.234.567 m", "unit"),
    ("9" * 100 + " m", "long"),
]


@pytest.mark.parametrize(("text", "told"), REFUSED, ids=[row[0][:20] or "empty" for row in REFUSED])
def test_what_cannot_be_a_length_is_refused_with_its_fault(text, told):
    with pytest.raises(QuantityError, match=told) as caught:
        read_length(text)
    assert caught.value.remedy


def test_ambiguous_tons_are_refused_with_what_they_could_mean():
    with pytest.raises(QuantityError, match=r"tonnes.*short tons.*long tons"):
        read_mass("2 tons")


def test_a_declared_unit_serves_a_bare_number_only():
    assert read_length("60", unit="ft").value == pytest.approx(18.288)
    assert read_length("60 m", unit="ft").value == 60.0
    with pytest.raises(QuantityError, match="not known"):
        read_length("60", unit="cubits")


@given(st.integers(0, 10**6), st.integers(0, 6), st.sampled_from(["m", "ft", "fm", "yd"]))
def test_digits_survive(units, decimals, unit):
    number = f"{units / 10**decimals:.{decimals}f}"
    quantity = read_length(f"{number} {unit}")
    factor = read_length(f"1 {unit}").value
    assert f"{quantity.value / factor:.{decimals}f}" == number
    assert quantity.resolution == pytest.approx(factor / 10**decimals)


@given(
    st.one_of(
        st.text(max_size=100),
        st.from_regex(r"[0-9.,'\"+-]{1,8} ?(ft|m|in|fm|t|e5|nan)?( ?[0-9]+ ?(in|ft|\"))?", fullmatch=True),
    )
)
@settings(max_examples=300)
def test_no_text_raises_anything_else(text):
    for read in (read_length, read_mass, read_time, read_density):
        try:
            quantity = read(text)
        except QuantityError:
            continue
        assert math.isfinite(quantity.value)
        assert quantity.resolution > 0
