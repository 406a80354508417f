"""The corners of a permit area as the permit writes them, and in another frame."""

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from registry.errors import LeadlineError
from registry.measure.datum import resolve, transform
from registry.measure.digits import Notation as Parts
from registry.measure.digits import unit_m
from registry.records.permit import Area
from registry.records.written_position import WrittenPosition

__all__ = ["AreaOutline", "OutlineCorner", "ReadPosition", "outline_of"]

ReadPosition = Callable[[str], WrittenPosition]

#: What a corner out of a drawing is taken to be good for, when it comes to digits. Units: m.
_DRAWN_M = 0.02
_CIRCLE = re.compile(r"radius (?P<radius>.+?) around (?P<centre>.+)", re.DOTALL)
_HOLE = "; without "


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineCorner:
    """One corner, or the centre of a circle, in the frame asked for."""

    ring: str
    number: int
    #: Verbatim; empty for a drawing.
    written: str
    lat_deg: float
    lon_deg: float
    #: Size on the ground of the last digit that the permit writes. Units: m.
    resolution_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaOutline:
    """An area by its corners, in the frame asked for."""

    corners: tuple[OutlineCorner, ...]
    #: Of a circle, as written.
    radius: str
    #: The file that stands for the corners.
    source: str
    operation: str
    #: What the operation may add. Units: m.
    accuracy_m: float


def outline_of(
    area: Area, *, home: str, target: str, epoch: float | None, read_position: ReadPosition
) -> AreaOutline:
    """
    Give the corners of an area.

    Parameters
    ----------
    area : Area
        As it is recorded.
    home : str
        The registry's home frame, in which its shape is kept.
    target : str
        The geographic frame asked for.
    epoch : float, optional
        Of the coordinates in a moving frame. Units: decimal year.
    read_position : callable
        Reads a corner as written.

    Returns
    -------
    AreaOutline
        Corners that the permit writes come from its own words, never by way of the home frame, so that in
        its own frame each is digit by digit what it says. Those of a drawing come from the recorded shape.
    """
    rings, radius = _written_rings(area, read_position)
    if rings:
        source = area.frame
        when = area.epoch if resolve(source).dynamic else epoch
        drawn = ""
    else:
        rings, source, when, drawn = list(_shape_rings(area)), home, epoch, area.written
    lon, lat = (np.array([corner[axis] for _, ring in rings for corner in ring]) for axis in (1, 2))
    moved = transform(lon, lat, source=source, target=target, epoch=when, anywhere=True)
    places = iter(
        zip(np.atleast_1d(moved.lon_deg).tolist(), np.atleast_1d(moved.lat_deg).tolist(), strict=True)
    )
    corners = []
    for name, ring in rings:
        for number, (written, _, _, resolution_m) in enumerate(ring, start=1):
            lon_deg, lat_deg = next(places)
            corners.append(
                OutlineCorner(
                    ring=name,
                    number=number,
                    written=written,
                    lat_deg=lat_deg,
                    lon_deg=(lon_deg + 180.0) % 360.0 - 180.0,
                    resolution_m=resolution_m,
                )
            )
    return AreaOutline(
        corners=tuple(corners),
        radius=radius,
        source=drawn,
        operation=moved.operation,
        accuracy_m=moved.accuracy_m,
    )


#: Text, longitude, latitude and resolution.
_Ring = tuple[str, list[tuple[str, float, float, float]]]


def _written_rings(area: Area, read_position: ReadPosition) -> tuple[list[_Ring], str]:
    """Read the corners out of the permit's words; nothing where they name a file."""
    circle = _CIRCLE.fullmatch(area.written)
    radius = circle["radius"] if circle else ""
    groups = [[circle["centre"]]] if circle else [part.split("; ") for part in area.written.split(_HOLE)]
    names = ["centre"] if circle else ["outline", *(f"hole {n}" for n in range(1, len(groups)))]
    try:
        rings = [
            (name, [(text, *_place(read_position(text))) for text in group])
            for name, group in zip(names, groups, strict=True)
        ]
    except LeadlineError:
        return [], ""
    # One position alone is a circle's centre or the name of a file that happens to look like one.
    return ([], "") if not circle and any(len(ring) < 3 for _, ring in rings) else (rings, radius)


def _place(written: WrittenPosition) -> tuple[float, float, float]:
    coarsest_deg = max(written.resolution_lat_deg, written.resolution_lon_deg)
    return written.lon_deg, written.lat_deg, unit_m(Parts.DEGREES, 0) * coarsest_deg


def _shape_rings(area: Area) -> Iterator[_Ring]:
    """Take the rings of a recorded shape, without the corner that closes each."""
    parts = shapely.get_parts(area.shape).tolist()
    for number, part in enumerate(parts, start=1):
        of_part = f"part {number}, " if len(parts) > 1 else ""
        yield f"{of_part}outline", _drawn(part.exterior)
        for hole, ring in enumerate(part.interiors, start=1):
            yield f"{of_part}hole {hole}", _drawn(ring)


def _drawn(ring: shapely.LinearRing) -> list[tuple[str, float, float, float]]:
    return [("", x, y, _DRAWN_M) for x, y in shapely.get_coordinates(ring)[:-1].tolist()]
