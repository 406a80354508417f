"""
Frames by name, projected coordinates, and the datum operations between frames.

An operation is a chain of EPSG operations asked for by number (see ``frames``), never the one that a search
happens to prefer, and its name travels with the result. Whatever would have to be guessed is an error: an
unknown frame, a missing epoch, a null operation between different datums, a grid file that is absent.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS, Transformer, proj_version_str
from pyproj.database import get_database_metadata
from pyproj.enums import TransformDirection
from pyproj.exceptions import CRSError

from registry.errors import FrameError
from registry.measure.frames import DIRECT_OPERATIONS, HUB, RESTLESS, Box, Frame, frame_of, in_box, refusal_of
from registry.measure.operations import (
    Leg,
    grid_leg,
    named_legs,
    require_every,
    reversed_leg,
    run,
    searched_leg,
    use_grids,
)

__all__ = [
    "ResolvedFrame",
    "Transformed",
    "decimal_year",
    "home_frame",
    "resolve",
    "software_version",
    "to_geographic",
    "transform",
    "use_grids",
]

Floats = NDArray[np.float64]

#: Epochs that a coordinate of this trade can have, the last not among them. Units: decimal year.
_EPOCHS = (1980.0, 2100.0)
#: How far outside its area of use a projection is still believed. Units: degrees.
_MARGIN_DEG = 6.0
_NAME_A_FRAME = (
    'Name a frame as "EPSG:6318" (NAD83(2011)), "EPSG:4326" (WGS 84 from a receiver) or by its name.'
)
_GIVE_EPOCH = "Give the epoch of the coordinates (for a fix, the day it was taken) with --epoch YEAR."


@dataclass(frozen=True, slots=True, kw_only=True)
class ResolvedFrame:
    """A coordinate reference system that was named, and what has to be known of it."""

    #: As asked for: the code of a projected system, or of the geographic one.
    code: str
    name: str
    #: Code of the geographic frame under it.
    base: str
    base_name: str
    #: True if the coordinates are easting and northing.
    projected: bool
    #: Unit of the axes, as "metre" or "US survey foot" or "degree", and its size (m, or radians).
    axis_unit: str
    axis_unit_size: float
    #: True if a fixed mark moves in it, so that its coordinates need an epoch.
    dynamic: bool
    #: Epoch of the coordinates of a plate-fixed frame, where one is conventional. Units: decimal year.
    epoch: float | None
    #: Where it is meant to be used: west, south, east, north in degrees.
    box: Box
    #: The row of the base frame in the table of frames, None if it has none.
    frame: Frame | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transformed:
    """Coordinates in the target frame, and how they were got."""

    #: Units: degrees. Not wrapped: a ring that runs on past 180 still does.
    lon_deg: Floats
    lat_deg: Floats
    #: The operations used, with their EPSG numbers, for the record.
    operation: str
    #: What the operation and an unnamed realisation may add to R95, the worst over the points. Units: m.
    accuracy_m: float
    #: Epoch of the result: the target's own if it is plate-fixed, else the one given. Units: decimal year.
    epoch: float | Floats | None
    #: True where a point lies outside the region of a frame, or where another realisation is in force. There
    #: the ground may ride on another plate than the frame does, which `accuracy_m` does not hold.
    outside: NDArray[np.bool_]
    #: Versions of PROJ and of its EPSG data.
    proj_version: str


@lru_cache(maxsize=1)
def software_version() -> str:
    """
    Name the versions of PROJ and of the EPSG data, for the record.

    Examples
    --------
    >>> software_version().startswith("PROJ 9.")
    True
    """
    return f"PROJ {proj_version_str}, EPSG {get_database_metadata('EPSG.VERSION')}"


def decimal_year(instant: datetime) -> float:
    """
    Express an instant as a decimal year, the time scale of datum operations.

    Definition: ``t = y + (d - d0) / (d1 - d0)`` with ``d0``, ``d1`` the first instants
    of the years ``y`` and ``y + 1``.

    Parameters
    ----------
    instant : datetime.datetime
        With its zone.

    Returns
    -------
    float
        Units: year.

    Raises
    ------
    FrameError
        If the instant has no zone, or is of a year in which no coordinate of this trade was or will be.

    Examples
    --------
    >>> round(decimal_year(datetime(2026, 11, 25, 12, tzinfo=UTC)), 4)
    2026.9
    """
    if instant.utcoffset() is None:
        raise FrameError(
            f"The time {instant} has no zone.", remedy='Give it with one, as "2026-11-25T12:00Z".'
        )
    moment = instant.astimezone(UTC)
    low, high = _EPOCHS
    if not low <= moment.year < high:
        what = (
            f"{instant.date().isoformat()} lies outside the years {low:.0f} to {high - 1:.0f}, "
            "for which coordinates can be carried between frames."
        )
        raise FrameError(what, remedy="Check the year of the date.")
    start, end = (datetime(moment.year + i, 1, 1, tzinfo=UTC) for i in (0, 1))
    return moment.year + (moment - start) / (end - start)


@lru_cache(maxsize=256)
def resolve(code: str) -> ResolvedFrame:
    """
    Find the frame that a code or a name means.

    Parameters
    ----------
    code : str
        "EPSG:nnnn" of a geographic or projected system, or a name as "NAD83(2011)". Case does not matter.

    Returns
    -------
    ResolvedFrame

    Raises
    ------
    FrameError
        If nothing or nothing usable has that name.

    Notes
    -----
    A frame can be resolved, and kept, for which :func:`transform` then refuses every operation.

    Examples
    --------
    >>> utm = resolve("EPSG:26918")
    >>> utm.name, utm.base, utm.axis_unit, utm.dynamic
    ('NAD83 / UTM zone 18N', 'EPSG:4269', 'metre', False)
    >>> resolve("WGS84").dynamic
    True
    """
    text = " ".join(code.split())
    row = frame_of(text)
    if row is not None:
        return _from_row(row)
    refused = refusal_of(text)
    try:
        crs = _crs(refused.codes[0] if refused else text)
    except FrameError as error:
        if refused is None:
            raise
        what = f"{refused.name} is not known to {software_version()}. {refused.reason}"
        raise FrameError(what, remedy=refused.remedy) from error
    base_crs = crs.geodetic_crs if crs.is_projected else crs
    if not (crs.is_geographic or crs.is_projected) or crs.is_compound or crs.is_bound or base_crs is None:
        what = f"{code} ({crs.name}) is a {crs.type_name}, not geographic or projected coordinates."
        raise FrameError(what, remedy=_NAME_A_FRAME)
    if crs.is_projected and [axis.direction for axis in crs.axis_info[:2]] not in (
        ["east", "north"],
        ["north", "east"],
    ):
        what = f"The axes of {code} ({crs.name}) do not run east and north."
        raise FrameError(what, remedy="Convert to longitude and latitude first, or use a UTM zone.")
    base_code = _authority_code(base_crs)
    row = frame_of(base_code)
    datum = base_crs.to_json_dict().get("datum", {})
    axis = crs.axis_info[0]
    area = crs.area_of_use
    return ResolvedFrame(
        code=_authority_code(crs),
        name=crs.name,
        base=row.code if row else base_code,
        base_name=row.name if row else base_crs.name,
        projected=crs.is_projected,
        axis_unit=axis.unit_name,
        axis_unit_size=axis.unit_conversion_factor,
        dynamic=not row.plate_fixed if row else datum.get("type") == "DynamicGeodeticReferenceFrame",
        epoch=row.epoch if row else None,
        box=area.bounds if area else (-180.0, -90.0, 180.0, 90.0),
        frame=row,
    )


def _from_row(row: Frame) -> ResolvedFrame:
    """Resolve a frame of the table, whose codes need no look-up in PROJ."""
    return ResolvedFrame(
        code=row.code,
        name=row.name,
        base=row.code,
        base_name=row.name,
        projected=False,
        axis_unit="degree",
        axis_unit_size=float(np.radians(1.0)),
        dynamic=not row.plate_fixed,
        epoch=row.epoch,
        box=row.box,
        frame=row,
    )


def _authority_code(crs: CRS) -> str:
    """Write the code of a system, which must be one of the EPSG register."""
    found = crs.to_authority(auth_name="EPSG", min_confidence=100)
    if found is None:
        raise FrameError(f"{crs.name} is not in the EPSG register.", remedy=_NAME_A_FRAME)
    return ":".join(found)


def _crs(text: str) -> CRS:
    """Ask PROJ for a code or an exact name; a bare number, a PROJ string or a near match is not one."""
    written_as_code = text.upper().startswith("EPSG:") and text[5:].isdigit()
    if text.isdigit():
        raise FrameError(f"The frame {text!r} is a bare number.", remedy=f'Write "EPSG:{text}" if it is one.')
    try:
        crs = CRS.from_user_input(text)
    except CRSError as error:
        raise FrameError(f"No frame is known as {text!r}.", remedy=_NAME_A_FRAME) from error
    if not written_as_code and crs.name.casefold() != text.casefold():
        raise FrameError(f"No frame is known as {text!r}.", remedy=_NAME_A_FRAME)
    return crs


def home_frame(code: str) -> ResolvedFrame:
    """
    Resolve a frame in which a registry may keep its coordinates for decades.

    Parameters
    ----------
    code : str
        As for :func:`resolve`.

    Returns
    -------
    ResolvedFrame
        Geographic, plate-fixed, of a known epoch, with an operation to ITRF2020.

    Raises
    ------
    FrameError
        If a fixed mark moves in it, if its realisation is not named, or if it is outside the table of frames.

    Examples
    --------
    >>> home_frame("EPSG:6318").epoch
    2010.0
    """
    found = resolve(code)
    row = found.frame
    remedy = "Choose a plate-fixed frame, as EPSG:6318 (NAD83(2011)) or EPSG:7844 (GDA2020)."
    refused = refusal_of(found.base)
    if found.projected:
        what = f"{found.code} ({found.name}) is a projection; a registry keeps longitude and latitude."
        raise FrameError(what, remedy=f"Use {found.base} ({found.base_name}), if it is plate-fixed.")
    if refused:
        raise FrameError(f"{found.name} cannot be a home frame. {refused.reason}", remedy=refused.remedy)
    if found.dynamic:
        what = f"In {found.name} the sea floor moves by centimetres a year, so coordinates would not keep."
        raise FrameError(what, remedy=remedy)
    if row is None or row.epoch is None or not row.to_itrf2020:
        what = (
            f"{found.name} cannot be a home frame: its realisation or its operation to ITRF2020 is not known."
        )
        raise FrameError(what, remedy=remedy)
    return found


def to_geographic(easting: ArrayLike, northing: ArrayLike, code: str) -> tuple[Floats, Floats]:
    """
    Turn easting and northing into longitude and latitude on the same datum.

    Parameters
    ----------
    easting, northing : array_like
        In the unit of the system's axes (see :class:`ResolvedFrame`); broadcast together.
    code : str
        A projected system, as "EPSG:26918".

    Returns
    -------
    lon_deg, lat_deg : numpy.ndarray
        In the geographic frame under the projection. Units: degrees.

    Raises
    ------
    FrameError
        If the system is not projected, a number is not finite, or a point falls far outside the area
        for which the projection is made, as feet read for metres do.

    Sources
    -------
    The projections are PROJ's; checked against published worked examples in the tests.

    Examples
    --------
    >>> lon, lat = to_geographic(326734.825, 5228847.071, "EPSG:6340")
    >>> f"{float(lat):.7f} {float(lon):.7f}"
    '47.1902778 -119.2872162'
    """
    found = resolve(code)
    if not found.projected:
        raise FrameError(f"{found.code} ({found.name}) has no easting and northing.", remedy=_NAME_A_FRAME)
    x, y = _arrays(easting, northing)
    finite = np.isfinite(x) & np.isfinite(y)
    require_every(finite, x, y, "is not an easting and a northing", "Give two numbers.", named=_pair)
    like_degrees = (np.abs(x) <= 360.0) & (np.abs(y) <= 90.0)
    degrees = f"looks like degrees, not {found.axis_unit} of {found.code} ({found.name})"
    remedy = f"Name the geographic frame {found.base} if it is in degrees."
    require_every(~like_degrees, x, y, degrees, remedy, named=_pair)
    transformer = _unprojection(found.code)
    lon, lat = (np.asarray(a) for a in transformer.transform(x, y))
    back_x, back_y = transformer.transform(lon, lat, direction=TransformDirection.INVERSE)
    slack = 0.01 / found.axis_unit_size
    west, south, east, north = found.box
    width = (east - west) % 360.0 or 360.0
    with np.errstate(invalid="ignore"):
        good = (np.abs(back_x - x) <= slack) & (np.abs(back_y - y) <= slack)
        good &= (lat >= south - _MARGIN_DEG) & (lat <= north + _MARGIN_DEG)
        good &= (lon - west + _MARGIN_DEG) % 360.0 <= width + 2 * _MARGIN_DEG
    what = f"falls far outside the area of {found.code} ({found.name})"
    remedy = f"Check the zone, and that the numbers are in its unit ({found.axis_unit})."
    require_every(good, x, y, what, remedy, named=_pair)
    return lon, lat


def _pair(easting: float, northing: float) -> str:
    return f"{easting}, {northing}"


@lru_cache(maxsize=64)
def _unprojection(code: str) -> Transformer:
    """Build the transformer from a projection to its own geographic system: no datum is touched."""
    crs = CRS.from_user_input(code)
    geographic = crs.geodetic_crs
    assert geographic is not None
    return Transformer.from_crs(crs, geographic, always_xy=True)


def transform(
    lon_deg: ArrayLike,
    lat_deg: ArrayLike,
    *,
    source: str,
    target: str,
    epoch: ArrayLike | None = None,
    anywhere: bool = False,
) -> Transformed:
    """
    Carry geographic coordinates from one frame to another.

    Parameters
    ----------
    lon_deg, lat_deg : array_like
        East and north positive; longitude from -360 to 360. Broadcast together. Units: degrees.
    source, target : str
        Frames as for :func:`resolve`; of a projected system, the geographic frame under it is meant.
    epoch : array_like, optional
        When the mark had these coordinates; one for all or one for each. Needed as soon as a frame on the
        way moves against the other. Units: decimal year.
    anywhere : bool
        True to carry points outside the region of a frame all the same, as far as the operation gives finite
        numbers: a slip at sea must be recorded before it can be named. `outside` of the result tells which.

    Returns
    -------
    Transformed
        Arrays of the broadcast shape, with the operation, its accuracy and the epoch of the result.

    Raises
    ------
    FrameError
        If a coordinate is out of range, or outside the frame's region without `anywhere`, the epoch is
        missing or no year, or no operation between the frames can be trusted.
    MissingGridError
        If the right operation needs a grid file that is absent.

    Notes
    -----
    The effect of the ellipsoidal height, taken as 0, is below 0.1 mm at sea.
    A plate-fixed coordinate belongs to its frame's own epoch; the operation assumes a mark that moves with
    the stable plate. Where the ground does not (``frames.RESTLESS``), ``accuracy_m`` grows with the years.
    "WGS 84" without a realisation is taken as ITRF2020, "NAD83" without one as NAD83(2011) with 1 m of doubt.

    Sources
    -------
    EPSG operations as named in the result; NGS station files in ``tests/published``.

    Examples
    --------
    >>> home = transform(-78.0, 33.0, source="WGS 84", target="NAD83(2011)", epoch=2026.9)
    >>> f"{float(home.lat_deg):.7f} {float(home.lon_deg):.7f}"
    '32.9999923 -77.9999931'
    >>> home.operation
    'EPSG:10334 ITRF2020 to NAD83(2011) (WGS 84 taken as ITRF2020)'
    >>> home.epoch
    2010.0
    """
    year = None if epoch is None else _checked_epoch(epoch)
    lon, lat = _arrays(lon_deg, lat_deg, *([] if year is None else [year]))
    good = (np.abs(lat) <= 90.0) & (np.abs(lon) <= 360.0)
    require_every(
        good, lon, lat, "is not a longitude and a latitude", "Give degrees, latitude from -90 to 90."
    )
    start, end = resolve(source), resolve(target)
    outside = _outside(start, lon, lat) | _outside(end, lon, lat)
    operation, doubt = "none: same frame", [0.0]
    if start.base != end.base:
        if not anywhere and outside.any():
            for found in (start, end):
                _check_region(found, lon, lat)
        legs = _route(start, end, lon, lat)
        moving = any(leg.needs_epoch for leg in legs)
        if year is None and (moving or start.dynamic != end.dynamic):
            what = f"Between {start.base_name} and {end.base_name} the ground moves, and no epoch was given."
            raise FrameError(what, remedy=_GIVE_EPOCH)
        operation = _told(start, end, legs)
        when = year if moving else None
        rows = {row.code: row for found in (start, end) for row in _behind(found)}
        doubt = [leg.accuracy_m for leg in legs] + [_doubt_m(row, lon, lat, when) for row in rows.values()]
        lon, lat = _run_all(legs, lon, lat, year)
    return Transformed(
        lon_deg=lon,
        lat_deg=lat,
        operation=operation,
        accuracy_m=float(np.sqrt(np.sum(np.square(doubt)))),
        epoch=_epoch_of(end, year),
        outside=outside,
        proj_version=software_version(),
    )


def _run_all(legs: list[Leg], lon: Floats, lat: Floats, year: Floats | None) -> tuple[Floats, Floats]:
    """Run the legs in turn on the ellipsoid, and keep a longitude on the turn that it was given in."""
    x, y, z = lon.ravel(), lat.ravel(), np.zeros(lon.size)
    t = None if year is None else np.broadcast_to(year, lon.shape).ravel().copy()
    for leg in legs:
        x, y, z = run(leg, x, y, z, t)
    x = x + 360.0 * np.round((lon.ravel() - x) / 360.0)
    return x.reshape(lon.shape), y.reshape(lon.shape)


def _told(start: ResolvedFrame, end: ResolvedFrame, legs: list[Leg]) -> str:
    """Tell the operation in the words that go into the record."""
    rows = [found.frame for found in (start, end) if found.frame is not None]
    notes = "; ".join(f"{row.name} taken as {resolve(row.taken_as).name}" for row in rows if row.taken_as)
    if not legs:
        return f"none: {notes}"
    steps = " + ".join(leg.label for leg in legs)
    return f"{steps} {_hub_name(start)} to {_hub_name(end)}" + (f" ({notes})" if notes else "")


def _epoch_of(end: ResolvedFrame, year: Floats | None) -> float | Floats | None:
    """The epoch of the result: the target's own if a mark keeps its coordinates in it, else the one given."""
    if not end.dynamic:
        return end.epoch
    return float(year) if year is not None and year.ndim == 0 else year


def _arrays(a: ArrayLike, b: ArrayLike, *others: Floats) -> tuple[Floats, Floats]:
    """Make two float arrays of the one shape to which all broadcast."""
    first, second, *_ = np.broadcast_arrays(np.asarray(a, dtype=float), np.asarray(b, dtype=float), *others)
    return first.copy(), second.copy()


def _checked_epoch(epoch: ArrayLike) -> Floats:
    """Refuse what is no decimal year: a Unix time, a modified Julian day, infinity."""
    year = np.asarray(epoch, dtype=float)
    low, high = _EPOCHS
    good = (year >= low) & (year < high)
    if not np.all(good):
        bad = year.ravel()[int(np.argmin(good.ravel()))]
        what = f"The epoch {bad:g} is no decimal year of {low:.0f} to {high - 1:.0f}."
        raise FrameError(what, remedy="Give it as 2026.9, with --epoch YEAR.")
    return year


def _outside(found: ResolvedFrame, lon: Floats, lat: Floats) -> NDArray[np.bool_]:
    """Tell which points lie far from the plate of a frame, or where another realisation is in force."""
    row = found.frame
    if row is None or not row.plate_fixed:
        return np.zeros(lon.shape, dtype=bool)
    out = ~in_box(lon, lat, row.box)
    for box, _ in row.elsewhere:
        out |= in_box(lon, lat, box)
    return out


def _check_region(found: ResolvedFrame, lon: Floats, lat: Floats) -> None:
    """Refuse a plate-fixed frame far from its plate, or where another realisation is in force."""
    row = found.frame
    if row is None or not row.plate_fixed:
        return
    remedy = f"{row.name} is for: {row.region} Check the signs and the frame."
    require_every(in_box(lon, lat, row.box), lon, lat, f"lies outside the region of {row.name}", remedy)
    for box, code in row.elsewhere:
        other = resolve(code)
        remedy = f"Name {code} ({other.name}) if the coordinates are in it."
        what = f"lies where {other.name} is in force, not {row.name}"
        require_every(~in_box(lon, lat, box), lon, lat, what, remedy)


def _behind(found: ResolvedFrame) -> list[Frame]:
    """List the frame itself and those that it is taken as, in turn."""
    rows, row = [], found.frame
    while row is not None:
        rows.append(row)
        row = frame_of(row.taken_as) if row.taken_as else None
    return rows


def _doubt_m(row: Frame, lon: Floats, lat: Floats, year: Floats | None) -> float:
    """What a frame leaves open at the worst of the points: its realisation, and ground that moves in it."""
    rate = 0.0 if row.taken_as else row.residual_m_per_year
    for zone in RESTLESS:
        if not row.taken_as and row.code in zone.frames and bool(np.any(in_box(lon, lat, zone.box))):
            rate = max(rate, zone.m_per_year)
    years = 0.0 if year is None or row.epoch is None else float(np.max(np.abs(year - row.epoch), initial=0.0))
    return float(np.hypot(row.extra_r95_m, rate * years))


def _hub_name(found: ResolvedFrame) -> str:
    """Name the frame from which the numbered operations start, behind a name that is taken for it."""
    row = found.frame
    while row is not None and row.taken_as and not row.grid_operations:
        row = frame_of(row.taken_as)
    return row.name if row else found.base_name


def _route(start: ResolvedFrame, end: ResolvedFrame, lon: Floats, lat: Floats) -> list[Leg]:
    """Find the legs from one frame to the other: grids down to the modern frames, then over the hub."""
    for found in (start, end):
        refused = refusal_of(found.base)
        if refused:
            raise FrameError(f"{refused.name} has no operation here. {refused.reason}", remedy=refused.remedy)
    first_legs, here = _modern(start, lon, lat)
    last_legs, there = _modern(end, lon, lat)
    if here == there:
        middle: list[Leg] = []
    elif (here, there) in DIRECT_OPERATIONS:
        middle = named_legs(DIRECT_OPERATIONS[here, there], here, there)
    elif (there, here) in DIRECT_OPERATIONS:
        chain = tuple(-n for n in reversed(DIRECT_OPERATIONS[there, here]))
        middle = named_legs(chain, here, there)
    else:
        middle = _over_hub(here, there, lon, lat)
    return [*first_legs, *middle, *(reversed_leg(leg) for leg in reversed(last_legs))]


def _modern(found: ResolvedFrame, lon: Floats, lat: Floats) -> tuple[list[Leg], str]:
    """Follow what a frame is taken as, through a grid where it is an old datum."""
    legs: list[Leg] = []
    row, code = found.frame, found.base
    while row is not None and row.taken_as:
        if row.grid_operations:
            legs.append(grid_leg(row, lon, lat))
        code = row.taken_as
        row = frame_of(code)
    return legs, code


def _over_hub(here: str, there: str, lon: Floats, lat: Floats) -> list[Leg]:
    """Go to ITRF2020 and on; in one transformer where both frames are in the table."""
    a, b = frame_of(here), frame_of(there)
    if a is not None and b is not None:
        return named_legs((*a.to_itrf2020, *(-n for n in reversed(b.to_itrf2020))), here, there)
    legs = []
    for code, row, inward in ((here, a, True), (there, b, False)):
        if row is None:
            leg = searched_leg(code, resolve(code).base_name, lon, lat)
            legs.append(leg if inward else reversed_leg(leg))
        elif row.to_itrf2020:
            chain = row.to_itrf2020 if inward else tuple(-n for n in reversed(row.to_itrf2020))
            legs += named_legs(chain, here if inward else HUB, HUB if inward else there)
    return legs
