"""Can these corners bound an area? If not, the sentence that says why."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, Polygon

from registry.measure.geodesic import SitePlane, centre_of, earth_centred

__all__ = ["ring_problem"]

Floats = NDArray[np.float64]


def ring_problem(coords: Sequence[Sequence[float]] | ArrayLike) -> str | None:
    """
    Say what is wrong with the corners of an area, or None.

    Parameters
    ----------
    coords : sequence of (longitude, latitude)
        Corners in order; the first may be repeated at the end. Units: degrees.

    Returns
    -------
    str or None
        One sentence for the person who wrote the corners, counting them from 1.

    Examples
    --------
    >>> ring_problem([(-77.0, 34.0), (-76.9, 34.0), (-76.9, 34.1), (-77.0, 34.1)])
    >>> ring_problem([(-77.0, 34.0), (-76.9, 34.1), (-76.9, 34.0), (-77.0, 34.1)])
    'The edge from corner 1 to 2 crosses the edge from corner 3 to 4 near latitude 34.05004, ...'
    """
    corners = np.asarray(coords, dtype=float)
    if corners.ndim != 2 or corners.shape[-1] < 2:
        return "The corners are not pairs of longitude and latitude."
    corners = corners[:, :2]
    bad = np.flatnonzero(~np.isfinite(corners).all(axis=1))
    if bad.size:
        return f"Corner {bad[0] + 1} is not a number."
    wild = np.flatnonzero((np.abs(corners[:, 1]) > 90.0) | (np.abs(corners[:, 0]) > 540.0))
    if wild.size:
        lon, lat = corners[wild[0]]
        return f"Corner {wild[0] + 1} is no place: latitude {lat:g}, longitude {lon:g}."
    return _crossing(corners)


def _crossing(corners: Floats) -> str | None:
    """Look for too few corners, for no area, and for edges that meet where they should not."""
    xyz = earth_centred(corners[:, 0], corners[:, 1])
    apart = np.linalg.norm(xyz - np.roll(xyz, -1, axis=0), axis=1) > 1e-3
    number = np.flatnonzero(apart) + 1
    ring = corners[apart]
    if len(np.unique(np.round(xyz[apart], 3), axis=0)) < 3:
        return f"An area needs at least three different corners; here are {len(ring)}."
    plane = SitePlane(*centre_of(ring[:, 0], ring[:, 1]))
    flat = np.column_stack(plane.to_plane(ring[:, 0], ring[:, 1]))
    outline = Polygon(flat)
    if outline.convex_hull.area < 1e-3 * outline.length:
        return "The corners lie on one line and enclose no area."
    if outline.is_valid:
        return None
    lines = [LineString(ends) for ends in zip(flat, np.roll(flat, -1, axis=0), strict=True)]
    first, second = shapely.STRtree(lines).query(np.array(lines), predicate="intersects")
    faults: list[tuple[int, int, int]] = []
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        overlap = lines[i].intersection(lines[j]).length > 0.0
        if i < j and (overlap or j - i not in (1, len(lines) - 1)):
            faults.append((0 if overlap else 1 if lines[i].crosses(lines[j]) else 2, i, j))
    if faults:
        kind, i, j = min(faults)
        place = lines[i].intersection(lines[j]).representative_point()
        lon, lat = plane.from_plane(place.x, place.y)
        a, b, c, d = (number[k % len(number)] for k in (i, i + 1, j, j + 1))
        verb = ("runs back along", "crosses", "touches")[kind]
        return (
            f"The edge from corner {a} to {b} {verb} the edge from corner {c} to {d} "
            f"near latitude {lat:.5f}, longitude {lon:.5f}."
        )
    return "The edges cross one another."
