"""Units as people write them."""

import pytest

from registry.errors import QuantityError
from registry.measure.units import (
    AMBIGUOUS_UNITS,
    LENGTH_UNITS,
    LENGTHS,
    MASS_UNITS,
    MASSES,
    kilograms_per,
    metres_per,
)


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        ("ft", 0.3048),
        ("FEET", 0.3048),
        ("Foot", 0.3048),
        ("us survey ft", 1200 / 3937),
        ("ftUS", 1200 / 3937),
        ("US Survey  feet".lower(), 1200 / 3937),
        ("fm", 1.8288),
        ("Fathoms", 1.8288),
        ("nmi", 1852.0),
        ("NM", 1852.0),
        ("cables", 185.2),
        ("yd", 0.9144),
        ("in", 0.0254),
        ("cm", 0.01),
        ("m", 1.0),
        ("km", 1000.0),
    ],
)
def test_lengths(written, metres):
    assert metres_per(written) == metres


@pytest.mark.parametrize(
    ("written", "kilograms"),
    [
        ("lbs", 0.45359237),
        ("t", 1000.0),
        ("tonnes", 1000.0),
        ("short tons", 907.18474),
        ("long ton", 1016.0469088),
        ("g", 0.001),
        ("KG", 1.0),
    ],
)
def test_masses(written, kilograms):
    assert kilograms_per(written) == pytest.approx(kilograms, rel=1e-15)


def test_no_ambiguous_spelling_is_accepted():
    accepted = {**LENGTH_UNITS, **MASS_UNITS}
    assert not set(accepted) & set(AMBIGUOUS_UNITS)
    assert all(len(meanings) > 1 for meanings in AMBIGUOUS_UNITS.values())
    assert not set(LENGTH_UNITS) & set(MASS_UNITS)


@pytest.mark.parametrize("written", ["nm", "M", "miles", "'", "′"])
def test_an_ambiguous_length_names_what_it_could_mean(written):
    with pytest.raises(QuantityError, match=r"ambiguous: .+ or .+ Write one of: m, km,"):
        metres_per(written)


@pytest.mark.parametrize("written", ["ton", "tons"])
def test_a_bare_ton_is_asked_about(written):
    with pytest.raises(QuantityError, match="ambiguous: tonnes"):
        kilograms_per(written)


@pytest.mark.parametrize("written", ["", "furlong", "kg", "mM"])
def test_an_unknown_unit_says_what_to_write(written):
    with pytest.raises(QuantityError, match="is not known here"):
        metres_per(written)


def test_every_unit_has_its_source_and_its_symbol_is_accepted():
    for unit in (*LENGTHS, *MASSES):
        assert unit.source
        assert {**LENGTH_UNITS, **MASS_UNITS}[unit.symbol] == unit.si
