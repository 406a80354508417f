"""Standing placements read into columns, by joins in C: no object for each row and number."""

import json
import sqlite3
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.errors import RegistryError
from registry.records.placement import PlacementTable
from registry.storage.placement_numbers import unpacked_numbers

__all__ = ["read_placements"]

#: One row for each permit and module type, read from the index of that order alone. Whatever order the rows
#: of a group come in, it is the same in every column.
_GROUPS = """
SELECT permit, ifnull(module_type, ''), count(*), json_group_array(placement_id), json_group_array(tag),
    group_concat(ifnull(module, 0)), CAST(group_concat(numbers, '') AS BLOB)
FROM placements {chosen} GROUP BY permit, module_type"""
#: What a module has beyond its type. Infinity stands for NULL on the way into numpy: nothing weighs that.
_MODULES = """
SELECT fid, ifnull(memorial, ''), ifnull(mass_kg, 9e999) FROM modules
WHERE (memorial NOTNULL OR mass_kg NOTNULL) {those} ORDER BY fid"""
_MODULE = np.dtype([("fid", "i8"), ("memorial", "O"), ("mass_kg", "f8")])
_TYPES = "SELECT type_id, height_m, height_u95_m, base_radius_m, mass_kg FROM module_types"


def read_placements(
    connection: sqlite3.Connection, chosen: str = "", values: Sequence[Any] = ()
) -> PlacementTable:
    """
    Read standing placements, in order of time and then of identifier.

    Parameters
    ----------
    connection : sqlite3.Connection
        Within a transaction, so that all is of one state.
    chosen : str
        A WHERE clause on the table of placements; empty for all of them.
    values : sequence
        Of its parameters.

    Raises
    ------
    RegistryError
        If a row is not as Leadline writes it.
    """
    groups: list[tuple[str, str]] = []
    ids, tags = [np.empty(0, dtype="S1")], []
    modules, numbers = [np.empty(0, dtype=np.int64)], [np.empty((0, 6))]
    for permit, type_id, count, *columns in connection.execute(_GROUPS.format(chosen=chosen), values):
        try:
            ids.append(_encoded(columns[0]))
            tags += json.loads(columns[1])
            modules.append(np.fromstring(columns[2], dtype=np.int64, sep=","))
            numbers.append(unpacked_numbers(columns[3]))
        except ValueError as error:
            raise _unreadable(permit) from error
        if not len(modules[-1]) == len(numbers[-1]) == count:
            raise _unreadable(permit)
        groups.append((permit, type_id))
    if not groups:
        return PlacementTable()
    # Where every placement is asked for, every module that has a name or was weighed; else theirs.
    sought = _MODULES.format(those="AND fid IN (SELECT value FROM json_each(?))" if chosen else "")
    module = np.concatenate(modules)
    del modules
    listed = [json.dumps(module.tolist())] if chosen else []
    known = np.fromiter(connection.execute(sought, listed), dtype=_MODULE)
    types = {row[0]: row[1:] for row in connection.execute(_TYPES)}

    # What has served is let go at once: of a million placements each column weighs 8 MB and more.
    identifier = np.concatenate(ids)
    del ids
    order = np.lexsort((identifier, np.concatenate([rows[:, 5] for rows in numbers])))
    identifier = identifier[order]
    tag = np.array(tags, dtype=object)
    del tags
    tag = tag[order]
    group = np.repeat(np.arange(len(groups)), [len(rows) for rows in numbers[1:]])[order]
    lon_deg, lat_deg, r95_m, depth_m, depth_u95_m, placed_at_s = (
        np.concatenate([rows[:, column] for rows in numbers])[order] for column in range(6)
    )
    del numbers
    sizes = np.array([types.get(type_id, (np.nan,) * 4) for _, type_id in groups]).reshape(-1, 4).T
    height_m, height_u95_m, base_radius_m, mass_kg = (size[group] for size in sizes)
    memorial = np.full(len(order), "", dtype=object)
    if len(known):
        module = module[order]
        at = np.minimum(np.searchsorted(known["fid"], module), len(known) - 1)
        found = known["fid"][at] == module
        memorial[found] = known["memorial"][at[found]]
        weighed = found & np.isfinite(known["mass_kg"][at])
        mass_kg[weighed] = known["mass_kg"][at[weighed]]
    return PlacementTable(
        placement_id=identifier,
        tag=tag,
        permit=np.array([permit for permit, _ in groups], dtype=object)[group],
        module_type=np.array([type_id for _, type_id in groups], dtype=object)[group],
        memorial=memorial,
        lon_deg=lon_deg,
        lat_deg=lat_deg,
        r95_m=r95_m,
        depth_m=depth_m,
        depth_u95_m=depth_u95_m,
        placed_at_s=placed_at_s,
        height_m=height_m,
        height_u95_m=height_u95_m,
        base_radius_m=base_radius_m,
        mass_kg=mass_kg,
    )


def _encoded(listed: str) -> NDArray[np.bytes_]:
    """Give the words of a JSON array as UTF-8, whose order is theirs."""
    words = json.loads(listed)
    return np.array(words if listed.isascii() else [word.encode() for word in words], dtype=np.bytes_)


def _unreadable(permit: str) -> RegistryError:
    what = f"A row of table placements, under permit {permit}, is not as Leadline writes it."
    return RegistryError(what, remedy="Find it with `leadline journal verify`.")
