"""
The visit sheet: one page to take aboard, and the same words for a terminal.

Every word on it is data; no number has a digit beyond its uncertainty; the same visit makes the same bytes.
"""

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import segno

from registry.documents.glyphs import FONT_FILES, SCRIPTS, missing_glyphs
from registry.documents.reef_plan import draw_neighbours, draw_reef
from registry.documents.typeset import noon_of, typeset
from registry.errors import UnprintableTextError
from registry.measure.digits import metres_decimals, u95_rounded_up_m
from registry.measure.movement import Motion
from registry.records.public_wording import CAUTIONS, FRAME
from registry.records.reported_value import reported_length
from registry.records.visit import Course, Seen, Visit, Water

__all__ = ["VisitTexts", "render_visit", "seen_words", "visit_texts"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
_NAUTICAL_MILE_M = 1852.0
#: No boat steers by less than a hundredth of a mile, 18.5 m.
_MOST_MILE_DECIMALS = 2
_QR_QUIET = 4
#: Sides of a plan: where words are many, plans give way. Units: mm.
_PLAN_SIDES_MM = (66, 56, 46)
_HEAD_DIGITS = 16
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip

#: What goes before the public cautions on a sheet that leads somebody to sea.
_COURSE_CAUTION = (
    "Distance and bearing are those of a straight line over the earth, not of a route: it may cross land, "
    "shoals and closed waters."
)
_REEF_CAUTION = "Whether to sail and to dive is for the skipper and the dive leader to decide on the day."


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitTexts:
    """What a visit sheet says, in words."""

    title: str
    subtitle: str
    #: Label and words of the way there, the water and the light.
    way: tuple[tuple[str, str], ...]
    #: Rows of time, kind, tide, depth of the seabed, water over the module's top; none without a tide.
    water: tuple[tuple[str, str, str, str, str], ...]
    water_note: str
    seen: tuple[str, ...]
    cautions: tuple[str, ...]


def visit_texts(visit: Visit) -> VisitTexts:
    """
    Put a visit into words.

    Parameters
    ----------
    visit : Visit
        What is known.
    """
    day = f"{_DAYS[visit.day.weekday()]}, {_day(visit.day)}"
    depths = [
        ("Charted depth", _water(visit.charted, visit.chart_datum)),
        ("Over the module", _water(visit.charted_over, visit.chart_datum)),
    ]
    epoch = f"{visit.position.epoch:.1f}"
    within = f"Within {_metres(visit.position.r95_m)} (95 %), {FRAME} at epoch {epoch}"
    return VisitTexts(
        title=f"Visit to {visit.tag}",
        subtitle=f"{day} · {visit.reef} · placed on {_day(visit.placed_on)}",
        way=(
            (f"From {visit.course.name}", _distance(visit.course)),
            ("Bearing", _bearing(visit.course)),
            ("Position", within),
            *depths,
            ("Sun", _sun(visit)),
        ),
        water=tuple(
            (
                f"{each.at.astimezone(ZoneInfo(visit.zone)):%H:%M}",
                each.kind,
                _both(Water(value_m=each.tide_m, u95_m=visit.tide.u95_m if visit.tide else 0.0)),
                _both(each.depth),
                _both(each.over),
            )
            for each in visit.expected
        ),
        water_note=_water_note(visit),
        seen=tuple(map(seen_words, visit.seen)) or ("No later survey of this module is recorded.",),
        cautions=(_COURSE_CAUTION, *CAUTIONS, _REEF_CAUTION),
    )


def render_visit(visit: Visit, positions: Sequence[str], geo: str, font_folder: Path) -> bytes:
    """
    Print the sheet.

    Parameters
    ----------
    visit : Visit
        What it says.
    positions : sequence of str
        The position in the notations that are printed, the first in large letters.
    geo : str
        The same as a geo URI, for the code.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.

    Returns
    -------
    bytes
        A PDF file of one A4 page, PDF/A-2a and PDF/UA-1.

    Raises
    ------
    UnprintableTextError
        If a text holds characters for which the shipped fonts have no glyphs, or the words need two pages.
    UnreadableFileError
        If a font file is absent.
    """
    import typst

    data = _page_data(visit, positions, geo)
    shown = json.dumps(
        {key: value for key, value in data.items() if key not in _NOT_WORDS}, ensure_ascii=False
    )
    missing = missing_glyphs(shown, font_folder)
    if missing:
        what = (
            f"The visit sheet of {visit.tag} holds characters that cannot be printed: {', '.join(missing)}."
        )
        raise UnprintableTextError(what, remedy=f"Write them in {SCRIPTS} letters.")
    for side_mm in _PLAN_SIDES_MM:
        try:
            return typeset(
                _TEMPLATE, data | {"plan_mm": side_mm}, font_folder=font_folder, made_at=noon_of(visit.day)
            )
        except typst.TypstError as error:
            if "more than one page" not in error.message:
                raise
    what = f"The visit sheet of {visit.tag} needs more than one page."
    raise UnprintableTextError(what, remedy="Shorten the notes, or the words to visitors.")


#: Parts of the page's data that are drawings or names of fonts.
_NOT_WORDS = {"fonts", "qr", "reef_plan", "near_plan", "day"}


def _page_data(visit: Visit, positions: Sequence[str], geo: str) -> dict[str, Any]:
    """Give everything that the template prints."""
    texts = visit_texts(visit)
    qr, quiet = _qr(geo)
    return {
        "fonts": list(FONT_FILES),
        "day": [visit.day.year, visit.day.month, visit.day.day],
        "programme": visit.programme,
        "title": texts.title,
        "name": visit.name,
        "private": visit.private,
        "subtitle": texts.subtitle,
        "positions": list(positions),
        "geo": geo,
        "qr": qr,
        "qr_quiet": quiet,
        "qr_alt": f"Code that opens {geo} on a telephone",
        "way": [list(row) for row in texts.way],
        "water": [list(row) for row in texts.water],
        "water_note": texts.water_note,
        "reef_plan": draw_reef(visit),
        "reef_alt": f"Plan of {visit.reef}, true north up, with {visit.tag} marked by a ring with hairs",
        "near_plan": draw_neighbours(visit),
        "near_alt": f"What lies near {visit.tag}, true north up, with the circle that holds it at 95 %",
        "seen": list(texts.seen),
        "young_reef": visit.young_reef,
        "rules": visit.rules,
        "permit": f"Permit {visit.permit} of {visit.authority}: ask there for the rules of this reef.",
        "cautions": list(texts.cautions),
        "notes": [*visit.course.basis, *visit.notes],
        "foot": f"Times of {visit.zone} · journal {visit.journal_head[:_HEAD_DIGITS]}",
    }


# --- words


def _distance(course: Course) -> str:
    """Say how far it is in nautical miles and kilometres."""
    miles, u95 = course.distance_m / _NAUTICAL_MILE_M, course.distance_u95_m / _NAUTICAL_MILE_M
    decimals = min(_MOST_MILE_DECIMALS, metres_decimals(u95))
    return f"{miles:.{decimals}f} nautical miles ({course.distance_m / 1000:.{decimals}f} km)"


def _bearing(course: Course) -> str:
    """Say the bearing in whole degrees, with its doubt where that shows."""
    if course.bearing_u95_deg > 45.0:
        return "too near to tell a bearing"
    doubt = f" ± {course.bearing_u95_deg:.0f}°" if course.bearing_u95_deg >= 0.5 else ""
    said = f"{_degrees(course.bearing_deg)}{doubt} true"
    magnetic, variation, u95 = course.magnetic_deg, course.variation_east_deg, course.variation_u95_deg
    if magnetic is None or variation is None or u95 is None:
        return f"{said}. No magnetic bearing: {course.no_variation}"
    side = "E" if variation >= 0 else "W"
    return (
        f"{said}, {_degrees(magnetic)}{doubt} magnetic, without deviation (variation {abs(variation):.1f}° "
        f"{side} ± {u95:.1f}°, {course.model})"
    )


def _degrees(bearing_deg: float) -> str:
    return f"{round(bearing_deg) % 360:03d}°"


def _water(water: Water | None, datum: str) -> str:
    return f"{_both(water)} below {datum}" if water is not None else "not measured"


def _both(water: Water) -> str:
    """Write a depth in metres and feet, each with its doubt."""
    (metres, u95_m), (feet, u95_ft) = (reported_length(water.value_m, water.u95_m, u) for u in ("m", "ft"))
    return f"{_zero(metres)} ± {u95_m} m ({_zero(feet)} ± {u95_ft} ft)"


def _zero(text: str) -> str:
    """Take the sign off a rounded zero."""
    return text.removeprefix("-") if not text.strip("-0.") else text


def _metres(u95_m: float) -> str:
    return f"{u95_rounded_up_m(u95_m):.{metres_decimals(u95_m)}f} m"


def _sun(visit: Visit) -> str:
    light = visit.daylight
    if light.sun != "rises and sets":
        return f"The sun is {light.sun.removesuffix(' all day')} all day: it does not rise or set."
    clock = ZoneInfo(visit.zone)

    def minute(at: datetime) -> str:
        rounded = datetime.fromtimestamp(round(at.timestamp() / 60) * 60, tz=clock)
        return f"{rounded:%H:%M}"

    rises = f"rises {minute(light.rises_at)}" if light.rises_at else "does not rise on this day"
    sets = f"sets {minute(light.sets_at)}" if light.sets_at else "does not set on this day"
    return f"{rises}, {sets} (sea horizon; refraction may shift it by minutes)"


def _water_note(visit: Visit) -> str:
    if visit.tide is None:
        return "No tide station was given: ask a tide table for the water of the day."
    if visit.charted is None:
        return "The depth was not measured: the tide alone says nothing of the water over the module."
    epoch = f" ({visit.tide.datum_epoch})" if visit.tide.datum_epoch else ""
    none = "" if visit.expected else " No high or low water falls on this day."
    return (
        f"Predicted for {visit.tide.station}, above {visit.tide.datum}{epoch}, without the weather of that "
        f"day; each ± is at 95 %.{none}"
    )


def seen_words(seen: Seen) -> str:
    """Say what one survey found, and its note as it was written."""
    if seen.motion == Motion.MOVED:
        decimals = metres_decimals(seen.u95_m)
        doubt = f"{u95_rounded_up_m(seen.u95_m):.{decimals}f}"
        way = f"{seen.distance_m:.{decimals}f} ± {doubt} m toward {_degrees(seen.bearing_deg)} true"
        found = f"found moved by {way}"
    elif seen.motion == Motion.INCONCLUSIVE:
        found = "found near its place; whether it moved is not certain"
    else:
        found = "found in its place"
    note = f" “{seen.note}”" if seen.note else ""
    return f"{_day(seen.on)}: {found}.{note}"


def _day(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _qr(text: str) -> tuple[str, float]:
    """Draw a code; its quiet zone comes as a share of its side."""
    code = segno.make(text, error="m", micro=False, boost_error=True)
    out = io.BytesIO()
    code.save(out, kind="svg", border=_QR_QUIET, dark="#000", light="#fff", xmldecl=False, omitsize=True)
    return out.getvalue().decode(), _QR_QUIET / code.symbol_size(border=_QR_QUIET)[0]
