"""How a permit wants positions to be told: frame, epoch, notation, and what the numbers are called."""

from datetime import datetime
from typing import Protocol

from registry.measure.datum import ResolvedFrame, decimal_year, resolve
from registry.records.permit import Notation, Permit

__all__ = ["ReportingForm", "WritePosition"]

_NOTATIONS = {
    "dd": "decimal degrees",
    "ddm": "degrees and decimal minutes",
    "dms": "degrees, minutes and seconds",
}


class WritePosition(Protocol):
    """Writes latitude and longitude, or northing and easting on a grid."""

    def __call__(
        self, lat_deg: float, lon_deg: float, *, frame: ResolvedFrame, notation: Notation, r95_m: float
    ) -> tuple[str, str]:
        """Write them with the digits that the radius supports."""
        ...


class ReportingForm:
    """
    The frame, epoch and notation in which a permit wants to be told.

    Parameters
    ----------
    permit : Permit
        With its table of reporting.
    now : datetime
        Gives the epoch where the frame moves and the permit states none.
    write : WritePosition
        Writes a position.
    """

    def __init__(self, permit: Permit, now: datetime, write: WritePosition) -> None:
        asked, first = permit.reporting, permit.areas[0]
        self.frame = resolve(asked.frame or first.frame)
        self.notation = asked.notation
        self._write = write
        # In a moving frame, areas and modules compare only at one epoch: the permit's, where it has one.
        own = first.epoch if resolve(first.frame).base == self.frame.base else None
        #: Epoch at which an operation to a moving frame runs. Units: decimal year.
        self.moving_epoch = own if own is not None else round(decimal_year(now), 2)
        #: Epoch of the coordinates.
        self.epoch = self.moving_epoch if self.frame.dynamic else self.frame.epoch

    @property
    def names(self) -> tuple[str, str]:
        """What the two numbers of a position are called."""
        if not self.frame.projected:
            return "latitude", "longitude"
        return f"northing ({self.frame.axis_unit})", f"easting ({self.frame.axis_unit})"

    @property
    def words(self) -> str:
        """Name frame, epoch and notation."""
        epoch = f", epoch {self.epoch:g}" if self.epoch is not None else ""
        written = (
            f"northing and easting in {self.frame.axis_unit}"
            if self.frame.projected
            else _NOTATIONS[self.notation]
        )
        return f"{self.frame.name} ({self.frame.code}{epoch}), {written}"

    def text(self, lat_deg: float, lon_deg: float, r95_m: float) -> tuple[str, str]:
        """Write a position."""
        return self._write(
            lat_deg, lon_deg, frame=self.frame, notation=self.notation, r95_m=max(r95_m, 0.001)
        )
