"""
The corners of a permit's areas as public notices print them: a plain text to paste into a notice or a letter.

Each area is told twice: as a numbered list of positions, and as one sentence that goes round the area and
ends where it began. Beside each position stands what the permit itself writes.

Sources
-------
Degrees with marks and the letter of the hemisphere, corners in order round the area, "thence to" and the
point of beginning: usual in published descriptions of areas, as in 33 CFR part 334 (from memory).
"""

import textwrap
from collections.abc import Iterator, Sequence

from registry.formats.printed_notation import write_grid
from registry.formats.printed_position import write_dd, write_ddm, write_dms
from registry.measure.datum import ResolvedFrame
from registry.measure.digits import Notation, coordinate_decimals
from registry.measure.geodesic import inverse
from registry.records import permit
from registry.records.as_built import AreaAsBuilt, AsBuiltList, Corner
from registry.records.reported_value import reported_length

__all__ = ["write_corner_notice", "write_marked"]

_WIDTH = 78


def write_marked(
    lat_deg: float, lon_deg: float, *, frame: ResolvedFrame, notation: permit.Notation, r95_m: float
) -> tuple[str, str]:
    """
    Write latitude and longitude with marks, or northing and easting on a grid, as a notice prints them.

    Examples
    --------
    >>> from registry.measure.datum import resolve
    >>> write_marked(34.0208333, -77.3351667, frame=resolve("WGS 84"), notation="dms", r95_m=0.9)
    ('34°01′15.000″ N', '077°20′06.600″ W')
    """
    if frame.projected:
        _, easting, northing = write_grid(lat_deg, lon_deg, grid=frame, r95_m=r95_m).split()
        return northing, easting
    write = {"dd": write_dd, "ddm": write_ddm, "dms": write_dms}[notation]
    parts = {"dd": Notation.DEGREES, "ddm": Notation.MINUTES, "dms": Notation.SECONDS}[notation]
    lat, north, lon, east = write(lat_deg, lon_deg, decimals=coordinate_decimals(parts, r95_m)).split()
    return f"{lat} {north}", f"{lon} {east}"


def write_corner_notice(built: AsBuiltList) -> bytes:
    """
    Write the areas of a permit.

    Parameters
    ----------
    built : AsBuiltList
        In the frame and notation that the reader takes; its positions were written by :func:`write_marked`.

    Returns
    -------
    bytes
        UTF-8 text, the same bytes for the same list. What a person typed stands on one line each.
    """
    paper = built.permit
    version = f", version in force from {paper.in_force_from}" if paper.in_force_from else ""
    lines = [
        *_wrapped(f"Fish haven (artificial reef) of {_plain(built.programme)}"),
        *_wrapped(f"Permit {_plain(paper.number)} of {_plain(paper.authority)}{version}"),
        *_wrapped(f"Positions: {built.form}"),
        *_wrapped(f"Depths: below {_plain(paper.chart_datum)}"),
        f"Written on {built.made_on}",
        "",
        *(line for caution in built.cautions for line in _wrapped(caution)),
    ]
    for area in built.areas:
        lines += ["", *_area(area, built)]
    lines += ["", "Digest of the journal's head:", built.journal_head]
    return ("\n".join(lines) + "\n").encode("utf-8", errors="replace")


def _area(area: AreaAsBuilt, built: AsBuiltList) -> Iterator[str]:
    name = _plain(area.area_id)
    yield name
    yield "-" * min(len(name), _WIDTH)
    rings: dict[str, list[Corner]] = {}
    for corner in area.corners:
        rings.setdefault(corner.ring, []).append(corner)
    for ring, corners in rings.items():
        yield f"{ring[:1].upper()}{ring[1:]}:"
        for corner in corners:
            yield f"  {corner.number:>3}  {', '.join(corner.text)}"
            if corner.written:
                yield f"       in the permit: {_plain(corner.written)}"
    yield ""
    yield from _wrapped(_described(area, rings))
    yield from _wrapped(f"Stated by the permit in {area.stated_in}; carried over by: {area.operation}.")
    if area.source:
        yield from _wrapped(f"The permit draws it in {_plain(area.source)}.")
    yield from _wrapped(_extent(area))
    yield from _wrapped(_contents(area, built))


def _described(area: AreaAsBuilt, rings: dict[str, list[Corner]]) -> str:
    """Go round the area in one sentence."""
    if area.radius:
        return f"A circle with a radius of {_plain(area.radius)} around {_unbroken(area.corners[0])}."
    lines = "lines of constant bearing" if area.edges == "rhumb" else "geodesic lines"
    parts = []
    for ring, corners in rings.items():
        first, *others = [_unbroken(corner) for corner in corners]
        course = "; thence to ".join([f"beginning at {first}", *others])
        less = "less the area" if "hole" in ring else "the area"
        parts.append(f"{less} bounded by {lines} {course}; and thence to the point of beginning")
    text = "; and ".join(parts)
    return f"{text[:1].upper()}{text[1:]}."


def _unbroken(corner: Corner) -> str:
    """Write a position in which no line ends between the digits and the hemisphere."""
    return ", ".join(part.replace(" ", "\N{NO-BREAK SPACE}") for part in corner.text)


def _extent(area: AreaAsBuilt) -> str:
    """Tell how far it reaches, as far as that can be told from its corners."""
    lon, lat = [corner.lon_deg for corner in area.corners], [corner.lat_deg for corner in area.corners]
    if area.radius or len(lon) < 2:
        return ""
    # Counted from the first corner, so that an area across the 180th meridian is as wide as it is.
    east = [(each - lon[0] + 180.0) % 360.0 - 180.0 for each in lon]
    middle = (min(lat) + max(lat)) / 2
    high_m = float(inverse(lon[0], min(lat), lon[0], max(lat))[0])
    wide_m = float(inverse(lon[0] + min(east), middle, lon[0] + max(east), middle)[0])
    return f"It reaches {high_m:.0f} m from south to north and {wide_m:.0f} m from west to east."


def _contents(area: AreaAsBuilt, built: AsBuiltList) -> str:
    datum, unit = _plain(built.permit.chart_datum), built.permit.reporting.length_unit
    asked = area.authorised_clearance
    authorised = f"Authorised minimum clearance: {_plain(asked) if asked else 'the permit states none'}."
    if not area.count:
        return f"No module lies in it yet. {authorised}"
    days = f"placed on {area.last_placed}"
    if area.first_placed != area.last_placed:
        days = f"placed from {area.first_placed} to {area.last_placed}"
    if area.clearance is None:
        least = "not known: a depth or height is not recorded"
    else:
        value, u95 = reported_length(area.clearance.value_m, area.clearance.u95_m, unit)
        least = f"{value} ± {u95} {unit} (95 %) below {datum}"
    modules = "1 module" if area.count == 1 else f"{area.count} modules"
    return f"{modules} of concrete, {days}. Least clearance: {least}. {authorised}"


def _wrapped(text: str) -> Sequence[str]:
    lines = textwrap.wrap(text, _WIDTH, break_long_words=False, break_on_hyphens=False)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _plain(text: str) -> str:
    """Make typed words stand on one line: no line end or control acts."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
