"""
The competent plain way to the same papers: fpdf2, one page for each certificate that a registry issued.

``python scripts/fpdf_certificates.py REGISTRY DIR``. Words, lines of the chart and text of the code are those
of Leadline's own page, fonts the same files. Nothing is proved, journaled, sealed, tagged or shaped.
"""

import io
import re
import sys
from pathlib import Path
from typing import Any

import segno
from fpdf import FPDF

from registry.actions.issue_certificate import certificate_from_body
from registry.documents import certificate_words as words
from registry.documents.certificate_chart import chart_data
from registry.documents.language import ENGLISH
from registry.documents.printed_degrees import decimal_degrees, degrees_minutes
from registry.formats.signed_statement import sign
from registry.records.certificate import Certificate
from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from registry.storage.keys import load_key
from registry.storage.shipped import shipped_path

INK, QUIET, BRASS, MARK = (22, 48, 63), (76, 98, 110), (134, 101, 40), (156, 42, 28)
CHART_MM = 74.0


def main() -> None:
    """Print one file for each certificate."""
    registry, out = Path(sys.argv[1]), Path(sys.argv[2])
    out.mkdir(parents=True, exist_ok=True)
    with open_register(registry, clock=SystemClock(), writable=False) as register:
        key = load_key(register.signing_keys()[-1].key_id)
        bodies = register.certificates()
    for body in bodies:
        certificate = certificate_from_body(body["record"])
        page = draw(certificate, sign(certificate.statement(), key))
        (out / f"{certificate.number}-v{certificate.version}.pdf").write_bytes(page)


def draw(c: Certificate, jws: str) -> bytes:
    """Draw one page."""
    pdf = FPDF(format="A4")
    pdf.set_auto_page_break(auto=False)
    pdf.add_font("garamond", fname=str(shipped_path("fonts/EBGaramond.ttf")))
    pdf.add_font("garamond", style="I", fname=str(shipped_path("fonts/EBGaramond-Italic.ttf")))
    title, description = words.title_words(c, ENGLISH)
    pdf.set_title(title)
    pdf.set_subject(description)
    pdf.add_page()
    pdf.set_draw_color(*BRASS)
    pdf.set_line_width(0.3)
    pdf.rect(11, 11, 188, 275)
    pdf.rect(12.6, 12.6, 184.8, 271.8)
    stated = c.statement()
    position = (stated["lat"], stated["lon"], stated["r95_m"])
    labels = words.labels(ENGLISH)
    pdf.set_xy(24, 22)
    for size, style, colour, text in (
        (15, "", INK, c.programme.upper()),
        (15, "I", QUIET, labels["in_memory"]),
        (34, "", INK, c.memorial_name),
        (12.5, "I", QUIET, words.placed_words(c, ENGLISH)),
        (21, "", INK, words.place_words(c, ENGLISH)),
        (23, "", INK, "   ".join(degrees_minutes(*position))),
        (12.5, "", INK, "  ".join(decimal_degrees(*position, ENGLISH))),
        (10.5, "", QUIET, words.frame_words(c, ENGLISH)),
        (12, "", INK, words.within_words(c, ENGLISH)),
    ):
        pdf.set_font("garamond", style, size)
        pdf.set_text_color(*colour)
        pdf.cell(162, size * 0.5, text, align="C", new_x="LMARGIN", new_y="NEXT")
        pdf.set_x(24)
    top = pdf.get_y() + 6
    y = top
    facts = [*words.facts(c, ENGLISH), (labels["plain"], words.plain_words(c, ENGLISH))]
    for label, fact in facts:
        pdf.set_xy(24, y)
        paragraph(pdf, label, 9.5, 74, BRASS)
        pdf.set_x(24)
        paragraph(pdf, fact, 11 if label != labels["plain"] else 9.5, 74, INK)
        y = pdf.get_y() + 2.5
    chart(pdf, chart_data(c, ENGLISH, CHART_MM), 106, top)
    y = max(y, top + CHART_MM + 12)
    code = io.BytesIO()
    segno.make(jws, error="l", micro=False).save(code, kind="png", border=4, scale=4)
    pdf.image(code, x=22, y=y, w=44)
    pdf.set_xy(70, y)
    for size, colour, text in (
        (13, INK, f"{labels['certificate']}  {c.number}"),
        (9.5, INK, words.issued_words(c, ENGLISH)),
        (9, QUIET, words.verify_words(jws, ENGLISH)),
        (8, QUIET, words.caution_words(c, ENGLISH)),
    ):
        paragraph(pdf, text, size, 116, colour)
        pdf.set_xy(70, pdf.get_y() + 2)
    pdf.set_xy(24, 280)
    paragraph(pdf, words.journal_words(c, ENGLISH), 7, 162, QUIET)
    return bytes(pdf.output())


def paragraph(pdf: FPDF, text: str, size: float, width_mm: float, colour: tuple[int, int, int]) -> None:
    """Set a text in lines."""
    pdf.set_font("garamond", "", size)
    pdf.set_text_color(*colour)
    pdf.multi_cell(width_mm, size * 0.42, text, align="L", new_x="LEFT", new_y="NEXT")


def chart(pdf: FPDF, data: dict[str, Any], x: float, y: float) -> None:
    """Draw the small chart."""
    side = data["side"]
    pdf.set_draw_color(*QUIET)
    pdf.set_fill_color(230, 238, 241)
    with pdf.rect_clip(x, y, side, side):
        for ring in data["rings"]:
            pdf.polygon([(x + px, y + py) for px, py in ring], style="DF")
        pdf.set_fill_color(139, 159, 168)
        radius_mm = float(re.findall(r'stroke-width="([\d.]+)"', data["dots"])[0]) / 2
        for px, py in re.findall(r"M([\d.]+) ([\d.]+)h", data["dots"]):
            pdf.circle(x + float(px), y + float(py), radius_mm, style="F")
        px, py = data["here"]
        pdf.set_draw_color(*MARK)
        pdf.set_fill_color(*MARK)
        pdf.circle(x + px, y + py, 2.5)
        pdf.circle(x + px, y + py, 1.05, style="F")
    pdf.set_draw_color(*INK)
    pdf.rect(x, y, side, side)
    pdf.line(x + 3.4, y + side - 3.4, x + 3.4 + data["bar_mm"], y + side - 3.4)
    pdf.set_font("garamond", "", 7)
    pdf.set_text_color(*QUIET)
    pdf.text(x + 3.4, y + side - 4.5, data["bar_text"])
    for mm, label in data["meridians"]:
        pdf.line(x + mm, y + side, x + mm, y + side - 1.4)
        pdf.text(x + mm - 6, y + side + 4, label)
    for mm, label in data["parallels"]:
        pdf.line(x, y + mm, x + 1.4, y + mm)
        with pdf.rotation(90, x - 1.5, y + mm):
            pdf.text(x - 8, y + mm, label)


if __name__ == "__main__":
    main()
