"""
Coordinates as papers print them: the same digits and the same letters in every language.

A receiver shows 34° 01.157′ N, with a point and with the letters N, S, E and W, whatever language its owner
speaks; so does this notation on every paper. Translated letters would send people to another place: O is
west in Spanish and French but east in German, and N is south in Vietnamese. The comma of other languages
would part one number in two. Where a paper says the hemispheres in its language, it says them in whole words.
"""

from registry.documents.language import Language, wording
from registry.measure.digits import Notation, coordinate_decimals, split_degrees, split_minutes

__all__ = ["decimal_degrees", "degrees_minutes", "minutes_text", "wrapped"]


def degrees_minutes(lat_deg: float, lon_deg: float, r95_m: float) -> list[str]:
    """
    Write a position as receivers show it, with the digits that its radius supports.

    Examples
    --------
    >>> degrees_minutes(33.9999999, 282.5, 5.0)
    ['34° 00.0000′ N', '077° 30.0000′ W']
    """
    places = coordinate_decimals(Notation.MINUTES, r95_m)
    return [
        minutes_text(lat_deg, places, "NS", width=2),
        minutes_text(wrapped(lon_deg), places, "EW", width=3),
    ]


def minutes_text(value_deg: float, places: int, hemispheres: str, *, width: int = 1) -> str:
    """Write one coordinate in degrees and minutes; `hemispheres` are the letters of + and -."""
    degrees, minutes, _ = split_minutes(value_deg, places)
    return f"{degrees:0{width}d}° {minutes}′ {hemispheres[value_deg < 0]}"


def decimal_degrees(lat_deg: float, lon_deg: float, r95_m: float, language: Language) -> list[str]:
    """
    Write a position in decimal degrees, the hemispheres as whole words; in English as letters.

    Examples
    --------
    >>> from registry.documents.language import language_of
    >>> decimal_degrees(-0.5, 180.0, 5.0, language_of("en"))
    ['0.50000° S', '180.00000° W']
    >>> decimal_degrees(34.1, -77.2, 5.0, language_of("fr"))
    ['34.10000° nord', '77.20000° ouest']
    """
    places = coordinate_decimals(Notation.DEGREES, r95_m)
    lon_deg = wrapped(lon_deg)
    north = wording("{degrees}° S") if lat_deg < 0 else wording("{degrees}° N")
    east = wording("{degrees}° W") if lon_deg < 0 else wording("{degrees}° E")
    return [
        language.say(north, degrees=split_degrees(lat_deg, places)),
        language.say(east, degrees=split_degrees(lon_deg, places)),
    ]


def wrapped(lon_deg: float) -> float:
    """Give a longitude from -180 to below 180."""
    return lon_deg if -180 <= lon_deg < 180 else (lon_deg + 180) % 360 - 180
