"""Tell where the plan wants a module in the frame that a plotter is set to, on a day."""

from datetime import datetime

from registry.actions.publish_site import WGS84
from registry.errors import FrameError
from registry.measure.datum import decimal_year, resolve, transform
from registry.records.position import Position
from registry.records.target import Target

__all__ = ["locate_target"]

#: A target is written as a position of this radius is, to some decimetres: no crane sets finer. Units: m.
_WRITTEN_M = 1.0


def locate_target(target: Target, *, home: str, frame: str, on: datetime) -> Position:
    """
    Give a target in another frame.

    Parameters
    ----------
    target : Target
        As it is kept.
    home : str
        The frame in which it is kept.
    frame : str
        Geographic; that of the plotter.
    on : datetime.datetime
        The day: frames that move against the seabed have other coordinates on other days.

    Returns
    -------
    Position
        Its radius is that of the operation and of the digits to be printed, not of any measurement.

    Raises
    ------
    FrameError
        If the frame cannot be used, or is a grid.
    MissingGridError
        If the operation needs a grid file that is absent.
    """
    found = resolve(frame)
    if found.projected:
        raise FrameError(f"{found.name} is a grid.", remedy="Choose the frame that the plotter shows.")
    wanted = WGS84 if found.code == "EPSG:4326" else found.code
    epoch = round(decimal_year(on), 4)
    moved = transform(target.lon_deg, target.lat_deg, source=home, target=wanted, epoch=epoch, anywhere=True)
    return Position(
        lat_deg=float(moved.lat_deg),
        lon_deg=(float(moved.lon_deg) + 180.0) % 360.0 - 180.0,
        frame=found.code,
        epoch=epoch if found.dynamic else found.epoch,
        r95_m=max(_WRITTEN_M, moved.accuracy_m),
    )
