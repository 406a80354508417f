"""What no reading of a depth may be."""

from typing import Any

import pytest

from registry.errors import InvalidRecordError
from registry.records.depth_reading import (
    ChartSounding,
    EchoSounding,
    GaugeReading,
    LeadLineSounding,
    PressureReading,
    SoundCast,
    SpeedOfSound,
    WaterSample,
)
from registry.records.quantity import Quantity

DEPTH = Quantity(value=20.0, dimension="length", written="20.0 m", resolution=0.1)
SOUND = SpeedOfSound(speed_mps=1536.0, u95_mps=2.0, method="bar check")
ECHO: dict[str, Any] = {
    "depth": DEPTH,
    "counts_from": "transducer",
    "set_speed_mps": 1500.0,
    "set_draft_m": 0.0,
    "draft_m": 0.5,
    "sound": SOUND,
}


@pytest.mark.parametrize(
    ("kind", "values", "words"),
    [
        (EchoSounding, ECHO | {"counts_from": "keel"}, "transducer or waterline"),
        (EchoSounding, ECHO | {"draft_m": float("nan")}, "finite"),
        (EchoSounding, ECHO | {"waves_u95_m": -0.1}, "zero or more"),
        (EchoSounding, ECHO | {"depth": Quantity(value=20.0, dimension="mass", written="20 kg")}, "20 kg"),
        (GaugeReading, {"depth": DEPTH, "setting": "salt"}, "msw, fsw, fresh, EN 13319"),
        (GaugeReading, {"depth": DEPTH, "setting": "msw", "density_kgpm3": 1025.0}, "needs its uncertainty"),
        (LeadLineSounding, {"depth": Quantity(value=-2.0, dimension="length", written="-2 m")}, "-2 m"),
        (PressureReading, {"pressure_dbar": 0.0, "air_dbar": 0.0}, "more than zero"),
        (PressureReading, {"pressure_dbar": 30.0, "air_dbar": 1013.25}, "near 10.13"),
        (ChartSounding, {"depth": DEPTH, "datum": "MLLW"}, "neither"),
        (ChartSounding, {"depth": DEPTH, "datum": " ", "u95_m": 1.0}, "no datum"),
        (ChartSounding, {"depth": DEPTH, "datum": "MLLW", "zone_of_confidence": "D"}, "state an uncertainty"),
        (WaterSample, {"temperature_c": 20.0, "salinity": 35.0, "equation": "Wilson"}, "Use one of"),
        (SpeedOfSound, {"speed_mps": 1536.0, "u95_mps": 0.0, "method": "x"}, "more than zero"),
        (SoundCast, {"depths_m": (0.0, 5.0, 3.0), "speeds_mps": (1500.0,) * 3, "equation": "measured", "source": "c"}, "way up"),
        (SoundCast, {"depths_m": (), "speeds_mps": (), "equation": "measured", "source": "c"}, "at least one"),
        (SoundCast, {"depths_m": (0.0,), "speeds_mps": (1500.0,), "equation": "guess", "source": "c"}, "Use one of"),
    ],
)  # fmt: skip
def test_refused(kind, values, words):
    with pytest.raises(InvalidRecordError, match=words):
        kind(**values)
