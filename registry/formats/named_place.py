"""A place as people say it: its name, a comma, and its coordinates."""

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.plain_text import plain_text
from registry.formats.written_position import read_position
from registry.records.written_position import WrittenPosition

__all__ = ["read_named_place"]


def read_named_place(text: str) -> tuple[str, WrittenPosition]:
    """
    Read a name and the position behind it.

    Raises
    ------
    AmbiguousPositionError
        If the coordinates could mean several things.
    PositionTextError
        If there is no name, or what follows it is no position.

    Examples
    --------
    >>> name, position = read_named_place("Harbour Bay, north jetty, 33 53.10 N, 077 30.50 W")
    >>> name, round(position.lat_deg, 4)
    ('Harbour Bay, north jetty', 33.885)
    """
    first: PositionTextError | None = None
    parts = text.split(",")
    for count in range(1, len(parts)):
        name, rest = ",".join(parts[:count]).strip(), ",".join(parts[count:]).strip()
        if not any(char.isalpha() for char in name):
            break
        try:
            return name, read_position(rest)
        except AmbiguousPositionError:
            raise
        except PositionTextError as error:
            # Where digits begin, the coordinates were meant to begin.
            if first is None or (plain_text(rest)[:1].isdigit() and count == 1):
                first = error
    if first is not None:
        raise first
    what = f"{text!r} is not a name and a position."
    raise PositionTextError(what, remedy='Write both, as "Harbour Inlet, 33 53.100 N 077 30.500 W".')
