"""The predicted tide of one day: its curve and its high and low waters."""

import math
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from registry.actions.tide_at import OBSERVED_U95_M, weather_term
from registry.errors import TimeTextError
from registry.measure.tide import predict_heights, turning_points, utc_datetime64
from registry.records.tide_day import TideDay
from registry.records.tide_station import TideStation

__all__ = ["CURVE_STEP_MIN", "tide_day"]

CURVE_STEP_MIN = 10


def tide_day(station: TideStation, day: date, *, zone: str = "UTC", datum: str | None = None) -> TideDay:
    """
    Predict the tide of a day.

    Parameters
    ----------
    station : TideStation
        Whose constants are used.
    day : date
        From midnight to midnight of the zone: 23 or 25 hours where the clocks change.
    zone : str
        Name of an IANA zone.
    datum : str, optional
        One of the station's; its chart datum by default.

    Raises
    ------
    TimeTextError
        If there is no such zone.
    NotFoundError
        If the station does not know the datum.
    """
    try:
        clock = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        what = f"{zone!r} is no zone of the IANA database."
        raise TimeTextError(what, remedy="Write it as America/New_York, or UTC.") from error
    above = datum or station.chart_datum
    start = datetime(day.year, day.month, day.day, tzinfo=clock)
    following = day + timedelta(days=1)
    end = datetime(following.year, following.month, following.day, tzinfo=clock)
    step = np.timedelta64(CURVE_STEP_MIN, "m")
    first, last = utc_datetime64(start), utc_datetime64(end)
    times = np.arange(first, last + step, step)
    z0_m = station.z0_m(above)
    heights = predict_heights(times, station.constants, z0_m)
    weather = weather_term(station)
    utc = ZoneInfo("UTC")
    return TideDay(
        station=station.name,
        position=station.position,
        source=station.source,
        day=day,
        zone=zone,
        datum=above,
        datum_epoch=station.datum_epoch,
        times=tuple(time.item().replace(tzinfo=utc).astimezone(clock) for time in times),
        heights_m=tuple(float(height) for height in heights),
        turns=turning_points(start, end, station.constants, z0_m),
        u95_m=math.hypot(weather.u95_m, OBSERVED_U95_M),
        u95_basis=weather.source,
    )
