"""Placements as columns, each where it was last found: what resurveys found moved has its later place."""

from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from registry.actions.standing_place import resurveys_by_tag, standing_place
from registry.errors import ConflictError
from registry.ports import Register
from registry.records.placement import PlacementTable

__all__ = ["found_moved", "last_known", "where_found", "with_moved"]


def last_known(
    register: Register, table: PlacementTable, *, before: datetime | None = None
) -> tuple[PlacementTable, NDArray[np.bool_]]:
    """
    Put moved modules where they were found.

    Parameters
    ----------
    register : Register
        Read from.
    table : PlacementTable
        Standing placements.
    before : datetime, optional
        Resurveys from then on are left aside.

    Returns
    -------
    table : PlacementTable
        With the last known position and its radius.
    moved : numpy.ndarray of bool, shape (n,)
        Which of them were found moved.

    Notes
    -----
    A tag that is recorded in several places stays where each placement says: which one moved is not known.
    """
    return where_found(table, found_moved(register, before=before))


def found_moved(register: Register, *, before: datetime | None = None) -> PlacementTable:
    """Give the standing placements that a resurvey found moved, where the last one found them: few."""
    known = resurveys_by_tag(register)
    table = register.placements_tagged(sorted(known)) if known else PlacementTable()
    lon_deg, lat_deg, r95_m = table.lon_deg.copy(), table.lat_deg.copy(), table.r95_m.copy()
    moved = np.zeros(len(table), dtype=bool)
    for row, tag in enumerate(table.tag.tolist()):
        try:
            place = standing_place(register, tag, known, before=before)
        except ConflictError:
            continue
        if place.moved is not None:
            position = place.home.position
            lon_deg[row], lat_deg[row], r95_m[row] = position.lon_deg, position.lat_deg, position.r95_m
            moved[row] = True
    return replace(table, lon_deg=lon_deg, lat_deg=lat_deg, r95_m=r95_m).rows(moved)


def where_found(table: PlacementTable, moved: PlacementTable) -> tuple[PlacementTable, NDArray[np.bool_]]:
    """Put those placements of a table that are among the moved where these lie; and tell which they are."""
    if not len(moved):
        return table, np.zeros(len(table), dtype=bool)
    row_of = {identifier: row for row, identifier in enumerate(moved.placement_id.tolist())}
    found = np.flatnonzero(np.isin(table.tag, moved.tag))
    pairs = [(row, row_of.get(table.placement_id[row], -1)) for row in found.tolist()]
    here = np.array([row for row, there in pairs if there >= 0], dtype=np.intp)
    there = np.array([there for _, there in pairs if there >= 0], dtype=np.intp)
    columns = {name: getattr(table, name).copy() for name in ("lon_deg", "lat_deg", "r95_m")}
    for name, column in columns.items():
        column[here] = getattr(moved, name)[there]
    is_moved = np.zeros(len(table), dtype=bool)
    is_moved[here] = True
    return replace(table, **columns), is_moved


def with_moved(near: PlacementTable, moved: PlacementTable) -> PlacementTable:
    """Give what lies near a place, together with what may have moved there; each where it was found."""
    if not len(moved):
        return near
    known = set(near.placement_id.tolist())
    strangers = [identifier not in known for identifier in moved.placement_id.tolist()]
    return where_found(near.joined(moved.rows(np.array(strangers, dtype=bool))), moved)[0]
