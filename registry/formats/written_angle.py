"""
Latitude and longitude as people type them: degrees, minutes, seconds, signs, letters and words.

Only two angles whose axis and hemisphere the writer made plain become a position. Everything else is refused
with its fault or asked about.
"""

from itertools import product

from registry.errors import AmbiguousPositionError, PositionTextError
from registry.formats.angle_pair import ask_if_unset, canonical_text, check_fields, pair_position, quoted
from registry.formats.angle_tokens import AngleDraft, gather_angles
from registry.formats.packed_angle import unpacked
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["read_angles"]

_MISPLACED_DEGREE_SIGN = (
    "A degree sign stands after the minutes; the numbers were read as degrees and minutes."
)


def read_angles(
    text: str,
    plain: str,
    *,
    frame: str | None = None,
    epoch: float | None = None,
    extra_r95_m: float = 0.0,
    datum_unknown: bool = False,
    warnings: tuple[str, ...] = (),
) -> WrittenPosition:
    """
    Read two angles in any of the forms that people type.

    Parameters
    ----------
    text : str
        What was given, verbatim, for the record and for messages.
    plain : str
        The same with signs and blanks made plain and the words for datum and epoch taken out.

    Raises
    ------
    AmbiguousPositionError
        If a hemisphere is missing or contradicted, or digits can be grouped in two ways.
    PositionTextError
        If there are not two angles, or one of them cannot be an angle.
    """
    drafts = gather_angles(text, plain)
    lat, lon, first_is_lat, named = _axes(text, drafts)
    warned = list(warnings)
    pair = (_angle(text, lat, warned), _angle(text, lon, warned))
    pair = unpacked(text, pair, warned)
    if pair[0].notation != pair[1].notation:
        warned.append("Latitude and longitude are written in different notations.")
    for angle in pair:
        check_fields(text, angle)
    ask_if_unset(text, *pair)
    _settle_hemispheres(text, pair, lat, lon)
    return pair_position(
        text,
        *pair,
        notation=pair[0].notation,
        frame=frame,
        epoch=epoch,
        extra_r95_m=extra_r95_m,
        datum_unknown=datum_unknown,
        warnings=tuple(warned),
        sure=named or (first_is_lat and bool(pair[0].hemisphere and pair[1].hemisphere)),
    )


def _axes(text: str, drafts: list[AngleDraft]) -> tuple[AngleDraft, AngleDraft, bool, bool]:
    """Tell latitude from longitude: by letter, by label, else by their order."""
    for draft in drafts:
        if not draft.fields:
            raise PositionTextError(
                f"{quoted(text)}: a letter, label or sign stands without a number.",
                remedy="Write latitude and longitude, as 33 45.123 N 78 12.456 W.",
            )
        if draft.axis and draft.known_axis != draft.axis:
            raise PositionTextError(
                f"{quoted(text)}: the label and the letter {draft.hemisphere or 'O'} contradict each other.",
                remedy="Latitude takes N or S, longitude takes E or W.",
            )
    if len(drafts) == 1 and len(drafts[0].fields) > 3:
        raise _cannot_split(text, drafts[0].fields)
    if len(drafts) < 2:
        missing = "latitude" if drafts and drafts[0].known_axis == "lon" else "longitude"
        raise PositionTextError(
            f"{quoted(text)}: the {missing} is missing.", remedy="Give latitude and longitude in one text."
        )
    if len(drafts) > 2:
        raise PositionTextError(
            f"{quoted(text)} holds {len(drafts)} coordinates, not two.",
            remedy="Give one latitude and one longitude; a depth goes in its own field.",
        )
    first, second = drafts
    one, other = first.known_axis, second.known_axis
    if one and one == other:
        word = "latitudes" if one == "lat" else "longitudes"
        raise PositionTextError(
            f"{quoted(text)} holds two {word}.", remedy="Check the letters: one of N S, one of E W."
        )
    first_is_lat = one == "lat" or other == "lon" or not (one or other)
    lat, lon = (first, second) if first_is_lat else (second, first)
    return lat, lon, first_is_lat, bool(first.axis and second.axis)


def _cannot_split(text: str, fields: list[str]) -> PositionTextError:
    return PositionTextError(
        f"{quoted(text)}: {' '.join(fields)} cannot be told apart into degrees, minutes and seconds.",
        remedy="Write latitude and longitude with a comma or a letter between them.",
    )


def _angle(text: str, draft: AngleDraft, warned: list[str]) -> WrittenAngle:
    """Make an angle of the fields; the marks, where there are any, must stand in their order."""
    fields, marks = draft.fields, draft.marks
    if len(fields) > 3:
        raise _cannot_split(text, fields)
    if marks == ["", "°"]:
        if _MISPLACED_DEGREE_SIGN not in warned:
            warned.append(_MISPLACED_DEGREE_SIGN)
    elif any(mark and mark != "°'\""[i] for i, mark in enumerate(marks)):
        raise PositionTextError(
            f"{quoted(text)}: {''.join(f + m for f, m in zip(fields, marks, strict=True))} has its marks"
            " out of order.",
            remedy="Write degrees °, minutes ' and seconds \" in that order, none left out between.",
        )
    for i, digits in enumerate(fields[:-1]):
        if "." in digits:
            part = ("degrees", "minutes")[i]
            raise PositionTextError(
                f"{quoted(text)}: the {part} {digits} have decimals and are followed by {fields[i + 1]}.",
                remedy="Only the last part of an angle has decimals.",
            )
    for digits in fields[1:]:
        whole = digits.partition(".")[0]
        if len(whole) > 2 and (len(fields) == 2 or "." in digits or len(whole) > 6):
            raise PositionTextError(
                f"{quoted(text)}: {digits} has too many digits for minutes or seconds.",
                remedy="Write minutes and seconds with two digits before the point.",
            )
    if len(fields) == 3 and len(fields[2].partition(".")[0]) > 2:
        raise PositionTextError(
            f"{quoted(text)}: {fields[2]} is not seconds; the point of {fields[1]}.{fields[2]} minutes"
            " was probably lost.",
            remedy=f"Type {fields[0]} {fields[1]}.{fields[2]} if you mean that.",
        )
    degrees, minutes, seconds = (*fields, "", "")[:3]
    return WrittenAngle(
        sign=draft.sign, degrees=degrees, minutes=minutes, seconds=seconds, hemisphere=draft.hemisphere
    )


def _settle_hemispheres(
    text: str, pair: tuple[WrittenAngle, WrittenAngle], lat_draft: AngleDraft, lon_draft: AngleDraft
) -> None:
    """Refuse or ask unless both hemispheres are said exactly once."""
    lat, lon = pair
    if lon_draft.letter_o:
        letters = _own_letter(lat, "NS")
        raise AmbiguousPositionError(
            f"{quoted(text)}: the letter O is Oeste or Ouest (West) in some languages, Ost (East) in others.",
            remedy="Type W or E.",
            readings=(canonical_text(lat, lon, letters + "W"), canonical_text(lat, lon, letters + "E")),
        )
    if lat.sign and lat.hemisphere and (lat.sign, lat.hemisphere) != ("+", "N"):
        raise PositionTextError(
            f"{quoted(text)}: the sign {lat.sign} and the letter {lat.hemisphere} contradict or double each"
            " other.",
            remedy=f"Write {lat.hemisphere} without the sign, or the sign without the letter.",
        )
    signed_and_lettered = lon.sign and lon.hemisphere and (lon.sign, lon.hemisphere) != ("+", "E")
    dash_against_letter = lon_draft.dashed and lon.hemisphere == "E"
    if signed_and_lettered or dash_against_letter:
        letter = _own_letter(lat, "NS")
        other = "E" if lon.hemisphere == "W" else "W"
        order = (lon.hemisphere, other) if lon.hemisphere == "W" else (other, lon.hemisphere)
        raise AmbiguousPositionError(
            f"{quoted(text)}: the longitude has a sign and the letter {lon.hemisphere} together.",
            remedy="Write the sign or the letter, not both.",
            readings=tuple(canonical_text(lat, lon, letter + east_west) for east_west in order),
        )
    signs = bool(lat.sign or lon.sign) and not (lat.hemisphere or lon.hemisphere)
    # Longitudes that count from 0 to 360 east go with latitudes whose sign is written in the south only.
    counts_east = lon.hemisphere == "E" and _bare_value(lon) > 180 and lat_draft.axis == "lat"
    signs = signs or counts_east
    lat_known = bool(lat.hemisphere or lat.sign or (signs and not lat_draft.dashed))
    lon_known = bool(lon.hemisphere or lon.sign or (signs and not lon_draft.dashed))
    if lat_known and lon_known:
        return
    missing = " and ".join(
        word for word, known in (("latitude", lat_known), ("longitude", lon_known)) if not known
    )
    norths = _own_letter(lat, "NS") if lat_known else "NS"
    easts = _own_letter(lon, "EW") if lon_known else "WE"
    _refuse_too_large(text, lat, lon)
    raise AmbiguousPositionError(
        f"{quoted(text)}: the hemisphere of the {missing} is missing.",
        remedy="Type one of the readings.",
        readings=_hemisphere_readings(lat, lon, norths, easts),
    )


def _refuse_too_large(text: str, lat: WrittenAngle, lon: WrittenAngle) -> None:
    """Refuse, before asking for hemispheres, what no hemisphere can make an angle."""
    for angle, limit, word in ((lat, 90, "latitude"), (lon, 360, "longitude")):
        value = abs(_bare_value(angle))
        if value > limit:
            swapped = word == "latitude" and value <= 180 and abs(_bare_value(lon)) <= 90
            raise PositionTextError(
                f"{quoted(text)}: a {word} of {value:g} is over {limit}.",
                remedy="The two are probably swapped: write them with their letters."
                if swapped
                else "Check the number, and write it with its letter.",
            )


def _hemisphere_readings(lat: WrittenAngle, lon: WrittenAngle, norths: str, easts: str) -> tuple[str, ...]:
    if _bare_value(lon) > 180:  # only an east longitude counts on to 360
        easts = "E"
    # West stands first: who writes an east longitude loses nothing with the sign.
    return tuple(canonical_text(lat, lon, north + east) for north, east in product(norths, easts))


def _own_letter(angle: WrittenAngle, letters: str) -> str:
    """Give the hemisphere that an angle states by its letter or its sign; without either the positive one."""
    return angle.hemisphere or letters[1 if angle.sign == "-" else 0]


def _bare_value(angle: WrittenAngle) -> float:
    return WrittenAngle(degrees=angle.degrees, minutes=angle.minutes, seconds=angle.seconds).value_deg
