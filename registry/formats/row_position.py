"""The position of a row of a spreadsheet, in whichever columns it stands: one text, angles, or a grid."""

from collections.abc import Mapping

from registry.errors import TableError
from registry.formats.written_position import read_position, read_position_in
from registry.measure.datum import resolve
from registry.records.written_position import WrittenPosition

__all__ = ["GRID", "POSITION_FORMS", "read_row_position"]

GRID = ("easting", "northing")
#: What together is a position, in the order in which it is looked for.
POSITION_FORMS = (("position",), ("lat", "lon"), GRID)

_SAME_UNIT = {"feet": "ft", "metres": "m", "meters": "m"}
_NAME_THE_GRID = "Name the grid in a column frame, or with --frame, as EPSG:32617."


def read_row_position(
    say: Mapping[str, str], *, tag: str, frame: str | None, units: Mapping[str, str]
) -> WrittenPosition:
    """
    Read the position of a row.

    Parameters
    ----------
    say : mapping
        What the cells say, by the meaning of their columns.
    tag : str
        Of the row, for messages.
    frame : str, optional
        The frame that is stated for the row, a grid for eastings and northings.
    units : mapping
        The unit that the header states, by meaning; of eastings and northings it must be that of the grid.

    Raises
    ------
    TableError
        If there is no position, or no grid of that unit to its easting and northing.
    PositionTextError, FrameError
        If what is written cannot be read.

    Examples
    --------
    >>> say = {"easting": "758658.4", "northing": "3738167.977"}
    >>> read_row_position(say, tag="MC-1", frame="EPSG:32617", units={}).grid
    'EPSG:32617'
    """
    for form in POSITION_FORMS:
        cells = [say.get(word, "") for word in form]
        if not all(cells):
            continue
        if form == ("lat", "lon"):
            return read_position(f"Lat {cells[0]} Lon {cells[1]}")
        if form == GRID:
            _require_grid(tag, frame, units)
        return read_position_in(" ".join(cells), frame)
    remedy = "Give latitude and longitude, or easting and northing with their grid."
    raise TableError(f"The row for {tag} has no position.", remedy=remedy)


def _require_grid(tag: str, frame: str | None, units: Mapping[str, str]) -> None:
    """Refuse an easting and a northing without a grid, or in another unit than the grid's."""
    if frame is None:
        what = f"The row for {tag} has an easting and a northing, and no grid is named."
        raise TableError(what, remedy=_NAME_THE_GRID)
    grid = resolve(frame)
    if not grid.projected:
        what = f"The row for {tag} has an easting and a northing, but {grid.code} ({grid.name}) is no grid."
        raise TableError(what, remedy=_NAME_THE_GRID)
    own = "ft" if "foot" in grid.axis_unit else "m" if grid.axis_unit == "metre" else grid.axis_unit
    for word in GRID:
        unit = units.get(word, own)
        if _SAME_UNIT.get(unit, unit) != own:
            what = f"The header states the {word} in {unit}, but {grid.name} is in {grid.axis_unit}."
            raise TableError(
                what, remedy="Name the grid in whose unit the numbers are, or rename the column."
            )
