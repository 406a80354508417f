"""
Areas that meet along an edge are one ground: the line between them bounds nothing.

A permit may draw its ground in several areas. What lies a metre from the line between two of them is well
inside what the permit allows, though either area alone would leave that open.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from registry.measure.antimeridian import join_at_antimeridian, unwrap_ring
from registry.measure.boundary import distance_to, signed_distance
from registry.measure.edges import Edges, run_edges
from registry.measure.geodesic import EARTH_RADIUS_M, inverse

__all__ = ["Ground", "distance_inside", "joined_grounds"]

Floats = NDArray[np.float64]
Shape = Polygon | MultiPolygon
Corner = tuple[float, float]

#: Corners and edges nearer than this are the same: no containment is promised to be better. Units: m.
_SAME_M = 0.01
#: As a reach in degrees of either axis that is surely more, up to 89 degrees of latitude.
_SAME_DEG = 1e-5
#: Edges are drawn by points this far apart, so that where two cross is known to 1 mm. Units: m.
_STEP_M = 100.0
#: A ring wider than this goes round a pole, or the globe; it is left as it is. Units: degrees.
_WIDEST_DEG = 180.0


@dataclass(frozen=True, slots=True)
class Ground:
    """One or several areas that hang together."""

    shape: Shape
    edges: Edges
    #: Which of the areas make it up.
    members: tuple[int, ...]


def distance_inside(
    lon: ArrayLike, lat: ArrayLike, areas: Sequence[tuple[Shape, Edges]]
) -> tuple[Floats, NDArray[np.intp]]:
    """
    Measure how far inside the ground of several areas points lie, and in which of them.

    Parameters
    ----------
    lon, lat : array_like, shape (n,)
        The points. Units: degrees, in the frame of the areas.
    areas : sequence of (Polygon or MultiPolygon, Edges)
        At least one.

    Returns
    -------
    tuple of numpy.ndarray
        Distance to the nearest edge of the ground that holds the point best, positive inside (units: m), and
        the row of the area that does so; each of shape (n,).

    Raises
    ------
    GeometryError
        If an area is empty or no polygon.

    Examples
    --------
    Two squares side by side; a point 9 m from the line between them, and some 1.1 km from every other edge:

    >>> west = Polygon([(-77.02, 34.0), (-77.0, 34.0), (-77.0, 34.02), (-77.02, 34.02)])
    >>> east = Polygon([(-77.0, 34.0), (-76.98, 34.0), (-76.98, 34.02), (-77.0, 34.02)])
    >>> inside_m, area = distance_inside([-77.0001], [34.01], [(west, "geodesic"), (east, "geodesic")])
    >>> inside_m.round(1).tolist(), area.tolist()
    ([1109.2], [0])
    """
    p, q = np.broadcast_arrays(np.atleast_1d(np.asarray(lon, float)), np.atleast_1d(np.asarray(lat, float)))
    best_m, area = np.full(p.shape, -np.inf), np.zeros(p.shape, dtype=np.intp)
    for ground in joined_grounds(areas):
        inside_m = signed_distance(p, q, ground.shape, ground.edges).distance_m
        better = ~(inside_m <= best_m)
        best_m[better] = inside_m[better]
        area[better] = _holder(p[better], q[better], areas, ground.members)
    return best_m, area


def _holder(
    lon: Floats, lat: Floats, areas: Sequence[tuple[Shape, Edges]], members: tuple[int, ...]
) -> NDArray[np.intp]:
    """Give the area among some that holds each point best."""
    if len(members) == 1:
        return np.full(lon.shape, members[0], dtype=np.intp)
    by_area = np.stack([signed_distance(lon, lat, *areas[member]).distance_m for member in members])
    return np.asarray(np.array(members, dtype=np.intp)[by_area.argmax(axis=0)], dtype=np.intp)


def joined_grounds(areas: Sequence[tuple[Shape, Edges]]) -> tuple[Ground, ...]:
    """
    Put together the areas that share an edge, or part of one, or overlap.

    Parameters
    ----------
    areas : sequence of (Polygon or MultiPolygon, Edges)
        In longitude and latitude; rings may run on past 180. Units: degrees.

    Returns
    -------
    tuple of Ground
        In the order of their first areas. An area that meets no other is given as it was.

    Notes
    -----
    Corners within 1 cm of one another, or of an edge, are taken as one with it. Areas with a gap between them
    stay apart, however narrow it is above that: there the permit allows nothing. So do those that touch in a
    point only.

    Examples
    --------
    >>> west, east = shapely.box(-77.02, 34.0, -77.0, 34.02), shapely.box(-77.0, 34.0, -76.98, 34.02)
    >>> [ground.members for ground in joined_grounds([(west, "geodesic"), (east, "geodesic")])]
    [(0, 1)]
    """
    shapes = _side_by_side([join_at_antimeridian(shape) for shape, _ in areas])
    near = list(_near(shapes))
    group = list(range(len(areas)))
    drawn: dict[int, BaseGeometry] = {}
    if near:
        meeting = sorted({row for pair in near for row in pair})
        outlines = _drawn([(shapes[row], areas[row][1]) for row in meeting])
        drawn = dict(zip(meeting, outlines, strict=True))
    for row, other in near:
        # Of a shared stretch of edge and of an overlap the common part has a length; of a point it has none.
        if drawn[row].intersection(drawn[other]).length > 0.0:
            group = [group[row] if each == group[other] else each for each in group]
    grounds = []
    for each in dict.fromkeys(group):
        members = tuple(row for row, of in enumerate(group) if of == each)
        if len(members) == 1:
            grounds.append(Ground(*areas[members[0]], members))
        else:
            whole = _polygons(shapely.union_all([drawn[row] for row in members]))
            grounds.append(Ground(whole, "geodesic", members))
    return tuple(grounds)


def _side_by_side(shapes: list[BaseGeometry]) -> list[BaseGeometry]:
    """Turn each shape by whole turns until it lies beside the first."""
    if any(shape.is_empty for shape in shapes):
        return shapes  # what is wrong with it is told by who measures it
    middle = [(shape.bounds[0] + shape.bounds[2]) / 2.0 for shape in shapes]
    return [
        _turned(shape, 360.0 * round((middle[0] - at) / 360.0))
        for shape, at in zip(shapes, middle, strict=True)
    ]


def _turned(shape: BaseGeometry, east_deg: float) -> BaseGeometry:
    turned: BaseGeometry = shapely.transform(shape, lambda corners: corners + np.array([east_deg, 0.0]))
    return turned if east_deg else shape


def _polygons(shape: BaseGeometry) -> Shape:
    """Leave out stray lines that a repair may have left."""
    polygons = [part for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def _near(shapes: list[BaseGeometry]) -> Iterator[tuple[int, int]]:
    """Give the pairs of shapes whose boxes touch, the lower row first."""
    box = shapely.bounds(np.array(shapes, dtype=object)) + _SAME_DEG * np.array([-1.0, -1.0, 1.0, 1.0])
    whole = box[:, 2] - box[:, 0] < _WIDEST_DEG
    for row in range(len(shapes) - 1):
        west, south, east, north = box[row]
        after = box[row + 1 :]
        apart = (after[:, 0] > east) | (after[:, 2] < west) | (after[:, 1] > north) | (after[:, 3] < south)
        for other in np.flatnonzero(~apart & whole[row + 1 :] & whole[row]):
            yield row, row + 1 + int(other)


def _drawn(areas: list[tuple[BaseGeometry, Edges]]) -> list[BaseGeometry]:
    """Draw areas so that stretches of edge which they share run through the very same points."""
    rings = [[unwrap_ring(ring) for ring in _rings(shape)] for shape, _ in areas]
    corners = _as_one(rings)
    lines: dict[tuple[Corner, Corner], tuple[Edges, Floats]] = {}
    drawn: list[BaseGeometry] = []
    for row, (shape, edges) in enumerate(areas):
        others = np.vstack([c for other, of in enumerate(corners) if other != row for c in of])
        outlines = iter(
            [_through(ring, _on_the_way(ring, others, edges), edges, lines) for ring in corners[row]]
        )
        polygons = [
            Polygon(next(outlines), [next(outlines) for _ in part.interiors])
            for part in shapely.get_parts(shape)
        ]
        drawn.append(_polygons(shapely.make_valid(MultiPolygon(polygons))))
    return drawn


def _rings(shape: BaseGeometry) -> Iterator[Floats]:
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            yield shapely.get_coordinates(ring)


def _as_one(rings: list[list[Floats]]) -> list[list[Floats]]:
    """Move every corner that is the same as one of an earlier area onto it."""
    joined = [np.array(ring) for of in rings for ring in of]
    area = np.concatenate([np.full(len(ring), row) for row, of in enumerate(rings) for ring in of])
    every = np.vstack(joined)
    metres = np.radians(every) * EARTH_RADIUS_M
    metres[:, 0] *= np.cos(np.radians(every[:, 1].mean()))
    points = [Point(at) for at in metres.tolist()]
    here, there = shapely.STRtree(points).query(points, predicate="dwithin", distance=_SAME_M)
    earlier = area[there] < area[here]
    first = np.arange(len(every))
    np.minimum.at(first, here[earlier], there[earlier])
    every = every[first[first]]
    ends = np.cumsum([len(ring) for ring in joined])[:-1]
    moved = iter(np.split(every, ends))
    return [[next(moved) for _ in of] for of in rings]


def _on_the_way(ring: Floats, corners: Floats, edges: Edges) -> dict[int, Floats]:
    """Find the corners of others that lie on an edge of a ring, between its ends, in order."""
    away_m = distance_to(corners[:, 0], corners[:, 1], LineString(ring), edges).distance_m
    length_m = inverse(ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1])[0]
    found: dict[int, list[tuple[float, Corner]]] = {}
    for lon, lat in np.unique(corners[away_m < _SAME_M], axis=0):
        to_m = inverse(np.full(len(ring), lon), np.full(len(ring), lat), ring[:, 0], ring[:, 1])[0]
        if to_m.min() < _SAME_M:
            continue
        edge = int(np.argmin(to_m[:-1] + to_m[1:] - length_m))
        found.setdefault(edge, []).append((float(to_m[edge]), (float(lon), float(lat))))
    return {edge: np.array([corner for _, corner in sorted(on)]) for edge, on in found.items()}


def _through(
    ring: Floats,
    between: dict[int, Floats],
    edges: Edges,
    lines: dict[tuple[Corner, Corner], tuple[Edges, Floats]],
) -> Floats:
    """Draw a ring by way of the corners of others; an edge that is drawn already is drawn the same again."""
    corners = [ring[:1]]
    for edge in range(len(ring) - 1):
        corners += [between[edge]] if edge in between else []
        corners.append(ring[edge + 1 : edge + 2])
    path = np.vstack(corners)
    drawn = [path[:1]]
    for a, b in zip(path[:-1].tolist(), path[1:].tolist(), strict=True):
        if a != b:
            line = _line(min(a, b), max(a, b), edges, lines)
            drawn.append(line[1:] if a < b else line[-2::-1])
    return np.vstack(drawn)


def _line(
    a: list[float],
    b: list[float],
    edges: Edges,
    lines: dict[tuple[Corner, Corner], tuple[Edges, Floats]],
) -> Floats:
    key = ((a[0], a[1]), (b[0], b[1]))
    known = lines.get(key)
    if known is not None and known[0] == edges:
        return known[1]
    line = run_edges([a, b], edges, _STEP_M)
    if known is None:
        lines[key] = edges, line
        return line
    # Along a meridian, and over a short way, a geodesic and a rhumb line are the same.
    away_m = distance_to(line[:, 0], line[:, 1], LineString(known[1])).distance_m
    return known[1] if away_m.max() < _SAME_M else line
