"""Bring home what others drew: the frame stated once, every corner transformed, nothing guessed."""

from datetime import datetime

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from registry.errors import FrameError, GeometryError, PermitError
from registry.measure.datum import ResolvedFrame, Transformed, decimal_year, resolve, transform
from registry.records.programme import Programme

__all__ = ["NAME_FRAME", "bring_home", "no_epoch_stated", "refuse_unmeasurable", "stated_frame"]

#: What to do about a drawing without a frame that is named on the command line.
NAME_FRAME = "Name it with --frame CODE, as the survey or the chart names its datum."
_STATE_FRAME = 'Add frame = "EPSG:..." as the permit or the survey names its datum.'


def stated_frame(
    where: str, beside: str | None, inside: str | None, *, remedy: str = _STATE_FRAME
) -> ResolvedFrame:
    """
    Give the one frame that is stated beside or inside a source.

    Raises
    ------
    PermitError
        If no frame is stated, or two that differ.
    FrameError
        If it is unknown.
    """
    if beside is None and inside is None:
        what = f"{where} states no frame."
        raise PermitError(what, remedy=remedy)
    if beside is not None and inside is not None:
        a, b = resolve(beside), resolve(inside)
        if a.base != b.base:
            what = f"{where} states {a.base_name}, but its source says {b.base_name}."
            raise PermitError(what, remedy="Find out which is true and state that one.")
    named = resolve(beside if beside is not None else str(inside))
    return resolve(named.base) if named.projected else named


def bring_home(
    shape: BaseGeometry, frame: ResolvedFrame, epoch: float | None, start: datetime, programme: Programme
) -> tuple[BaseGeometry, float | None, str]:
    """
    Transform every corner of a shape into the home frame.

    Parameters
    ----------
    shape : shapely geometry
        Longitude, latitude in `frame`. Units: degrees.
    frame : ResolvedFrame
        Geographic.
    epoch : float, optional
        Of the coordinates, where it is stated. Units: decimal year.
    start : datetime
        Whose epoch is taken for a moving frame where none is stated.
    programme : Programme
        Whose home frame it is.

    Returns
    -------
    tuple
        The shape in the home frame, the epoch used, and the operation in words.

    Raises
    ------
    FrameError
        If no operation can be trusted, or it reaches outside the region of the home frame.
    MissingGridError
        If the operation needs a grid file that is absent.
    """
    taken = ""
    if frame.dynamic and epoch is None:
        epoch = round(decimal_year(start), 4)
        taken = no_epoch_stated(start)
    if not frame.dynamic and epoch is None:
        epoch = frame.epoch
    told: list[Transformed] = []

    def home(corners: np.ndarray) -> np.ndarray:
        moved = transform(
            corners[:, 0], corners[:, 1], source=frame.code, target=programme.frame, epoch=epoch
        )
        if moved.outside.any():
            what = f"It reaches outside the region of the home frame, {resolve(programme.frame).name}."
            raise FrameError(what, remedy="Check the signs and the frame; else another registry is needed.")
        told.append(moved)
        return np.column_stack([moved.lon_deg, moved.lat_deg])

    return shapely.transform(shape, home), epoch, told[0].operation + taken


def no_epoch_stated(at: datetime) -> str:
    """Say of which day the epoch was taken, to be put behind the words of an operation."""
    return f"; no epoch was stated: that of {at.date().isoformat()} is taken"


def refuse_unmeasurable(where: str, shape: BaseGeometry) -> None:
    """
    Refuse a shape that is empty or crosses itself: it would fail, or mislead, every later audit.

    Raises
    ------
    GeometryError
        With `where` at its head.
    """
    if shape.is_empty or not np.isfinite(shapely.get_coordinates(shape)).all():
        what = f"{where} is empty or holds a coordinate that is no number."
        raise GeometryError(what, remedy="Remove the feature from the source, or give it its shape.")
    for part in shapely.get_parts(shape):
        if not part.is_valid:
            what = f"{where} cannot be used: {shapely.is_valid_reason(part)} (longitude, latitude)."
            raise GeometryError(what, remedy="Mend the polygon in the source.")
