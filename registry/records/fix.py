"""Fixes of an antenna as columns, one row each, and the account of the log that they were read from."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.errors import InvalidRecordError

__all__ = ["FORBIDDEN_QUALITIES", "QUALITIES", "EventMark", "FixTable", "LogAccount"]

#: What the quality of a fix says, by the code of a GGA sentence. Source: NMEA 0183 (read second-hand); 9 is
#: common practice of some receivers, no source.
QUALITIES: Mapping[int, str] = MappingProxyType(
    {
        0: "no fix",
        1: "satellites alone",
        2: "differential",
        3: "precise positioning service",
        4: "RTK fixed",
        5: "RTK float",
        6: "dead reckoning",
        7: "typed in by hand",
        8: "simulated",
        9: "satellite-based corrections",
    }
)
#: Qualities that are no measurement by satellites: they never enter a position.
FORBIDDEN_QUALITIES = frozenset((0, 6, 7, 8))


def _floats() -> NDArray[np.float64]:
    return np.empty(0)


def _integers() -> NDArray[np.int64]:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class FixTable:
    """
    Fixes as columns in the order of their instants.

    Every array has shape (n,). An unknown number is NaN, an unknown count is -1. Coordinates are in the frame
    that the receiver was set to, which no log tells.

    Examples
    --------
    >>> len(FixTable())
    0
    """

    #: Instant of the fix. Units: s since 1970-01-01T00:00Z.
    time_s: NDArray[np.float64] = field(default_factory=_floats)
    #: Units: degrees.
    lon_deg: NDArray[np.float64] = field(default_factory=_floats)
    lat_deg: NDArray[np.float64] = field(default_factory=_floats)
    #: Code of `QUALITIES`.
    quality: NDArray[np.int64] = field(default_factory=_integers)
    satellites: NDArray[np.int64] = field(default_factory=_integers)
    #: Horizontal dilution of precision. Dimensionless.
    hdop: NDArray[np.float64] = field(default_factory=_floats)
    #: Standard deviations that the receiver itself states. Units: m.
    sigma_east_m: NDArray[np.float64] = field(default_factory=_floats)
    sigma_north_m: NDArray[np.float64] = field(default_factory=_floats)
    #: True heading of the vessel at the fix. Units: degrees.
    heading_deg: NDArray[np.float64] = field(default_factory=_floats)
    #: Size of one unit of the last written digit of the coordinates. Units: minutes of arc.
    resolution_min: NDArray[np.float64] = field(default_factory=_floats)
    #: Which file, counted from 0, and the byte (unpacked) at which its sentence begins.
    file: NDArray[np.int64] = field(default_factory=_integers)
    offset: NDArray[np.int64] = field(default_factory=_integers)

    def __post_init__(self) -> None:
        """Refuse ragged columns."""
        lengths = {f.name: len(getattr(self, f.name)) for f in fields(self)}
        if len(set(lengths.values())) > 1:
            what = f"The columns of a table of fixes differ in length: {lengths}."
            raise InvalidRecordError(what, remedy="Give every column one value for each fix.")

    def __len__(self) -> int:
        """Give the number of fixes."""
        return len(self.time_s)

    def rows(self, which: NDArray[Any]) -> "FixTable":
        """Give the fixes that an index array or a mask chooses."""
        return FixTable(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    def between(self, start_s: float | None, end_s: float | None) -> "FixTable":
        """
        Give the fixes of a time window, both ends included.

        Examples
        --------
        >>> FixTable().between(None, 0.0).time_s.tolist()
        []
        """
        start = -np.inf if start_s is None else start_s
        end = np.inf if end_s is None else end_s
        return self.rows((self.time_s >= start) & (self.time_s <= end))


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """An instant that somebody marked on the receiver."""

    #: Units: s since 1970-01-01T00:00Z; NaN where the log never says the day.
    time_s: float
    tag: str
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogAccount:
    """
    What was found in a log, counted so that everything adds up.

    ``sentences`` is the sum of ``kinds``; the sum of ``by_quality`` is ``used`` and the sum of ``set_aside``.
    """

    #: Whole sentences with a correct checksum.
    sentences: int = 0
    bad_checksums: int = 0
    #: Beginnings of sentences without an end, or without a checksum.
    cut: int = 0
    #: Bytes outside whole sentences, line ends apart.
    garbage_bytes: int = 0
    #: Sentences by type.
    kinds: Mapping[str, int] = field(default_factory=dict)
    #: Sentences whose fields cannot be read, by what is wrong.
    unreadable: Mapping[str, int] = field(default_factory=dict)
    #: Sentences that tell a fix again that another one told.
    told_again: int = 0
    #: Fixes, one for each instant, by quality.
    by_quality: Mapping[int, int] = field(default_factory=dict)
    used: int = 0
    #: Fixes that do not enter, by why.
    set_aside: Mapping[str, int] = field(default_factory=dict)
    #: Sentences that came after one of a later instant.
    out_of_order: int = 0
    #: Leaps of the receiver's clock, one sentence each.
    leaps: tuple[str, ...] = ()
    #: What a person should know, one sentence each.
    notes: tuple[str, ...] = ()
