"""Modules at rest on the seabed: one as an entry to be logged, many as columns to be judged."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from registry.errors import InvalidRecordError
from registry.records.position import HomePosition, Position

__all__ = ["Placement", "PlacementTable", "in_order_of_time"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One module at rest on the seabed, with everything that its position and depth were derived from."""

    tag: str
    permit: str
    #: The instant of touch-down, with its zone.
    placed_at: datetime
    #: What was typed or received, verbatim.
    position_text: str
    #: As read from the text, in the frame stated.
    observed: Position
    home: HomePosition
    #: How frame, epoch and R95 were settled, one sentence each.
    basis: tuple[str, ...] = ()
    #: Depth of the seabed below chart datum and its 95 % uncertainty; None where nobody measured. Units: m.
    charted_depth_m: float | None = None
    depth_u95_m: float | None = None
    #: The depth as typed, and the tide that was taken off it.
    depth_text: str = ""
    tide_text: str = ""
    #: What a person should look at again, one sentence each.
    warnings: tuple[str, ...] = ()
    crew: str = ""
    vessel: str = ""
    note: str = ""
    #: Where the row came from: file name, SHA-256 digest, row number.
    source: dict[str, Any] = field(default_factory=dict)
    #: How position and depth were derived, with all that is needed to derive them again; None where the
    #: position was written by a person, or the depth was stated without its instrument.
    survey: dict[str, Any] | None = None
    depth: dict[str, Any] | None = None

    def __post_init__(self) -> None:
        """Refuse what no instant or depth can be."""
        if self.placed_at.tzinfo is None:
            what = f"Placement of {self.tag}: {self.placed_at} has no zone."
            raise InvalidRecordError(what, remedy="Give the instant with Z or an offset.")
        depth = self.charted_depth_m
        if depth is not None and (
            not math.isfinite(depth) or self.depth_u95_m is None or not self.depth_u95_m >= 0
        ):
            what = f"Placement of {self.tag}: a depth of {depth} m ± {self.depth_u95_m} m is not one."
            raise InvalidRecordError(what, remedy="Give a finite depth with its 95 % uncertainty.")


def _floats() -> NDArray[np.float64]:
    return np.empty(0)


def _objects() -> NDArray[np.object_]:
    return np.empty(0, dtype=object)


class _Words:
    """
    A column of words that may be handed over as UTF-8 bytes, and is kept so until somebody looks at it.

    A million of them take a fifth of the memory that way, and hardly anybody looks at all of them.
    """

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, table: None, owner: type) -> tuple[()]: ...

    @overload
    def __get__(self, table: object, owner: type) -> NDArray[np.object_]: ...

    def __get__(self, table: object | None, owner: type) -> NDArray[np.object_] | tuple[()]:
        if table is None:
            return ()  # what the dataclass takes for the default
        words: NDArray[Any] = vars(table)[self._name]
        if words.dtype.kind == "S":
            words = np.array([word.decode() for word in words.tolist()], dtype=object)
            vars(table)[self._name] = words
        return words

    def __set__(self, table: object, words: NDArray[Any] | tuple[()]) -> None:
        vars(table)[self._name] = words if isinstance(words, np.ndarray) else _objects()


@dataclass(frozen=True, kw_only=True)
class PlacementTable:
    """
    Placements as columns, one row each, joined with what their module is.

    Every array has shape (n,). Positions are in the registry's home frame. An unknown number is NaN and an
    unknown word is the empty string.
    """

    #: Identifier of the placement: origin and sequence of its journal entry, as "a1b2c3d4-17".
    placement_id: _Words = _Words()
    tag: _Words = _Words()
    permit: NDArray[np.object_] = field(default_factory=_objects)
    module_type: NDArray[np.object_] = field(default_factory=_objects)
    #: Name of the memorial, empty where there is none.
    memorial: NDArray[np.object_] = field(default_factory=_objects)
    #: Units: degrees.
    lon_deg: NDArray[np.float64] = field(default_factory=_floats)
    lat_deg: NDArray[np.float64] = field(default_factory=_floats)
    #: Units: m.
    r95_m: NDArray[np.float64] = field(default_factory=_floats)
    #: Depth of the seabed below chart datum. Units: m.
    depth_m: NDArray[np.float64] = field(default_factory=_floats)
    depth_u95_m: NDArray[np.float64] = field(default_factory=_floats)
    #: Seconds since 1970-01-01T00:00Z.
    placed_at_s: NDArray[np.float64] = field(default_factory=_floats)
    #: Height of the module above the seabed and its tolerance. Units: m.
    height_m: NDArray[np.float64] = field(default_factory=_floats)
    height_u95_m: NDArray[np.float64] = field(default_factory=_floats)
    #: Units: m.
    base_radius_m: NDArray[np.float64] = field(default_factory=_floats)
    #: Units: kg.
    mass_kg: NDArray[np.float64] = field(default_factory=_floats)

    def __post_init__(self) -> None:
        """Refuse ragged columns."""
        lengths = {name: len(column) for name, column in vars(self).items()}
        if len(set(lengths.values())) > 1:
            what = f"The columns of a placement table differ in length: {lengths}."
            raise InvalidRecordError(what, remedy="Give every column one value for each placement.")

    def __len__(self) -> int:
        """Give the number of placements."""
        return len(self.lon_deg)

    def tag_of(self, row: int) -> str:
        """Give the tag of one placement; the others stay as they are kept."""
        tag = self.kept("tag")[row]
        return tag.decode() if isinstance(tag, bytes) else str(tag)

    def kept(self, name: str) -> NDArray[Any]:
        """Give a column as it is kept: words as UTF-8 bytes or as words, of which equal ones are equal."""
        column: NDArray[Any] = vars(self)[name]
        return column

    def rows(self, which: NDArray[Any] | slice) -> "PlacementTable":
        """Give the placements that an index array, a mask or a slice chooses."""
        return PlacementTable(**{name: column[which] for name, column in vars(self).items()})

    def joined(self, other: "PlacementTable") -> "PlacementTable":
        """Give these placements followed by others."""
        return PlacementTable(**{f.name: self._with(other, f.name) for f in fields(self)})

    def _with(self, other: "PlacementTable", name: str) -> NDArray[Any]:
        both: list[NDArray[Any]] = [vars(self)[name], vars(other)[name]]
        if {column.dtype.kind for column in both} == {"S", "O"}:
            both = [column if column.dtype.kind == "S" else _encoded(column) for column in both]
        return np.concatenate(both)


def in_order_of_time(tables: Sequence[PlacementTable]) -> PlacementTable:
    """Put tables into one, each placement once, in order of time and then of identifier, as each has them."""
    held = [each for each in tables if len(each)]
    if len(held) < 2:
        return held[0] if held else PlacementTable()
    table = held[0]
    for each in held[1:]:
        table = table.joined(each)
    _, first = np.unique(table.placement_id.astype(np.str_), return_index=True)
    # `first` is in order of the identifiers, which a stable sort by time keeps.
    return table.rows(first[np.argsort(table.placed_at_s[first], kind="stable")])


def _encoded(words: NDArray[np.object_]) -> NDArray[np.bytes_]:
    return np.array([word.encode() for word in words.tolist()], dtype=np.bytes_)
