"""A tide station and a gauge of nowhere, for tests."""

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from registry.measure.tide import HarmonicConstant, predict_heights
from registry.records.gauge_readings import GaugeReadings
from registry.records.tide_station import TideStation

STATION_FILE = """
[station]
name = "Gannet Pier"
position = "34 01.250 N 077 20.110 W"
source = "invented"
length_unit = "m"
phases = "greenwich"
nodal = "schureman"
chart_datum = "MLLW"
datum_epoch = "1983-2001"

[datums]
MSL = 1.02
MLLW = 0.30
LAT = 0.10

[constituents]
M2 = { amplitude = 0.61, phase_deg = 9.0 }
S2 = { amplitude = 0.11, phase_deg = 32.0 }
K1 = { amplitude = 0.09, phase_deg = 190.0 }
"""


def a_station(**changes: Any) -> TideStation:
    """Give a station with sane values, changed as told."""
    values: dict[str, Any] = {
        "name": "Gannet Pier",
        "position": "34 01.250 N 077 20.110 W",
        "source": "invented",
        "chart_datum": "MLLW",
        "datum_epoch": "1983-2001",
        "datums": {"MSL": 1.02, "MLLW": 0.30, "LAT": 0.10},
        "constants": (
            HarmonicConstant(name="M2", amplitude_m=0.61, phase_deg=9.0),
            HarmonicConstant(name="S2", amplitude_m=0.11, phase_deg=32.0),
            HarmonicConstant(name="K1", amplitude_m=0.09, phase_deg=190.0),
        ),
    }
    return TideStation(**values | changes)


def some_readings(step_min: int = 6, surge_m: float = 0.2, **changes: Any) -> GaugeReadings:
    """Give a day of readings that stand higher than predicted, for the wind."""
    start = datetime(2026, 6, 14, tzinfo=UTC)
    times = np.array(
        [
            (start + timedelta(minutes=minute)).replace(tzinfo=None)
            for minute in range(0, 24 * 60 + 1, step_min)
        ],
        dtype="datetime64[us]",
    )
    station = a_station()
    heights = predict_heights(times, station.constants, station.z0_m("MLLW")) + surge_m
    values: dict[str, Any] = {
        "source": "Gannet Pier gauge",
        "datum": "MLLW",
        "times": times,
        "heights_m": heights,
    }
    return GaugeReadings(**values | changes)
