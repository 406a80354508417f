"""Heights of the water that a gauge observed."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from registry.errors import InvalidRecordError

__all__ = ["GaugeReadings"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GaugeReadings:
    """A run of readings above one datum."""

    #: Name of the gauge or of its file.
    source: str
    datum: str
    #: In UTC, strictly increasing. ``datetime64[us]``.
    times: NDArray[np.datetime64]
    #: Same length. Units: m.
    heights_m: NDArray[np.float64]
    #: Doubt of one reading at 95 %; None where not stated. Units: m.
    u95_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse readings that are out of order or no heights."""
        times = np.array(self.times, dtype="datetime64[us]")
        heights = np.array(self.heights_m, dtype=float)
        if times.ndim != 1 or times.shape != heights.shape or times.size == 0:
            what = f"The gauge {self.source!r} has {times.size} times and {heights.size} heights."
            raise InvalidRecordError(what, remedy="Give one height for each time, and at least one.")
        if (np.diff(times) <= np.timedelta64(0, "us")).any():
            what = f"The readings of the gauge {self.source!r} are not in order of time."
            raise InvalidRecordError(what, remedy="Sort them, and keep one reading for each instant.")
        if not (np.isfinite(heights) & (np.abs(heights) <= 20.0)).all():
            what = f"The gauge {self.source!r} has a height that no tide reaches."
            raise InvalidRecordError(what, remedy="Check the unit and the marks for missing readings.")
        if self.u95_m is not None and not (math.isfinite(self.u95_m) and self.u95_m > 0):
            what = f"The gauge {self.source!r} states an uncertainty of {self.u95_m} m."
            raise InvalidRecordError(what, remedy="Give more than zero, at 95 %.")
        times.flags.writeable = heights.flags.writeable = False
        object.__setattr__(self, "times", times)
        object.__setattr__(self, "heights_m", heights)

    @property
    def span(self) -> tuple[datetime, datetime]:
        """First and last instant, in UTC."""
        first, last = (time.astype("datetime64[us]").item() for time in (self.times[0], self.times[-1]))
        return first.replace(tzinfo=UTC), last.replace(tzinfo=UTC)
