"""Standing placements read into columns, by joins in C: no object for each row and number."""

import json
import sqlite3
from collections.abc import Iterator, Sequence
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
SELECT permit, ifnull(module_type, ''), count(*), {words}(placement_id{between}), {words}(tag{between}),
    group_concat(ifnull(module, 0)), CAST(group_concat(numbers, '') AS BLOB)
FROM placements {chosen} GROUP BY permit, module_type ORDER BY permit, module_type"""
#: Words are joined by a character that no tag holds that can be cast; where one does, as a list in JSON.
_BETWEEN = "\x1f"
_JOINED = {"words": "group_concat", "between": f", '{_BETWEEN}'"}
_LISTED = {"words": "json_group_array", "between": ""}
#: What a module has beyond its type. Infinity stands for NULL on the way into numpy: nothing weighs that.
_MODULES = """
SELECT fid, ifnull(memorial, ''), ifnull(mass_kg, 9e999) FROM modules
WHERE (memorial NOTNULL OR mass_kg NOTNULL) {those} ORDER BY fid"""
_MODULE = np.dtype([("fid", "i8"), ("memorial", "O"), ("mass_kg", "f8")])
_TYPES = "SELECT type_id, height_m, height_u95_m, base_radius_m, mass_kg FROM module_types"


def read_placements(
    connection: sqlite3.Connection, chosen: str = "", values: Sequence[Any] = (), *, by_permit: bool = False
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
    by_permit : bool
        In order of the number of the permit before all else, which is how they are kept: soonest read.

    Raises
    ------
    RegistryError
        If a row is not as Leadline writes it.
    """
    groups: list[tuple[str, str]] = []
    ids, tags = [np.empty(0, dtype="S1")], [np.empty(0, dtype="S1")]
    modules, numbers = [np.empty(0, dtype=np.int64)], [np.empty((0, 6))]
    for permit, type_id, count, *columns in _groups(connection, chosen, values):
        try:
            ids.append(_words(columns[0], count))
            tags.append(_words(columns[1], count))
            modules.append(np.fromstring(columns[2], dtype=np.int64, sep=","))
            numbers.append(unpacked_numbers(columns[3]))
        except ValueError as error:
            raise _unreadable(permit) from error
        if not len(ids[-1]) == len(tags[-1]) == len(modules[-1]) == len(numbers[-1]) == count:
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
    identifier, tag = np.concatenate(ids), np.concatenate(tags)
    del ids, tags
    group = np.repeat(np.arange(len(groups), dtype=np.int32), [len(rows) for rows in numbers[1:]])
    lon_deg, lat_deg, r95_m, depth_m, depth_u95_m, placed_at_s = (
        np.concatenate([rows[:, column] for rows in numbers]) for column in range(6)
    )
    del numbers
    number_of = {permit: number for number, permit in enumerate(sorted({permit for permit, _ in groups}))}
    first = np.array([number_of[permit] if by_permit else 0 for permit, _ in groups], dtype=np.int32)[group]
    if not _is_in_order(first, placed_at_s, identifier):
        order = np.lexsort((identifier, placed_at_s, first))
        identifier, tag, group, module = identifier[order], tag[order], group[order], module[order]
        lon_deg, lat_deg, r95_m, depth_m, depth_u95_m, placed_at_s = (
            column[order] for column in (lon_deg, lat_deg, r95_m, depth_m, depth_u95_m, placed_at_s)
        )
    del first
    sizes = np.array([types.get(type_id, (np.nan,) * 4) for _, type_id in groups]).reshape(-1, 4).T
    height_m, height_u95_m, base_radius_m, mass_kg = (size[group] for size in sizes)
    memorial = np.full(len(identifier), "", dtype=object)
    if len(known):
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


def _groups(connection: sqlite3.Connection, chosen: str, values: Sequence[Any]) -> Iterator[tuple[Any, ...]]:
    """Give the groups in order, each with its columns."""
    for row in connection.execute(_GROUPS.format(chosen=chosen, **_JOINED), values):
        permit, type_id, count, *columns = row
        if all(words.count(_BETWEEN) == count - 1 for words in columns[:2]):
            yield row
            continue
        this = f"WHERE permit = ? AND ifnull(module_type, '') = ? {chosen.replace('WHERE', 'AND (', 1)}"
        this += ")" if chosen else ""
        listed = connection.execute(_GROUPS.format(chosen=this, **_LISTED), (permit, type_id, *values))
        *_, ids, tags, modules, numbers = listed.fetchone()
        yield permit, type_id, count, json.loads(ids), json.loads(tags), modules, numbers


def _words(words: str | list[str], count: int) -> NDArray[np.bytes_]:
    """Give words that were joined, or a list of them, as UTF-8, whose order is theirs."""
    if isinstance(words, list):
        return np.array([word.encode() for word in words], dtype=np.bytes_)
    text = words.encode()
    cells = np.frombuffer(text + _BETWEEN.encode(), dtype=np.uint8)
    size = len(cells) // count
    if size > 1 and size * count == len(cells) and np.all(cells[size - 1 :: size] == ord(_BETWEEN)):
        # All of one length, as most are: taken as they lie.
        return np.ascontiguousarray(cells.reshape(count, size)[:, :-1]).view(f"S{size - 1}").ravel()
    return np.array(text.split(_BETWEEN.encode()), dtype=np.bytes_)


def _is_in_order(first: NDArray[Any], second: NDArray[Any], third: NDArray[Any]) -> bool:
    """Tell whether rows rise by three keys, one after the other."""
    alike = first[1:] == first[:-1]
    if not np.all((first[1:] >= first[:-1]) & (~alike | (second[1:] >= second[:-1]))):
        return False
    tied = np.flatnonzero(alike & (second[1:] == second[:-1]))
    return bool(np.all(third[tied + 1] >= third[tied]))


def _unreadable(permit: str) -> RegistryError:
    what = f"A row of table placements, under permit {permit}, is not as Leadline writes it."
    return RegistryError(what, remedy="Find it with `leadline journal verify`.")
