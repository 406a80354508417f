"""
Whether the file still tells a desktop GIS what its layers are: the three tables that every GeoPackage has.

Leadline does not read them, but whoever opens the registry in a desktop GIS sees every module elsewhere, or
none, where they were changed.
"""

import sqlite3
from typing import Any

from registry.storage.journal_proof import Problem

__all__ = ["CHECKED", "metadata_problem"]

#: Table to the columns that name a row, and those that tell what a layer is and where it lies. Names,
#: descriptions, extents and dates are left to the program that keeps them.
CHECKED: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "gpkg_contents": (("table_name",), ("data_type", "srs_id")),
    "gpkg_geometry_columns": (("table_name", "column_name"), ("geometry_type_name", "srs_id", "z", "m")),
    "gpkg_spatial_ref_sys": (("srs_id",), ("organization", "organization_coordsys_id", "definition")),
}


def metadata_problem(table: str, kept: sqlite3.Connection, made: sqlite3.Connection) -> Problem | None:
    """
    Compare what Leadline writes in one of these tables with what is there; rows of others are theirs.

    Parameters
    ----------
    table : str
        A key of :data:`CHECKED`.
    kept, made : sqlite3.Connection
        The registry, and one that was made apart in the same home frame.
    """
    keys, values = CHECKED[table]
    sql = f"SELECT {', '.join((*keys, *values))} FROM {table} ORDER BY {', '.join(keys)}"
    ours = {row[: len(keys)]: row[len(keys) :] for row in kept.execute(sql)}
    for row in made.execute(sql):
        key, true = row[: len(keys)], row[len(keys) :]
        told = _told(values, ours.get(key), true)
        if told:
            named = ".".join(map(str, key))
            what = f"Table {table} is not what Leadline writes, in the row for {named}: {told}."
            return Problem(position=0, reference=table, kind="changed", sentence=what)
    return None


def _told(names: tuple[str, ...], mine: tuple[Any, ...] | None, true: tuple[Any, ...]) -> str:
    """Tell how a row differs, "" where it does not."""
    if mine is None:
        return "it is missing"
    return ", ".join(
        f"{name} is another"
        if name == "definition"
        else f"{name} is {_shown(is_there)} instead of {_shown(should_be)}"
        for name, is_there, should_be in zip(names, mine, true, strict=True)
        if is_there != should_be and not (name == "definition" and _same_frame(is_there, should_be))
    )


def _same_frame(mine: Any, true: Any) -> bool:
    """Tell whether two definitions mean the same: another version of PROJ may have written the older one."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return bool(CRS.from_wkt(mine).equals(CRS.from_wkt(true), ignore_axis_order=True))
    except (CRSError, TypeError):
        return False


def _shown(value: Any) -> str:
    if isinstance(value, bytes):
        return "another value"
    text = "empty" if value is None else str(value)
    return text if len(text) <= 60 else f"{text[:60]}…"
