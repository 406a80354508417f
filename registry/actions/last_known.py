"""Placements as columns, each where it was last found: what resurveys found moved has its later place."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from registry.actions.standing_place import resurveys_by_tag, standing_place
from registry.errors import ConflictError
from registry.ports import Register
from registry.records.placement import PlacementTable

__all__ = ["last_known"]


def last_known(register: Register, table: PlacementTable) -> tuple[PlacementTable, NDArray[np.bool_]]:
    """
    Put moved modules where they were found.

    Parameters
    ----------
    register : Register
        Read from.
    table : PlacementTable
        Standing placements.

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
    lon_deg, lat_deg, r95_m = table.lon_deg.copy(), table.lat_deg.copy(), table.r95_m.copy()
    moved = np.zeros(len(table), dtype=bool)
    known = resurveys_by_tag(register)
    for row in np.flatnonzero(np.isin(table.tag, list(known))) if known else ():
        try:
            place = standing_place(register, str(table.tag[row]), known)
        except ConflictError:
            continue
        if place.moved is not None:
            position = place.home.position
            lon_deg[row], lat_deg[row], r95_m[row] = position.lon_deg, position.lat_deg, position.r95_m
            moved[row] = True
    return replace(table, lon_deg=lon_deg, lat_deg=lat_deg, r95_m=r95_m), moved
