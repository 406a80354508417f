"""The height of the tide for one depth: off a gauge, or predicted where there is none."""

from datetime import UTC, datetime

import numpy as np

from registry.errors import InvalidRecordError
from registry.measure.depth import BudgetTerm
from registry.measure.tide import interpolate_height, predict_heights, utc_datetime64
from registry.records.gauge_readings import GaugeReadings
from registry.records.tide_height import TideHeight
from registry.records.tide_station import TideStation

__all__ = ["OBSERVED_U95_M", "WEATHER_U95_M", "observed_tide", "predicted_tide", "weather_term"]

#: Doubt of a gauge's reading where none is stated. Common practice, no source. Units: m.
OBSERVED_U95_M = 0.05
#: What weather does to a prediction where the station states nothing. Common practice, no source. Units: m.
WEATHER_U95_M = 0.30


def observed_tide(
    readings: GaugeReadings, at: datetime, datum: str, *, away_u95_m: float = 0.0
) -> TideHeight:
    """
    Read the tide off a gauge.

    Parameters
    ----------
    readings : GaugeReadings
        Above the datum that is wanted.
    at : datetime
        With its zone.
    datum : str
        That the depth is to be charted below.
    away_u95_m : float
        What may differ between the gauge and the site, at 95 %. Units: m.

    Raises
    ------
    InvalidRecordError
        If the readings count from another datum.
    TimeTextError
        If the instant has no zone, lies outside the readings or in a gap of more than an hour.
    """
    if readings.datum != datum:
        what = (
            f"The gauge {readings.source!r} reads above {readings.datum}, the depth is wanted below {datum}."
        )
        raise InvalidRecordError(what, remedy=f"Fetch the readings above {datum}.")
    found = interpolate_height(readings.times, readings.heights_m, at)
    own_u95_m = readings.u95_m or OBSERVED_U95_M
    note = "" if readings.u95_m else ", usual"
    terms = [
        BudgetTerm(source=f"tide gauge{note}", u95_m=own_u95_m),
        BudgetTerm(source="tide between readings", u95_m=found.u95_m),
    ]
    return TideHeight(
        kind="observed",
        at=at.astimezone(UTC),
        height_m=found.height_m,
        datum=datum,
        source=readings.source,
        terms=_with_distance(terms, away_u95_m),
    )


def predicted_tide(station: TideStation, at: datetime, datum: str, *, away_u95_m: float = 0.0) -> TideHeight:
    """
    Predict the tide.

    Parameters
    ----------
    station : TideStation
        Whose constants are used.
    at : datetime
        With its zone.
    datum : str
        One of the station's.
    away_u95_m : float
        What may differ between the station and the site, at 95 %. Units: m.

    Raises
    ------
    NotFoundError
        If the station does not know the datum.
    TimeTextError
        If the instant has no zone.

    Notes
    -----
    A prediction is never surer than a gauge: the doubt of a usual gauge stands in it beside the weather's.
    """
    times = np.array([utc_datetime64(at)])
    height_m = float(predict_heights(times, station.constants, station.z0_m(datum))[0])
    terms = [
        weather_term(station),
        BudgetTerm(source="tidal constants", u95_m=OBSERVED_U95_M),
    ]
    return TideHeight(
        kind="predicted",
        at=at.astimezone(UTC),
        height_m=height_m,
        datum=datum,
        source=f"{station.name}, {len(station.constants)} constituents, node factors by Schureman",
        terms=_with_distance(terms, away_u95_m),
    )


def weather_term(station: TideStation) -> BudgetTerm:
    """Give what wind and air pressure may do to a prediction, and who says so."""
    if station.weather_u95_m is None:
        return BudgetTerm(
            source="weather left out of the prediction, usual (common practice, no source)",
            u95_m=WEATHER_U95_M,
        )
    by = f" ({station.weather_source})" if station.weather_source else " (as the station's file states)"
    return BudgetTerm(source=f"weather left out of the prediction{by}", u95_m=station.weather_u95_m)


def _with_distance(terms: list[BudgetTerm], away_u95_m: float) -> tuple[BudgetTerm, ...]:
    if away_u95_m:
        terms.append(BudgetTerm(source="tide at the site other than at the gauge", u95_m=away_u95_m))
    return tuple(terms)
