"""The port ``Parts`` over SQL: standing placements by permit and by place, so that none is read in vain."""

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from registry.records.entry import instant_text
from registry.storage.placement_columns import read_placements
from registry.storage.register import GeoPackageRegister, degree_boxes
from registry.storage.sqlite_errors import told_plainly

if TYPE_CHECKING:
    from registry.records.placement import PlacementTable

__all__ = ["PlacementParts", "boxes_around"]

Box = tuple[float, float, float, float]

_OF_PERMITS = "WHERE permit IN (SELECT value FROM json_each(?))"
#: The boxes come first, each asking the index; else every placement would be held against every box.
_AROUND = """
WHERE fid IN (SELECT r.id FROM json_each(?) b CROSS JOIN rtree_placements_geom r
    WHERE r.maxx >= b.value ->> 0 AND r.minx <= b.value ->> 1
    AND r.maxy >= b.value ->> 2 AND r.miny <= b.value ->> 3)
AND permit NOT IN (SELECT value FROM json_each(?))"""
_REPEATED = """
WHERE tag IN (SELECT tag FROM placements GROUP BY tag HAVING count(*) > 1)
OR module IN (SELECT fid FROM modules WHERE memorial IN (
    SELECT memorial FROM modules m JOIN placements p ON p.module = m.fid
    WHERE memorial <> '' GROUP BY memorial HAVING count(*) > 1))"""


class PlacementParts:
    """The standing placements of an open registry, some at a time; within its ``reading()`` of one state."""

    def __init__(self, register: GeoPackageRegister) -> None:
        self._register = register

    def counts(self, *, until: datetime | None = None) -> Mapping[str, int]:
        """Give how many placements stand under each permit that has any, or had been placed by then."""
        chosen, values = ("", ()) if until is None else ("WHERE placed_at <= ?", (instant_text(until),))
        return dict(self._rows(f"SELECT permit, count(*) FROM placements {chosen} GROUP BY permit", values))

    def placements_of(self, permits: Sequence[str]) -> "PlacementTable":
        """Give the placements of some permits, in order of time and then of identifier."""
        return self._table(_OF_PERMITS, (json.dumps(list(permits)),))

    def placements_around(
        self, lon_deg: Sequence[float], lat_deg: Sequence[float], reach_m: float, *, but: Sequence[str] = ()
    ) -> "PlacementTable":
        """Give those within at least `reach_m` of any of some places (or more), `but` of no such permit."""
        boxes = boxes_around(lon_deg, lat_deg, reach_m)
        return self._table(_AROUND, (json.dumps(boxes), json.dumps(list(but))))

    def repeated(self) -> "PlacementTable":
        """Give the placements whose tag or memorial another one bears as well."""
        return self._table(_REPEATED, ())

    def less_sure_than(self, r95_m: float) -> "PlacementTable":
        """Give the placements whose position is less certain than that."""
        return self._table("WHERE r95_m > ?", (r95_m,))

    def count_less_sure_than(self, r95_m: float) -> int:
        """Give how many those are."""
        return int(self._rows("SELECT count(*) FROM placements WHERE r95_m > ?", (r95_m,))[0][0])

    def _rows(self, sql: str, values: Sequence[Any]) -> list[Any]:
        with told_plainly(self._register.place):
            return self._register.connection.execute(sql, values).fetchall()

    def _table(self, chosen: str, values: Sequence[Any]) -> "PlacementTable":
        with self._register.reading(), told_plainly(self._register.place):
            return read_placements(self._register.connection, chosen, values)


def boxes_around(lon_deg: Sequence[float], lat_deg: Sequence[float], reach_m: float) -> list[Box]:
    """
    Give boxes that hold every point within reach of any of many places.

    Places that lie close together share a box: they are taken in cells about as wide as the reach.

    Parameters
    ----------
    lon_deg, lat_deg : sequence of float, length n
        The places. Units: degrees.
    reach_m : float
        Units: m.

    Returns
    -------
    list of tuple
        West, east, south, north, as ``degree_boxes`` gives them. Units: degrees.

    Examples
    --------
    >>> boxes = boxes_around([-77.0, -77.001], [34.0, 34.0], 1000.0)
    >>> [[round(bound, 2) for bound in box] for box in boxes]
    [[-77.01, -76.99, 33.99, 34.01], [282.99, 283.01, 33.99, 34.01]]
    """
    lon, lat = np.asarray(lon_deg, dtype=float), np.asarray(lat_deg, dtype=float)
    height = max(float(np.degrees(reach_m / 6_400_000.0)), 1e-6)
    row = np.floor(lat / height)
    parallel = np.cos(np.radians(np.minimum(np.abs(row * height), 89.0)))
    cells = np.column_stack((row, np.floor(lon * parallel / height)))
    _, cell = np.unique(cells, axis=0, return_inverse=True)
    order = np.argsort(cell.ravel(), kind="stable")
    begin = np.flatnonzero(np.diff(cell.ravel()[order], prepend=-1))
    lon, lat = lon[order], lat[order]
    bounds = (
        [
            edge.reduceat(axis, begin).tolist()
            for edge, axis in ((np.minimum, lon), (np.maximum, lon), (np.minimum, lat), (np.maximum, lat))
        ]
        if len(lon)
        else [[]] * 4
    )
    return [box for cell in zip(*bounds, strict=True) for box in _widened(cell, reach_m)]


def _widened(cell: Box, reach_m: float) -> list[Box]:
    """Widen a box by a reach; where it is widest is the parallel farthest from the equator."""
    west, east, south, north = cell
    farthest = north if north > -south else south
    below, above = degree_boxes(0.0, south, reach_m)[0][2], degree_boxes(0.0, north, reach_m)[0][3]
    _, width, *_ = degree_boxes(0.0, farthest, reach_m)[0]
    if width >= 180.0:
        return [(-360.0, 360.0, below, above)]
    turned = [(west - width + turn, east + width + turn) for turn in (0.0, -360.0, 360.0)]
    return [(w, e, below, above) for w, e in turned if e >= -180.0 and w <= 360.0]
