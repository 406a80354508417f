"""Word a plaque: name, dates, and where the module lies, with no digit that nobody knows."""

from collections.abc import Callable, Sequence
from zoneinfo import ZoneInfo

from registry.actions.locate_module import Located
from registry.errors import FrameError, InvalidRecordError
from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.ports import Register
from registry.records.plaque import Plaque

__all__ = ["word_plaque"]

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip
_BOUND = "\N{NO-BREAK SPACE}"


def word_plaque(
    register: Register,
    located: Located,
    *,
    write_position: Callable[[float, float, float], tuple[str, str]],
    write_code: Callable[[float, float, float], str] | None,
    heading: str,
    dates: str,
    words: Sequence[str],
) -> Plaque:
    """
    Word a plaque.

    Parameters
    ----------
    register : Register
        Read from.
    located : Located
        Where the module lies, in the frame that is to be engraved.
    write_position : callable
        Writes latitude, longitude and R95 (degrees, degrees, m) as two texts.
    write_code : callable or None
        Writes the same as the text of a machine-readable code; None for no code.
    heading, dates : str
        As the family wants them; may be empty.
    words : sequence of str
        Further lines.

    Raises
    ------
    NotFoundError
        If there is no such tag.
    InvalidRecordError
        If the module remembers nobody, or a line cannot be engraved as it reads.
    FrameError
        If a code is asked for in a frame in which telephones do not reckon.
    """
    tag = located.place.tag
    memorial = register.module(tag).memorial
    if memorial is None:
        what = f"Module {tag} remembers nobody: it has no memorial name."
        raise InvalidRecordError(what, remedy="Plaques are for modules added with --memorial.")
    if write_code is not None and not located.frame.dynamic:
        what = f"A code for telephones holds WGS 84, not {located.frame.name}."
        raise FrameError(what, remedy="Leave out --qr, or --frame.")
    place = located.position
    r95_m = u95_rounded_up_m(place.r95_m)
    latitude, longitude = write_position(place.lat_deg, place.lon_deg, r95_m)
    # No line breaks within a part that is read as one.
    frame = located.frame.name.replace(" ", _BOUND)
    epoch = f", epoch{_BOUND}{place.epoch:.1f}" if place.epoch is not None else ""
    within = f"within{_BOUND}{r95_m:.{metres_decimals(r95_m)}f}{_BOUND}m"
    zone = ZoneInfo(register.programme().zone)
    placed = register.placement(located.place.placement_id).placed_at.astimezone(zone).date()
    day = _BOUND.join([str(placed.day), _MONTHS[placed.month - 1], str(placed.year)])
    return Plaque(
        tag=tag,
        heading=heading,
        name=memorial.name,
        dates=dates,
        words=tuple(words),
        latitude=latitude,
        longitude=longitude,
        frame_words=f"{frame}{epoch}, {within}",
        placed_words=f"{tag.replace(' ', _BOUND)}, placed {day}",
        code="" if write_code is None else write_code(place.lat_deg, place.lon_deg, r95_m),
        on=located.on.astimezone(zone).date(),
    )
