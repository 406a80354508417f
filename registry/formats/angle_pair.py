"""
From two written angles to a position: the checks that every notation of latitude and longitude shares.

A text is refused when a number in it cannot be an angle, and asked about when it can be read in two ways:
poleward of the polar circles with the axes probably swapped, or zero and zero, which an unset field gives.
"""

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.records.written_position import MINUTES_AS_DECIMALS, Notation, WrittenAngle, WrittenPosition

__all__ = ["ask_if_unset", "canonical_text", "check_fields", "pair_position", "quoted"]

#: Poleward of this no memorial reef stands, and a swapped pair is likelier. Common practice, no source.
POLAR_DEG = 66.0


def quoted(text: str) -> str:
    """Show what was given, cut to a line, without anything that a screen cannot show."""
    shown = "".join(c if c.isprintable() else " " for c in text.strip())
    return f"“{shown[:77]}…”" if len(shown) > 78 else f"“{shown}”"


def canonical_text(lat: WrittenAngle, lon: WrittenAngle, hemispheres: str = "") -> str:
    """
    Write two angles, latitude first, with letters that leave no doubt, keeping every digit.

    Examples
    --------
    >>> lat, lon = WrittenAngle(degrees="33", minutes="45.123"), WrittenAngle(sign="-", degrees="078")
    >>> canonical_text(lat, lon, "N")
    '33 45.123 N 078 W'
    """
    letters = hemispheres.ljust(2)
    return f"{_lettered(lat, 'NS', letters[0])} {_lettered(lon, 'EW', letters[1])}"


def _lettered(angle: WrittenAngle, pair: str, letter: str) -> str:
    own = angle.hemisphere if angle.hemisphere in pair else ""
    letter = letter.strip() or own or (pair[1] if angle.sign == "-" else pair[0])
    return " ".join(filter(None, (angle.degrees, angle.minutes, angle.seconds, letter)))


def pair_position(
    text: str,
    lat: WrittenAngle,
    lon: WrittenAngle,
    *,
    notation: Notation,
    frame: str | None = None,
    epoch: float | None = None,
    stated_r95_m: float | None = None,
    extra_r95_m: float = 0.0,
    datum_unknown: bool = False,
    warnings: tuple[str, ...] = (),
    sure: bool = False,
) -> WrittenPosition:
    """
    Make a position of two written angles whose axes and hemispheres are known.

    Parameters
    ----------
    text : str
        What was given, verbatim.
    lat, lon : WrittenAngle
        The two angles. Degrees are whole numbers where minutes are written.
    sure : bool
        True where the writer named both axes beyond doubt, latitude first or by a word, so that a polar
        position is not questioned.

    Raises
    ------
    AmbiguousPositionError
        For 0, 0 without letters, and for a polar position whose swap would be an ordinary one.
    PositionTextError
        For minutes or seconds of 60 and more, and for angles out of range.
    """
    for angle in (lat, lon):
        check_fields(text, angle)
    lat_deg, lon_deg = lat.value_deg, lon.value_deg
    _check_range(text, lat, lon, lat_deg, lon_deg)
    ask_if_unset(text, lat, lon)
    if not sure and abs(lat_deg) > POLAR_DEG >= abs(lon_deg):
        raise AmbiguousPositionError(
            f"{quoted(text)} read as written lies at latitude {lat_deg:g}, near a pole:"
            " latitude and longitude are probably swapped.",
            remedy="Type one of the readings.",
            readings=_swap_readings(lat, lon),
        )
    if lat_deg == 0 and lon_deg == 0:
        warnings = (*warnings, "Zero latitude and longitude is what an unset field gives.")
    if _like_minutes(lat, lon):
        warnings = (*warnings, MINUTES_AS_DECIMALS)
    return WrittenPosition(
        text=text,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        notation=notation,
        frame=frame,
        epoch=epoch,
        stated_r95_m=stated_r95_m,
        resolution_lat_deg=lat.resolution_deg,
        resolution_lon_deg=lon.resolution_deg,
        extra_r95_m=extra_r95_m,
        datum_unknown=datum_unknown,
        warnings=warnings,
        angles=(lat, lon),
    )


def ask_if_unset(text: str, lat: WrittenAngle, lon: WrittenAngle) -> None:
    """
    Ask about zero latitude and longitude.

    Raises
    ------
    AmbiguousPositionError
        For 0, 0 without letters.
    """
    if lat.value_deg == 0 and lon.value_deg == 0 and not (lat.hemisphere and lon.hemisphere):
        raise AmbiguousPositionError(
            f"{quoted(text)} is zero latitude and longitude, which an unset field gives.",
            remedy="Look the position up, or confirm it by typing it with letters.",
            readings=("The field was never filled in: look the position up.", canonical_text(lat, lon)),
        )


def check_fields(text: str, angle: WrittenAngle) -> None:
    """
    Refuse minutes and seconds that are not under 60.

    Raises
    ------
    PositionTextError
        With the number, and the remedy where its fault can be guessed.
    """
    if not angle.minutes:
        return
    if float(angle.minutes) >= 60:
        raise PositionTextError(
            f"{quoted(text)}: minutes {angle.minutes} are not under 60.",
            remedy="Check the minutes; 60.000 must be carried to the next degree.",
        )
    if angle.seconds and float(angle.seconds) >= 60:
        lost = "." not in angle.seconds and len(angle.seconds) > 2
        raise PositionTextError(
            f"{quoted(text)}: seconds {angle.seconds} are not under 60"
            + (f", the point of {angle.minutes}.{angle.seconds} minutes was probably lost." if lost else "."),
            remedy=f"Type {angle.degrees} {angle.minutes}.{angle.seconds} if you mean decimal minutes."
            if lost
            else "Check the seconds; 60.00 must be carried to the next minute.",
        )


def _check_range(text: str, lat: WrittenAngle, lon: WrittenAngle, lat_deg: float, lon_deg: float) -> None:
    if abs(lat_deg) > 90:
        remedy = "Latitude runs from 90 S to 90 N."
        if abs(lat_deg) <= 180 and abs(lon_deg) <= 90 and not (lat.hemisphere or lon.hemisphere):
            swapped = canonical_text(lon, lat)
            remedy = f"The two are probably swapped: type {swapped} if you mean that."
        raise PositionTextError(f"{quoted(text)}: a latitude of {lat_deg:g} is over 90.", remedy=remedy)
    if abs(lon_deg) > 180:
        raise PositionTextError(
            f"{quoted(text)}: a longitude of {lon_deg:g} is over 180.",
            remedy="Longitude runs from 180 W to 180 E; one from 0 to 360 needs the letter E.",
        )


def _swap_readings(lat: WrittenAngle, lon: WrittenAngle) -> tuple[str, str]:
    as_written = canonical_text(lat, lon)
    if lat.hemisphere and lon.hemisphere:  # the letters are swapped: the digits stand where they belong
        return canonical_text(lon, lat, lat.hemisphere + lon.hemisphere), as_written
    return canonical_text(_bare(lon), _bare(lat)), as_written


def _bare(angle: WrittenAngle) -> WrittenAngle:
    """Forget the letter, which belongs to the other axis; keep the sign that it stands for."""
    sign = "-" if angle.sign == "-" or angle.hemisphere in ("S", "W") else angle.sign
    return WrittenAngle(sign=sign, degrees=angle.degrees, minutes=angle.minutes, seconds=angle.seconds)


def _like_minutes(lat: WrittenAngle, lon: WrittenAngle) -> bool:
    if lat.minutes or lon.minutes:
        return False
    lat_decimals, lon_decimals = lat.degrees.partition(".")[2], lon.degrees.partition(".")[2]
    return (
        2 <= len(lat_decimals) == len(lon_decimals) <= 6 and lat_decimals[0] < "6" and lon_decimals[0] < "6"
    )
