"""An order in which a boat visits some points without going to and fro."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.measure.geodesic import earth_centred

__all__ = ["boat_order"]

Floats = NDArray[np.float64]

#: Points from each of which a course is tried, as far apart as can be had.
_STARTS = 8
#: A course is mended as long as that saves more than this. Units: m.
_WORTH_M = 0.01
#: More points than these are swept in strips: mending takes time with the cube of their number.
_MOST_MENDED = 250


def boat_order(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[list[int], float]:
    """
    Put points into a short course from one end to the other.

    Parameters
    ----------
    lon_deg, lat_deg : array_like, shape (n,)
        Units: degrees.

    Returns
    -------
    order : list of int
        Every row once.
    course_m : float
        Length of the course, straight from point to point. Units: m.

    Notes
    -----
    Always on to the nearest, from several starts; then stretches are turned round as long as that shortens
    the course (2-opt). Short, and not proven the shortest. Straight legs: the person at the helm looks at
    the chart. More than 250 points are swept to and fro in strips, which is longer by about a quarter.

    Sources
    -------
    Croes, "A method for solving traveling-salesman problems", Operations Research 6 (1958) 791-812; strips of
    a width that holds three points to a square: Few, "The shortest path and the shortest road through n
    points", Mathematika 2 (1955) 141-144 (both from memory).

    Examples
    --------
    >>> boat_order([-77.0, -76.8, -76.9, -76.7], [34.0] * 4)[0]
    [0, 2, 1, 3]
    """
    points = earth_centred(lon_deg, lat_deg)
    n = len(points)
    if n < 3:
        return list(range(n)), float(np.linalg.norm(points[-1] - points[0])) if n == 2 else 0.0
    if n > _MOST_MENDED:
        swept = _in_strips(np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float))
        legs = np.linalg.norm(np.diff(points[swept], axis=0), axis=1)
        return swept.tolist(), round(float(legs.sum()), 3)
    away = np.linalg.norm(points[:, None, :] - points[None, :, :], axis=2)
    starts = np.argsort(-away.max(axis=1), kind="stable")[:_STARTS]
    courses = [_mended(_to_the_nearest(away, int(start)), away) for start in starts]
    course_m, best = min((_length(course, away), course.tolist()) for course in courses)
    return (best if best[0] <= best[-1] else best[::-1]), course_m


def _length(course: NDArray[np.intp], away: Floats) -> float:
    return round(float(away[course[:-1], course[1:]].sum()), 3)


def _to_the_nearest(away: Floats, start: int) -> NDArray[np.intp]:
    """Go on to whatever is nearest and was not visited."""
    left = away.copy()
    course = [start]
    for _ in range(len(away) - 1):
        left[:, course[-1]] = np.inf
        course.append(int(left[course[-1]].argmin()))
    return np.array(course, dtype=np.intp)


def _mended(course: NDArray[np.intp], away: Floats) -> NDArray[np.intp]:
    """Turn stretches round, ends of the course among them, as long as that shortens it."""
    n = len(course)
    while True:
        order = course
        # Legs between neighbours of the course; before the first and behind the last there is none.
        legs = away[np.ix_(order, order)]
        leg = np.zeros(n + 1)
        leg[1:n] = legs[np.arange(n - 1), np.arange(1, n)]
        # Turning i..j puts j behind i - 1 and i before j + 1.
        before = np.vstack([np.zeros(n), legs[:-1]])
        after = np.hstack([legs[:, 1:], np.zeros((n, 1))])
        saved = np.triu(leg[:-1, None] + leg[None, 1:] - before - after, 1)
        i, j = np.unravel_index(int(saved.argmax()), saved.shape)
        if saved[i, j] <= _WORTH_M:
            return course
        course = np.concatenate([course[:i], course[i : j + 1][::-1], course[j + 1 :]])


def _in_strips(lon_deg: Floats, lat_deg: Floats) -> NDArray[np.intp]:
    """Sweep points to and fro in strips along the longer side of their box."""
    east = ((lon_deg - lon_deg[0] + 180.0) % 360.0 - 180.0) * np.cos(np.radians(lat_deg.mean()))
    along, across = (east, lat_deg) if np.ptp(east) >= np.ptp(lat_deg) else (lat_deg, east)
    long, wide = max(float(np.ptp(along)), 1e-12), float(np.ptp(across))
    count = max(1, round((len(along) * wide / (3.0 * long)) ** 0.5))
    strip = np.minimum((across - across.min()) / max(wide, 1e-12) * count, count - 1).astype(int)
    return np.lexsort((np.where(strip % 2, -along, along), strip))
