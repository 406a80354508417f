"""Packed angles taken apart: 3345.123 and 07812.456, 334507.38 and 0781227.36."""

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.angle_pair import canonical_text, quoted
from registry.records.written_position import WrittenAngle

__all__ = ["PACKED_SECONDS", "unpacked"]

#: The warning that goes with six and seven digits without a point.
PACKED_SECONDS = "Packed digits were read as degrees, minutes and seconds (DDMMSS)."


def unpacked(
    text: str, pair: tuple[WrittenAngle, WrittenAngle], warned: list[str]
) -> tuple[WrittenAngle, WrittenAngle]:
    """
    Take packed digits apart: DDMM.mmm and DDMMSS.ss, longitude with one digit of degrees more.

    Parameters
    ----------
    text : str
        What was given, verbatim, for messages.
    pair : tuple of WrittenAngle
        Latitude and longitude; those that are not packed come back as they are.
    warned : list of str
        Warnings, to which one may be added.

    Raises
    ------
    AmbiguousPositionError
        If the digits can be grouped in two ways, or one digit is missing.
    PositionTextError
        If they fit no way of packing.

    Examples
    --------
    >>> lat, lon = WrittenAngle(degrees="3345.123"), WrittenAngle(degrees="07812.456")
    >>> [(angle.degrees, angle.minutes) for angle in unpacked("", (lat, lon), [])]
    [('33', '45.123'), ('078', '12.456')]
    """
    if any(angle.minutes for angle in pair):
        for angle in pair:
            if len(angle.degrees.partition(".")[0]) > 3:
                raise PositionTextError(
                    f"{quoted(text)}: {angle.degrees} is no number of degrees.",
                    remedy="Write both angles in one notation.",
                )
        return pair
    whole = [len(angle.degrees.partition(".")[0]) for angle in pair]
    if max(whole) <= 3:
        return pair
    beyond = [width - degree_digits for width, degree_digits in zip(whole, (2, 3), strict=True)]
    pointed = any("." in angle.degrees for angle in pair)
    if beyond in ([2, 2], [4, 4]):
        if beyond == [4, 4] and not pointed:
            warned.append(PACKED_SECONDS)
        cut = _cut(pair[0], 2, beyond[0]), _cut(pair[1], 3, beyond[1])
        if not _like_grid(pair, cut):
            return cut
    if beyond[0] == beyond[1] and not pointed and beyond[0] in (5, 6, 7):
        raise _two_groupings(text, pair, beyond[0])
    if sorted(beyond) == [1, 2] or beyond == [1, 1]:
        raise _dropped_digit(text, pair, beyond)
    raise PositionTextError(
        f"{quoted(text)}: {pair[0].degrees} and {pair[1].degrees} fit no way of packing an angle"
        " (DDMM.mmm with DDDMM.mmm, DDMMSS with DDDMMSS).",
        remedy="Put blanks between degrees and minutes; grid coordinates need the code of their grid,"
        " as EPSG:32617 500000 3738168.",
    )


def _like_grid(pair: tuple[WrittenAngle, WrittenAngle], cut: tuple[WrittenAngle, WrittenAngle]) -> bool:
    """Tell whether bare digits that pack no angle are rather an easting and a northing."""
    bare = not any(angle.hemisphere or angle.sign for angle in pair)
    return bare and any(float(angle.minutes) >= 60 or float(angle.seconds or 0) >= 60 for angle in cut)


def _cut(angle: WrittenAngle, degree_digits: int, beyond: int) -> WrittenAngle:
    digits = angle.degrees
    minutes = digits[degree_digits:] if beyond == 2 else digits[degree_digits : degree_digits + 2]
    seconds = "" if beyond == 2 else digits[degree_digits + 2 :]
    return WrittenAngle(
        sign=angle.sign,
        degrees=digits[:degree_digits],
        minutes=minutes,
        seconds=seconds,
        hemisphere=angle.hemisphere,
    )


def _two_groupings(text: str, pair: tuple[WrittenAngle, WrittenAngle], beyond: int) -> PositionTextError:
    """Tell DDMM.mmmm without its point from DDMMSS.ss without its point."""
    readings = []
    for count in (2, 4):
        cut = []
        for angle, degree_digits in zip(pair, (2, 3), strict=True):
            at = degree_digits + count
            pointed = WrittenAngle(
                sign=angle.sign,
                degrees=f"{angle.degrees[:at]}.{angle.degrees[at:]}",
                hemisphere=angle.hemisphere,
            )
            cut.append(_cut(pointed, degree_digits, count))
        if all(float(angle.minutes) < 60 and float(angle.seconds or 0) < 60 for angle in cut):
            readings.append(canonical_text(cut[0], cut[1]))
    if not readings:
        return PositionTextError(
            f"{quoted(text)}: the packed digits give minutes of 60 or more.",
            remedy="Write the position with blanks and a decimal point.",
        )
    return AmbiguousPositionError(
        f"{quoted(text)} has lost its decimal points; its digits can be grouped as minutes or as seconds.",
        remedy="Type one of the readings.",
        readings=readings,
    )


def _dropped_digit(
    text: str, pair: tuple[WrittenAngle, WrittenAngle], beyond: list[int]
) -> AmbiguousPositionError:
    """Ask about packed minutes whose degrees have a digit too few."""
    padded = [
        angle
        if excess == 2
        else WrittenAngle(sign=angle.sign, degrees="0" + angle.degrees, hemisphere=angle.hemisphere)
        for angle, excess in zip(pair, beyond, strict=True)
    ]
    short = " and ".join(a.degrees for a, excess in zip(pair, beyond, strict=True) if excess == 1)
    return AmbiguousPositionError(
        f"{quoted(text)}: {short} is a digit short for packed degrees and minutes.",
        remedy="Type the degrees in full, two digits for latitude and three for longitude.",
        readings=(
            canonical_text(_cut(padded[0], 2, 2), _cut(padded[1], 3, 2)),
            f"The first digit of {short} was dropped, and only the source can tell which it was.",
        ),
    )
