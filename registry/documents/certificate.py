"""
The certificate as a page: one sheet, to be framed.

Every word on it is data (nothing that a person typed is read as markup), every number carries no more digits
than its uncertainty supports, and the same record always makes the same bytes.
"""

import io
import re
import unicodedata
from datetime import date
from pathlib import Path
from typing import Any

import segno

from registry.documents import certificate_words as words
from registry.documents.certificate_chart import chart_data
from registry.documents.glyphs import (
    FONT_FILES,
    SCRIPTS,
    clusters_of,
    has_small_capitals,
    missing_glyphs,
)
from registry.documents.language import ENGLISH, Language
from registry.documents.paper import Paper, sheet_mm
from registry.documents.printed_degrees import decimal_degrees, degrees_minutes
from registry.documents.typeset import noon_of, typeset
from registry.errors import UnprintableTextError
from registry.records.certificate import Certificate

__all__ = ["render_certificate"]

_TEMPLATE = Path(__file__).with_suffix(".typ")
#: What the typesetter says of a text that cannot be printed, and what that means. All else is our fault.
_REASONS = {
    "could not be displayed": "the shipped fonts lack a glyph for one of its texts",
    "more than one page": "its texts need more than one page",
}

#: Side of the chart on each sheet; the shorter one leaves less to it. Units: mm.
_CHART_MM = {"a4": 74.0, "letter": 66.0}
#: A module of the code must stay large enough for an old telephone. Units: mm.
_QR_MODULE_MM = 0.42
_QR_LEAST_MM, _QR_MOST_MM = 44.0, 56.0
#: Clear modules around the code, as its standard asks.
_QR_QUIET = 4
#: A reader takes any of the eight masks. Looking for the best one costs more than setting the page, and what
#: is signed is as good as random: of blurred, noisy scans as many are read with this mask as with the best.
_QR_MASK = 4

#: A word longer than this may break, after so many letters: across the page, beside the chart, in small.
_LONGEST_WORD, _WORD_PART = 40, 12
_LONGEST_FACT, _FACT_PART = 18, 6
_LONGEST_PLAIN = 22
#: No line ends between a number and its unit.
_UNIT = re.compile(r"(?<=\d) (?=(?:m|cm|km|%)(?!\w))|(?<=±) (?=\d)")


def render_certificate(
    certificate: Certificate,
    statement_jws: str,
    font_folder: Path,
    *,
    language: Language = ENGLISH,
    paper: Paper = "a4",
) -> bytes:
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
    language : Language
        Of the paper; what it states is the same in each.
    paper : {"a4", "letter"}
        The sheet.

    Returns
    -------
    bytes
        A PDF file of one page, PDF/A-2a and PDF/UA-1; the same bytes for the same input.

    Raises
    ------
    UnprintableTextError
        If a text holds characters for which the shipped fonts have no glyphs, or does not fit on the page.
    InvalidRecordError
        If `statement_jws` is no signed statement.
    UnreadableFileError
        If a font file is absent.
    """
    _check_printable(certificate, font_folder)
    data = _page_data(certificate, statement_jws, font_folder, language=language, paper=paper)
    try:
        return _typeset(certificate, data, font_folder)
    except UnprintableTextError:
        # Texts so long that they need the page themselves go before their explanation and a large chart.
        chart = chart_data(certificate, language, min(_CHART_MM.values()))
        return _typeset(certificate, data | {"plain_words": "", "chart": chart}, font_folder)


def _typeset(certificate: Certificate, data: dict[str, Any], font_folder: Path) -> bytes:
    """Set the page; only what a text is the cause of is told as such."""
    import typst

    try:
        return typeset(_TEMPLATE, data, font_folder=font_folder, made_at=noon_of(_made_on(certificate)))
    except typst.TypstError as error:
        reason = next((said for heard, said in _REASONS.items() if heard in error.message), None)
        if reason is None:
            raise
        what = f"The certificate {certificate.number} cannot be printed: {reason}."
        raise UnprintableTextError(what, remedy="Shorten or retype its texts.") from error


def _made_on(c: Certificate) -> date:
    """Give the day on which this very paper was made."""
    return c.duplicated_on or c.issued_on


def _page_data(
    c: Certificate, jws: str, font_folder: Path, *, language: Language, paper: Paper
) -> dict[str, Any]:
    """Give everything that the template prints."""
    # The position is written from what was signed, so that whoever reads the code finds these very digits.
    stated = c.statement()
    position = (stated["lat"], stated["lon"], stated["r95_m"])
    qr, qr_mm, qr_quiet_mm = _qr(jws)
    title, description = words.title_words(c, language)
    labels = words.labels(language)
    facts = words.facts(c, language)
    label_words = "".join([labels["plain"], labels["certificate"], *(label for label, _ in facts)])
    paper_language, paper_region = _language(language.tag)
    name_language, name_region = _language(c.language or language.tag)
    return {
        "sheet": sheet_mm(paper),
        "fonts": list(FONT_FILES),
        "lang": paper_language,
        "region": paper_region,
        "title": title,
        "description": description,
        "made_on": list(_made_on(c).timetuple()[:3]),
        "author": c.programme,
        "labels": labels,
        "labels_small": has_small_capitals(label_words, font_folder),
        "programme": _breakable(c.programme),
        "programme_small": has_small_capitals(c.programme, font_folder),
        "name": _breakable(c.memorial_name),
        "name_lang": name_language,
        "name_region": name_region,
        "name_rtl": _right_to_left(c.memorial_name),
        "reef": _breakable(words.place_words(c, language)),
        "placed_words": words.placed_words(c, language),
        "ddm": degrees_minutes(*position),
        "dd": decimal_degrees(*position, language),
        "frame": words.frame_words(c, language),
        "within": _bound(words.within_words(c, language)),
        "facts": [(label, _breakable(_bound(fact), _LONGEST_FACT, _FACT_PART)) for label, fact in facts],
        "chart": chart_data(c, language, _CHART_MM[paper]),
        "qr": qr,
        "qr_mm": qr_mm,
        "qr_quiet_mm": qr_quiet_mm,
        "number": c.number,
        "issued_words": _breakable(_bound(words.issued_words(c, language))),
        "verify_words": words.verify_words(jws, language),
        "journal_words": words.journal_words(c, language),
        "plain_words": _breakable(words.plain_words(c, language), _LONGEST_PLAIN, _FACT_PART),
        "caution_words": _breakable(words.caution_words(c, language)),
    }


# --- the code


def _qr(text: str) -> tuple[str, float, float]:
    """Draw a QR code (ISO/IEC 18004) as SVG; give its width on paper and that of its quiet zone, in mm."""
    code = segno.make(text, error="l", micro=False, boost_error=True, mask=_QR_MASK)
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


def _bound(text: str) -> str:
    """Keep a number and its unit on one line."""
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def _right_to_left(text: str) -> bool:
    """Tell the direction of a text by its first strong character."""
    strong = (unicodedata.bidirectional(char) for char in text)
    return next((kind in {"R", "AL"} for kind in strong if kind in {"L", "R", "AL"}), False)


def _language(tag: str) -> tuple[str, str | None]:
    """Give language and region as the typesetter takes them."""
    parts = tag.split("-")
    region = next((part.upper() for part in parts[1:] if len(part) == 2 and part.isalpha()), None)
    return parts[0].lower(), region
