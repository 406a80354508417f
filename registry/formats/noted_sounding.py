"""A sounding put together from what was noted of an instrument and from what files of its day hold."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from registry.formats.written_depth import read_depth_reading
from registry.records.depth_reading import SoundCast
from registry.records.gauge_readings import GaugeReadings
from registry.records.quantity import Quantity
from registry.records.sounding import Sounding
from registry.records.tide_station import TideStation

__all__ = ["DepthFiles", "sounding_from"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthFiles:
    """What was read from files for depths, once for however many modules."""

    cast: SoundCast | None = None
    #: A gauge to read, or a station to predict by.
    tide: GaugeReadings | TideStation | None = None
    #: Name, digest and rows left out of each file, by what it holds.
    files: Mapping[str, Any]

    def of_kind(self, kind: str) -> "DepthFiles":
        """Give what one kind of depth has a use for: only a sounder a cast, and a chart no tide."""
        without = set() if kind == "echo" else {"cast"}
        if kind == "chart":
            without |= {"tide gauge", "tide station"}
        return DepthFiles(
            cast=self.cast if kind == "echo" else None,
            tide=None if kind == "chart" else self.tide,
            files={what: file for what, file in self.files.items() if what not in without},
        )

    @property
    def notes(self) -> list[str]:
        """What a person should know of the files."""
        return [
            f"{file['file']}: {file['rows_left_out']} rows are none of a {what} and were left out."
            for what, file in self.files.items()
            if file.get("rows_left_out")
        ]


def sounding_from(
    kind: str,
    said: Mapping[str, str],
    read: DepthFiles,
    *,
    depth: Quantity | None,
    u95: Quantity | None,
    tide: Quantity | None,
    tide_u95: Quantity | None,
    at: datetime,
) -> Sounding:
    """
    Put a sounding together from what was noted and from what the files hold.

    Parameters
    ----------
    kind : str
        A key of `written_depth.DEPTH_KINDS`.
    said : mapping of str to str
        What was noted of the instrument, by the names of `written_depth.DEPTH_KINDS`.
    read : DepthFiles
        A cast and a tide, where files hold them.
    depth, u95 : Quantity, optional
        As displayed, and the 95 % uncertainty of the instrument itself.
    tide, tide_u95 : Quantity, optional
        Height of the water above chart datum as stated, and its 95 % uncertainty.
    at : datetime
        When it was read.

    Raises
    ------
    QuantityError
        If something needed is missing or unreadable.
    InvalidRecordError
        If a tide is stated and a source of one is given too.
    """
    noted = dict(said) | ({"cast": read.files["cast"]["file"]} if read.cast is not None else {})
    reading = read_depth_reading(kind, noted, depth=depth, u95=u95, cast=read.cast)
    return Sounding(
        reading=reading,
        written=depth.written if depth is not None else said["pressure"],
        at=at,
        tide=tide,
        tide_u95=tide_u95,
        tide_source=read.tide,
        files=read.files,
    )
