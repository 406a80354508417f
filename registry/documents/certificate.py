"""
The certificate as a page: one sheet of A4, to be framed.

Every word on it is data (nothing that a person typed is read as markup), every number carries no more digits
than its uncertainty supports, and the same record always makes the same bytes.
"""

import base64
import binascii
import io
import json
import math
import re
import unicodedata
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import segno
from numpy.typing import NDArray
from shapely import LineString

from registry.documents.glyphs import FONT_FILES, SCRIPTS, clusters_of, missing_glyphs
from registry.errors import InvalidRecordError, UnprintableTextError
from registry.measure.digits import (
    Notation,
    coordinate_decimals,
    metres_decimals,
    split_degrees,
    split_minutes,
    u95_rounded_up_m,
)
from registry.measure.geodesic import inverse
from registry.records.certificate import DRIFT_YEARS, Certificate

__all__ = ["render_certificate"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
_STANDARDS = ["a-2a", "ua-1"]
#: What the typesetter says of a text that cannot be printed, and what that means. All else is our fault.
_REASONS = {
    "could not be displayed": "the shipped fonts lack a glyph for one of its texts",
    "more than one page": "its texts need more than one page",
}

#: Size of the chart's frame and of the margin for its labels. Units: mm.
_CHART_MM = 74.0
_CHART_LEFT_MM = 5.0
_CHART_BELOW_MM = 5.0
#: Clear space between the area's outline and the frame. Units: mm.
_CHART_PAD_MM = 6.0
#: A module of the code must stay large enough for an old telephone. Units: mm.
_QR_MODULE_MM = 0.42
_QR_LEAST_MM, _QR_MOST_MM = 44.0, 56.0
#: Clear modules around the code, as its standard asks.
_QR_QUIET = 4
#: Steps of the chart's ticks. Units: minutes of arc.
_TICK_MINUTES = tuple(step * 10.0**power for power in range(-4, 7) for step in (1, 2, 5))

#: Digits of the journal's digest that are printed together: as few as ``journal verify --head`` takes.
_HEAD_PART = 16

#: A word longer than this may break, after so many letters.
_LONGEST_WORD, _WORD_PART = 40, 12
_LONGEST_FACT, _FACT_PART = 18, 6
Plane = NDArray[np.float64]

_POINTS = ("north", "north-northeast", "northeast", "east-northeast", "east", "east-southeast", "southeast",
           "south-southeast", "south", "south-southwest", "southwest", "west-southwest", "west",
           "west-northwest", "northwest", "north-northwest")  # fmt: skip
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip

#: What the usual chart datums are, for a family. Terms of the International Hydrographic Organization's
#: dictionary (S-32), reworded from memory.
_DATUMS = {
    "MLLW": "mean lower low water, the low-water level to which charts give depths",
    "MLW": "mean low water, the average level of the sea at low tide",
    "LAT": "the lowest astronomical tide, the lowest level that the tide alone is expected to reach",
    "MSL": "the mean sea level, the height of the sea averaged over many years",
    "CD": "the chart datum, the low-water level to which the local chart gives depths",
}

_CAUTIONS = (
    "Not for navigation. Depth changes with tide, weather and moving sand; official charts and notices to "
    "mariners go before this paper. Visit, dive and fish by the local rules, within your training, and with "
    "qualified operators. This paper records where the module was set down. It grants no right and claims no "
    "legal authority; the permit and its authority prevail."
)


def render_certificate(certificate: Certificate, statement_jws: str, font_folder: Path) -> bytes:
    """
    Draw a certificate.

    Parameters
    ----------
    certificate : Certificate
        What the page says.
    statement_jws : str
        Its statement, signed; goes into the code on the page as it is.
    font_folder : pathlib.Path
        Where the shipped font files lie. No font of the system is used.

    Returns
    -------
    bytes
        A PDF file of one A4 page, PDF/A-2a and PDF/UA-1; the same bytes for the same input.

    Raises
    ------
    UnprintableTextError
        If a text holds characters for which the shipped fonts have no glyphs, or does not fit on the page.
    InvalidRecordError
        If `statement_jws` is no signed statement.
    UnreadableFileError
        If a font file is absent.
    """
    import typst

    _check_printable(certificate, font_folder)
    data = _page_data(certificate, statement_jws)
    noon = datetime(*certificate.issued_on.timetuple()[:3], 12, tzinfo=UTC)
    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(font_folder)]
    )
    try:
        # Typed loosely: the overloads that the typesetter declares exclude each other.
        compile_page: Any = typst.compile
        pdf: bytes = compile_page(
            _TEMPLATE.read_bytes(),
            font_paths=fonts,
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": json.dumps(data, ensure_ascii=False, sort_keys=True, allow_nan=False)},
            pdf_standards=_STANDARDS,
            timestamp=noon,
        )
    except typst.TypstError as error:
        reason = next((said for heard, said in _REASONS.items() if heard in error.message), None)
        if reason is None:
            raise
        what = f"The certificate {certificate.number} cannot be printed: {reason}."
        raise UnprintableTextError(what, remedy="Shorten or retype its texts.") from error
    return pdf


def _page_data(certificate: Certificate, jws: str) -> dict[str, Any]:
    """Give everything that the template prints."""
    c = certificate
    # The position is written from what was signed, so that whoever reads the code finds these very digits.
    stated = c.statement()
    qr, qr_mm, qr_quiet_mm = _qr(jws)
    name = _breakable(c.memorial_name)
    language, region = _language(c.language)
    return {
        "fonts": list(FONT_FILES),
        "title": f"Memorial reef certificate {c.number}: {c.memorial_name}",
        "description": f"Where the memorial module {c.tag} lies on the sea floor",
        "issued": [c.issued_on.year, c.issued_on.month, c.issued_on.day],
        "author": c.programme,
        "programme": _breakable(c.programme),
        "name": name,
        "name_lang": language,
        "name_region": region,
        "name_rtl": _right_to_left(c.memorial_name),
        "reef": _breakable(c.place),
        "placed_words": f"whose memorial module was set on the sea floor on {_day(c.placed_on)}"
        + ("" if c.outside_m > 0 else " at"),
        "ddm": _degrees_minutes(stated["lat"], stated["lon"], stated["r95_m"]),
        "dd": _decimal_degrees(stated["lat"], stated["lon"], stated["r95_m"]),
        "frame": f"{c.frame_text}, epoch {c.epoch:.1f}",
        "within": f"The module lies within {_metres_up(c.r95_m)} of this position (95 %).",
        "facts": [(label, _breakable(fact, _LONGEST_FACT, _FACT_PART)) for label, fact in _facts(c)],
        "chart": _chart(c),
        "qr": qr,
        "qr_mm": qr_mm,
        "qr_quiet_mm": qr_quiet_mm,
        "qr_alt": "Machine-readable code with the signed statement of this certificate",
        "number": c.number,
        "issued_words": _breakable(_issued_words(c)),
        "verify_words": _verify_words(jws),
        "journal_words": _journal_words(c),
        "plain_words": _breakable(_plain_words(c), _LONGEST_FACT, _FACT_PART),
        "caution_words": _breakable(f"{_CAUTIONS} {c.authority_note}".strip()),
    }


# --- words


def _facts(c: Certificate) -> list[tuple[str, str]]:
    home = " ".join(_decimal_degrees(c.home_lat_deg, c.home_lon_deg, u95_rounded_up_m(c.r95_m)))
    epoch = f", epoch {c.home_epoch:.1f}" if c.home_epoch is not None else ""
    return [
        ("Depth of the sea floor", _depth(c)),
        ("Module", f"{c.tag}, {c.module_type}"),
        ("Permit", c.permit),
        ("As surveyed", f"{home}\n{c.home_frame_name}{epoch}"),
        ("Thirty years on", _drift(c)),
    ]


def _depth(c: Certificate) -> str:
    if c.charted_depth_m is None or c.depth_u95_m is None:
        return f"The depth was not measured. The chart datum here is {c.chart_datum}."
    depth = f"{c.charted_depth_m:.{metres_decimals(c.depth_u95_m)}f} m"
    return f"{depth} ± {_metres_up(c.depth_u95_m)} (95 %) below {c.chart_datum}"


def _plain_words(c: Certificate) -> str:
    """Say what the datum of the depth and the frame of the position are, to whoever is no surveyor."""
    meaning = _DATUMS.get(c.chart_datum.upper())
    datum = f"{c.chart_datum} is {meaning}." if meaning else "Depths are from the permit’s chart datum."
    frame = c.frame_text.partition(" (")[0]
    frame = f"{frame} is what satellite receivers use; its epoch is the year for which the position holds."
    return f"{datum} {frame}"


def _drift(c: Certificate) -> str:
    """Say in a sentence how the sea floor moves under a receiver's coordinates."""
    if round(c.drift_m, 1) == 0:
        return "The sea floor here hardly moves: a receiver will show a position less than 0.1 m away."
    rate_cm = c.drift_m * 100 / DRIFT_YEARS
    places = 0 if rate_cm >= 10 else 1
    point = _POINTS[round(c.drift_azimuth_deg / 22.5) % 16]
    return (
        f"The sea floor here moves toward the {point} by about {rate_cm:.{places}f} cm a year; in "
        f"{c.issued_on.year + DRIFT_YEARS} a receiver will show a position {c.drift_m:.1f} m away."
    )


def _issued_words(c: Certificate) -> str:
    words = f"Issued on {_day(c.issued_on)} by {c.programme}. Version {c.version}"
    return f"{words}, which supersedes version {c.version - 1}." if c.version > 1 else f"{words}."


def _verify_words(jws: str) -> str:
    return (
        "To prove this certificate, run “leadline authenticate” with the PDF file, or with the text that the "
        f"code holds; no network is needed. Signed with the programme's key {_key_id(jws)}."
    )


def _journal_words(c: Certificate) -> str:
    """Print the digest that proves what the whole registry said that day, and how to hold it against one."""
    digest = " ".join(c.journal_head[i : i + _HEAD_PART] for i in range(0, len(c.journal_head), _HEAD_PART))
    return f"Journal head on that day: {digest} · to check it: leadline journal verify --head"


def _day(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def _key_id(jws: str) -> str:
    """Read the name of the key in a JWS header, to print it."""
    head = jws.split(".", maxsplit=1)[0]
    try:
        return str(json.loads(base64.urlsafe_b64decode(head + "=" * (-len(head) % 4)))["kid"])
    except (binascii.Error, ValueError, KeyError, TypeError) as error:
        what = "The statement to be printed on the certificate is not signed."
        raise InvalidRecordError(what, remedy="Sign it with the programme's key first.") from error


# --- numbers


def _degrees_minutes(lat_deg: float, lon_deg: float, r95_m: float) -> list[str]:
    """Write a position as receivers show it."""
    places = coordinate_decimals(Notation.MINUTES, r95_m)
    return [_minutes(lat_deg, places, "NS", width=2), _minutes(_wrapped(lon_deg), places, "EW", width=3)]


def _minutes(value_deg: float, places: int, hemispheres: str, *, width: int = 1) -> str:
    degrees, minutes, _ = split_minutes(value_deg, places)
    return f"{degrees:0{width}d}° {minutes}′ {hemispheres[value_deg < 0]}"


def _decimal_degrees(lat_deg: float, lon_deg: float, r95_m: float) -> list[str]:
    places = coordinate_decimals(Notation.DEGREES, r95_m)
    lon_deg = _wrapped(lon_deg)
    return [
        f"{split_degrees(lat_deg, places)}° {'NS'[lat_deg < 0]}",
        f"{split_degrees(lon_deg, places)}° {'EW'[lon_deg < 0]}",
    ]


def _wrapped(lon_deg: float) -> float:
    """Give a longitude from -180 to below 180."""
    return lon_deg if -180 <= lon_deg < 180 else (lon_deg + 180) % 360 - 180


def _metres_up(u95_m: float) -> str:
    """Write an uncertainty, rounded up so that print never claims more than is known."""
    return f"{u95_rounded_up_m(u95_m):.{metres_decimals(u95_m)}f} m"


# --- the small chart


def _chart(c: Certificate) -> dict[str, Any]:
    """
    Lay out the chart: plane coordinates in mm from the frame's upper left corner, all to one scale.

    Points are set by true bearing and geodesic distance from the module (azimuthal equidistant), which over
    the few kilometres of a reef differs from any chart by less than the width of its lines.
    """
    rings = [_local(c, ring) for ring in c.plan.rings if len(ring) > 2]
    others = _local(c, c.plan.others)
    shown = np.vstack([np.zeros((1, 2)), *rings] if rings else [np.zeros((1, 2)), others])
    low, high = shown.min(axis=0), shown.max(axis=0)
    span_m = max(float((high - low).max()), 40.0 * max(c.r95_m, 1.0) if not rings else 10.0)
    middle = (low + high) / 2
    mm_per_m = (_CHART_MM - 2 * _CHART_PAD_MM) / span_m

    def to_mm(points: Plane) -> Plane:
        scale = np.array([mm_per_m, -mm_per_m])
        return np.asarray((points - middle) * scale + _CHART_MM / 2)

    dots = np.unique(np.round(to_mm(others), 1), axis=0)
    dots = dots[((dots > -1) & (dots < _CHART_MM + 1)).all(axis=1)]
    bar_m = _round_length(0.4 * _CHART_MM / mm_per_m)
    return {
        "side": _CHART_MM,
        "left": _CHART_LEFT_MM,
        "below": _CHART_BELOW_MM,
        "rings": [_thinned(to_mm(ring)) for ring in rings],
        "others": dots.tolist(),
        "dot": 0.65 if len(dots) < 400 else 0.35,
        "here": np.round(to_mm(np.zeros((1, 2)))[0], 3).tolist(),
        "bar_mm": round(bar_m * mm_per_m, 3),
        "bar_text": f"{bar_m:g} m" if bar_m < 1000 else f"{bar_m / 1000:g} km",
        **_graticule(c, middle, mm_per_m),
        "alt": (
            f"Chart of {c.place}, north up: this module is marked by a cross-haired ring among "
            f"{len(c.plan.others)} others, which are faint dots. The scale bar shows {bar_m:g} m."
        ),
    }


def _local(c: Certificate, points: Sequence[tuple[float, float]]) -> Plane:
    """Give points as metres east and north of the module."""
    if not points:
        return np.zeros((0, 2))
    lon, lat = np.asarray(points, dtype=float).T
    distance_m, bearing_deg = inverse(c.lon_deg, c.lat_deg, lon, lat)
    bearing = np.radians(bearing_deg)
    return np.column_stack([distance_m * np.sin(bearing), distance_m * np.cos(bearing)])


def _thinned(ring_mm: Plane) -> list[list[float]]:
    """Leave out corners that no printer shows (0.03 mm)."""
    line = LineString(ring_mm).simplify(0.03)
    return np.round(np.asarray(line.coords), 3).tolist()  # type: ignore[no-any-return]


def _round_length(longest_m: float) -> float:
    """Give the greatest 1, 2 or 5 times a power of ten that is not longer."""
    power = 10.0 ** math.floor(math.log10(longest_m))
    return max(step * power for step in (1, 2, 5) if step * power <= longest_m * (1 + 1e-9))


def _graticule(c: Certificate, middle: Plane, mm_per_m: float) -> dict[str, Any]:
    """Give the ticks along the frame: position in mm and the words beside them, two to four a side."""
    reach_m = _CHART_MM / 2 / mm_per_m
    per_lat_m = float(inverse(c.lon_deg, c.lat_deg - 1 / 120, c.lon_deg, c.lat_deg + 1 / 120)[0])
    per_lon_m = float(inverse(c.lon_deg - 1 / 120, c.lat_deg, c.lon_deg + 1 / 120, c.lat_deg)[0])

    def ticks(
        value_deg: float, per_minute_m: float, offset_m: float, hemispheres: str
    ) -> list[tuple[float, str]]:
        reach = reach_m / per_minute_m
        centre = value_deg * 60 + offset_m / per_minute_m
        step = next(s for s in _TICK_MINUTES if 2 * reach / s < 4.2)
        places = max(0, -math.floor(math.log10(step) + 1e-9))
        found = []
        for i in range(math.ceil((centre - reach) / step), math.floor((centre + reach) / step) + 1):
            mm = (i * step - centre) * per_minute_m * mm_per_m + _CHART_MM / 2
            if 9 < mm < _CHART_MM - 9:
                degrees = _wrapped(i * step / 60) if hemispheres == "EW" else i * step / 60
                found.append((round(mm, 3), _minutes(degrees, places, hemispheres)))
        return found

    meridians = ticks(c.lon_deg, per_lon_m, float(middle[0]), "EW")
    parallels = ticks(c.lat_deg, per_lat_m, float(middle[1]), "NS")
    return {
        "meridians": meridians,
        "parallels": [(round(_CHART_MM - mm, 3), words) for mm, words in parallels],
    }


# --- the code


def _qr(text: str) -> tuple[str, float, float]:
    """Draw a QR code (ISO/IEC 18004) as SVG; give its width on paper and that of its quiet zone, in mm."""
    code = segno.make(text, error="l", micro=False, boost_error=True)
    modules = code.symbol_size(border=_QR_QUIET)[0]
    out = io.BytesIO()
    code.save(out, kind="svg", border=_QR_QUIET, dark="#000", light="#fff", xmldecl=False, omitsize=True)
    width_mm = min(max(modules * _QR_MODULE_MM, _QR_LEAST_MM), _QR_MOST_MM)
    return out.getvalue().decode(), width_mm, width_mm * _QR_QUIET / modules


# --- what can be printed


def _check_printable(certificate: Certificate, font_folder: Path) -> None:
    """Refuse a text for which no single shipped font shows each letter together with its marks."""
    c = certificate
    texts = {
        "memorial name": c.memorial_name,
        "programme": c.programme,
        "reef": c.reef,
        "tag": c.tag,
        "module type": c.module_type,
        "permit": c.permit,
        "frame": c.frame_text,
        "home frame": c.home_frame_name,
        "chart datum": c.chart_datum,
        "authority note": c.authority_note,
    }
    for what, text in texts.items():
        missing = missing_glyphs(text, font_folder)
        if missing:
            shown = ", ".join(missing)
            problem = f"The {what} {text!r} holds characters that the shipped fonts cannot print: {shown}."
            raise UnprintableTextError(
                problem,
                remedy=f"Print it in {SCRIPTS} letters, as the family chooses.",
            )


def _breakable(text: str, longest: int = _LONGEST_WORD, part: int = _WORD_PART) -> str:
    """Let a word that no line can hold break between letters."""
    words = []
    for word in re.split(r"([ \n])", text):
        clusters = clusters_of(word)
        if len(clusters) > longest:
            parts = ["".join(clusters[i : i + part]) for i in range(0, len(clusters), part)]
            words.append("\N{ZERO WIDTH SPACE}".join(parts))
        else:
            words.append(word)
    return "".join(words)


def _right_to_left(text: str) -> bool:
    """Tell the direction of a text by its first strong character."""
    strong = (unicodedata.bidirectional(char) for char in text)
    return next((kind in {"R", "AL"} for kind in strong if kind in {"L", "R", "AL"}), False)


def _language(tag: str | None) -> tuple[str, str | None]:
    """Give language and region as the typesetter takes them; a name without a language counts as English."""
    parts = (tag or "en").split("-")
    region = next((part.upper() for part in parts[1:] if len(part) == 2 and part.isalpha()), None)
    return parts[0].lower(), region
