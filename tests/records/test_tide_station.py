"""What no tide station, gauge or tide may be."""

import numpy as np
import pytest

from registry.errors import InvalidRecordError, NotFoundError
from registry.measure.depth import BudgetTerm
from registry.measure.tide import HarmonicConstant
from registry.records.tide_height import TideHeight
from tests.tide_builders import a_station, some_readings

M2 = HarmonicConstant(name="M2", amplitude_m=0.61, phase_deg=9.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"name": " "}, "no name"),
        ({"nodal": "foreman"}, "may not be mixed"),
        ({"datums": {"MLLW": 0.3}}, "how high MSL lies"),
        ({"chart_datum": "MLW"}, "how high MLW lies"),
        ({"datums": {"MSL": float("inf"), "MLLW": 0.3}}, "no height"),
        ({"constants": ()}, "no constituents"),
        ({"constants": (M2, M2)}, "M2 twice"),
        ({"weather_u95_m": 0.0}, "no prediction knows the wind"),
    ],
)
def test_a_station_that_cannot_be_predicted_from_is_refused(changes, words):
    with pytest.raises(InvalidRecordError, match=words):
        a_station(**changes)


def test_mean_sea_level_above_each_datum():
    station = a_station()
    assert [round(station.z0_m(name), 2) for name in ("MLLW", "LAT", "MSL")] == [0.72, 0.92, 0.0]
    with pytest.raises(NotFoundError, match="Use one of MSL, MLLW, LAT"):
        station.z0_m("NAVD88")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"heights_m": np.zeros(3)}, "3 heights"),
        ({"times": np.array([], "M8[us]"), "heights_m": np.array([])}, "0 times"),
        ({"heights_m": np.full(241, -99.9)}, "no tide reaches"),
        ({"heights_m": np.full(241, np.nan)}, "no tide reaches"),
        ({"times": np.full(241, np.datetime64("2026-06-14T00:00"))}, "not in order"),
        ({"u95_m": 0.0}, "more than zero"),
    ],
)
def test_what_are_no_readings_is_refused(changes, words):
    with pytest.raises(InvalidRecordError, match=words):
        some_readings(**changes)


def test_readings_cannot_be_changed_afterwards():
    with pytest.raises(ValueError, match="read-only"):
        some_readings().heights_m[0] = 5.0


def test_no_tide_claims_to_be_exact():
    with pytest.raises(InvalidRecordError, match="claims to be exact"):
        TideHeight(kind="stated", at=None, height_m=0.6, datum="MLLW", source="x", terms=())


@pytest.mark.parametrize("kind", ["observed", "predicted"])
def test_an_observed_or_predicted_tide_has_its_instant(kind):
    term = BudgetTerm(source="gauge", u95_m=0.05)
    with pytest.raises(InvalidRecordError, match="has no instant"):
        TideHeight(kind=kind, at=None, height_m=0.6, datum="MLLW", source="x", terms=(term,))
