"""
What happens when a position was mistyped? Where else it would lie, had one of the common slips been made.

Each alternative undoes one slip. Only geography can tell whether a slip was made: the caller shows those
alternatives that fall inside a permit area when the position as written does not.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["Slip", "likely_slips"]

#: Positions closer than this are the same. Units: degrees.
_SAME_DEG = 1e-11


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """One way in which the text may have gone wrong, and where the position would then lie."""

    #: A word for programs, as "axes-swapped".
    name: str
    #: What would have happened, for a person.
    sentence: str
    #: In the frame of the text. Units: degrees.
    lat_deg: float
    lon_deg: float


def likely_slips(written: WrittenPosition) -> tuple[Slip, ...]:
    """
    List where a position would lie if one common slip were undone, the likelier slips first.

    Parameters
    ----------
    written : WrittenPosition
        A position read from text.

    Returns
    -------
    tuple of Slip
        Without duplicates and without the position as written; empty for a grid coordinate, which has no
        written angles.

    Notes
    -----
    The order is common practice, no source: a lost hemisphere, swapped axes, a confusion of notations, the
    sign taken for the degrees only, two neighbouring digits transposed.

    Examples
    --------
    >>> angles = (WrittenAngle(degrees="33.45123"), WrittenAngle(sign="-", degrees="78.12456"))
    >>> typed = WrittenPosition(
    ...     text="33.45123, -78.12456", lat_deg=33.45123, lon_deg=-78.12456, notation="dd", angles=angles,
    ...     resolution_lat_deg=1e-5, resolution_lon_deg=1e-5,
    ... )
    >>> slip = next(slip for slip in likely_slips(typed) if slip.name == "minutes-as-decimals")
    >>> round(slip.lat_deg, 5), round(slip.lon_deg, 4)
    (33.75205, -78.2076)
    """
    if written.angles is None:
        return ()
    lat, lon = written.angles
    slips: list[Slip] = []
    for slip in _candidates(lat, lon):
        known = [(written.lat_deg, written.lon_deg), *((s.lat_deg, s.lon_deg) for s in slips)]
        if abs(slip.lat_deg) > 90 or abs(slip.lon_deg) > 180:
            continue
        if all(max(abs(slip.lat_deg - a), abs(slip.lon_deg - b)) > _SAME_DEG for a, b in known):
            slips.append(slip)
    return tuple(slips)


def _candidates(lat: WrittenAngle, lon: WrittenAngle) -> Iterator[Slip]:
    lat_deg, lon_deg = lat.value_deg, lon.value_deg
    west, east = ("W or minus", "E") if lon_deg >= 0 else ("E", "W or minus")
    south, north = ("S or minus", "N") if lat_deg >= 0 else ("N", "S or minus")
    yield _slip(
        "longitude-hemisphere", f"The longitude was meant with {west}, not {east}.", lat_deg, -lon_deg
    )
    yield _slip(
        "latitude-hemisphere", f"The latitude was meant with {south}, not {north}.", -lat_deg, lon_deg
    )
    yield _slip("both-hemispheres", "Both hemispheres were mistaken.", -lat_deg, -lon_deg)
    yield _slip("axes-swapped", "Latitude and longitude were swapped.", lon_deg, lat_deg)
    yield from _other_notations(lat, lon)
    yield from _sign_on_degrees(lat, lon)
    for axis, angle in (("latitude", lat), ("longitude", lon)):
        for swapped in _transposed(angle):
            value = swapped.value_deg
            yield _slip(
                f"{axis}-digits-transposed",
                f"Two neighbouring digits of the {axis} were transposed:"
                f" {_digits(angle)} was typed for {_digits(swapped)}.",
                value if axis == "latitude" else lat_deg,
                value if axis == "longitude" else lon_deg,
            )


def _slip(name: str, sentence: str, lat_deg: float, lon_deg: float) -> Slip:
    return Slip(name=name, sentence=sentence, lat_deg=lat_deg, lon_deg=lon_deg)


def _digits(angle: WrittenAngle) -> str:
    return " ".join(filter(None, (angle.degrees, angle.minutes, angle.seconds)))


def _other_notations(lat: WrittenAngle, lon: WrittenAngle) -> Iterator[Slip]:
    """Take the digits of both angles for another notation."""
    ways = (
        ("minutes-as-decimals", _as_minutes, "Minutes were typed behind the decimal point of the degrees"),
        (
            "seconds-as-decimals",
            _as_seconds,
            "Minutes and seconds were typed behind the point of the degrees",
        ),
        ("seconds-as-minutes", _as_minutes_and_seconds, "Seconds were typed as decimals of the minutes"),
        ("minutes-as-seconds", _as_decimal_minutes, "Decimals of the minutes were typed as seconds"),
        ("decimals-as-minutes", _as_decimals, "Decimals of the degrees were typed as minutes"),
    )
    for name, way, sentence in ways:
        meant_lat, meant_lon = way(lat), way(lon)
        if meant_lat and meant_lon:
            meant = f"{_digits(meant_lat)} and {_digits(meant_lon)}"
            yield _slip(name, f"{sentence}: {meant} were meant.", meant_lat.value_deg, meant_lon.value_deg)


def _point(digits: str, at: int) -> str:
    """Set the decimal point after so many digits, filling up with zeros."""
    digits = digits.ljust(at, "0")
    return digits[:at] + (f".{digits[at:]}" if digits[at:] else "")


def _checked(angle: WrittenAngle) -> WrittenAngle | None:
    minutes, seconds = float(angle.minutes or 0), float(angle.seconds or 0)
    return angle if minutes < 60 and seconds < 60 else None


def _as_minutes(angle: WrittenAngle) -> WrittenAngle | None:
    """33.45123 for 33 45.123."""
    degrees, _, fraction = angle.degrees.partition(".")
    if angle.minutes or not fraction:
        return None
    return _checked(replace(angle, degrees=degrees, minutes=_point(fraction, 2)))


def _as_seconds(angle: WrittenAngle) -> WrittenAngle | None:
    """33.450738 for 33 45 07.38."""
    degrees, _, fraction = angle.degrees.partition(".")
    if angle.minutes or len(fraction) < 3:
        return None
    minutes, seconds = fraction[:2], _point(fraction[2:], 2)
    return _checked(replace(angle, degrees=degrees, minutes=minutes, seconds=seconds))


def _as_minutes_and_seconds(angle: WrittenAngle) -> WrittenAngle | None:
    """30.500 for 30 50.0."""
    minutes, _, fraction = angle.minutes.partition(".")
    if angle.seconds or not fraction:
        return None
    return _checked(replace(angle, minutes=minutes, seconds=_point(fraction, 2)))


def _as_decimal_minutes(angle: WrittenAngle) -> WrittenAngle | None:
    """30 50.0 for 30.500."""
    if not angle.seconds:
        return None
    whole, _, fraction = angle.seconds.partition(".")
    return replace(angle, minutes=f"{angle.minutes}.{whole.zfill(2)}{fraction}", seconds="")


def _as_decimals(angle: WrittenAngle) -> WrittenAngle | None:
    """33 45.123 for 33.45123."""
    if not angle.minutes:
        return None
    digits = "".join(
        part.zfill(2) + fraction
        for part, _, fraction in (field.partition(".") for field in (angle.minutes, angle.seconds) if field)
    )
    return replace(angle, degrees=f"{angle.degrees}.{digits}", minutes="", seconds="")


def _sign_on_degrees(lat: WrittenAngle, lon: WrittenAngle) -> Iterator[Slip]:
    """The minutes were added to negative degrees by whoever computed the position: undo it, and do it."""
    for name, pair in (
        ("sign-on-degrees", (lat, lon)),
        ("longitude-sign-on-degrees", (None, lon)),
        ("latitude-sign-on-degrees", (lat, None)),
    ):
        values = [
            original.value_deg if angle is None else _degrees_signed_alone(angle)
            for angle, original in zip(pair, (lat, lon), strict=True)
        ]
        yield _slip(
            name, "The minus was taken for the degrees only, and the rest was added.", values[0], values[1]
        )


def _degrees_signed_alone(angle: WrittenAngle) -> float:
    """Mirror a negative angle's part beyond its whole degrees: -80.1132 and -79.8868 give each other."""
    value = angle.value_deg
    if value >= 0:
        return value
    if angle.minutes:
        return -2.0 * int(angle.degrees) - value
    # Already computed to decimal degrees, -79.8868 comes from -80 and +0.1132: its mirror is -80.1132.
    whole = int(-value) + 1
    return -2.0 * whole - value if value != int(value) else value


def _transposed(angle: WrittenAngle) -> Iterator[WrittenAngle]:
    """Swap each pair of neighbouring digits, also across a point or a mark."""
    fields = (angle.degrees, angle.minutes, angle.seconds)
    written = "|".join(fields)
    places = [i for i, character in enumerate(written) if character.isdigit()]
    for left, right in pairwise(places):
        if written[left] == written[right]:
            continue
        characters = list(written)
        characters[left], characters[right] = characters[right], characters[left]
        degrees, minutes, seconds = "".join(characters).split("|")
        if swapped := _checked(replace(angle, degrees=degrees, minutes=minutes, seconds=seconds)):
            yield swapped
