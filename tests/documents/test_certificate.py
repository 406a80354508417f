"""A certificate says what the record says, in every script the fonts hold, and can be proved from the paper."""

import io
import json
import math
import re
import shutil
import subprocess
import unicodedata
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
import zxingcpp
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pyproj import Geod

from registry.documents import certificate as page
from registry.documents import certificate_words
from registry.documents.certificate import render_certificate
from registry.documents.certificate_chart import chart_data
from registry.documents.language import ENGLISH, Language, known_languages, language_of
from registry.documents.paper import PAPERS, Paper
from registry.documents.printed_degrees import decimal_degrees, degrees_minutes
from registry.errors import InvalidRecordError, RejectedError, UnprintableTextError, UnreadableFileError
from registry.formats.sealed_pdf import seal, verify_sealed
from registry.formats.signed_statement import sign, verify
from registry.records.certificate import (
    Certificate,
    Plan,
    certificate_number,
    check_digits,
    key_thumbprint,
    programme_initials,
    read_certificate_number,
)
from registry.records.certificate_change import Change, ChangeKind

FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
needs_poppler = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")


class Key:
    """A signer that holds a private key in memory."""

    def __init__(self) -> None:
        self._private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
        self.public = self._private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        self.key_id = key_thumbprint(self.public)

    def sign(self, message: bytes) -> bytes:
        return self._private.sign(message)


KEY = Key()
TRUSTED = {KEY.key_id: KEY.public}

RING = (
    (-77.3400, 34.0150),
    (-77.3300, 34.0155),
    (-77.3290, 34.0215),
    (-77.3385, 34.0225),
    (-77.3400, 34.0150),
)
OTHERS = tuple((-77.3375 + i * 0.0007, 34.0170 + (i * 7 % 11) * 0.0004) for i in range(11))

CERTIFICATE = Certificate(
    number=certificate_number("MCMR", 2026, 17),
    version=1,
    programme="Marram Coast Memorial Reefs",
    memorial_name="Eleanor Ashdown",
    tag="GP-017",
    module_type="Dome M",
    reef="Gannet Patch",
    permit="MC-0417",
    placed_on=date(2026, 5, 14),
    lat_deg=34.019276543,
    lon_deg=-77.335128765,
    epoch=2026.9,
    home_lat_deg=34.01926543,
    home_lon_deg=-77.33511234,
    home_frame_name="NAD83(2011)",
    home_epoch=2010.0,
    r95_m=3.2,
    charted_depth_m=18.344,
    depth_u95_m=0.381,
    chart_datum="MLLW",
    issued_on=date(2026, 11, 25),
    journal_head="a3" * 32,
    drift_m=0.423,
    drift_azimuth_deg=282.0,
    plan=Plan(rings=(RING,), others=OTHERS),
    authority_note="Questions about the permit go to the Marram Coast Harbour Office.",
)


def drawn(certificate: Certificate, tag: str = "en", paper: Paper = "a4") -> tuple[bytes, str]:
    jws = sign(certificate.statement(), KEY)
    return render_certificate(certificate, jws, FONTS, language=language_of(tag), paper=paper), jws


def page_data(certificate: Certificate, language: Language = ENGLISH) -> dict[str, Any]:
    jws = sign(certificate.statement(), KEY)
    return page._page_data(certificate, jws, FONTS, language=language, paper="a4")


def words_of(pdf: bytes, *options: str) -> str:
    done = subprocess.run(["pdftotext", *options, "-", "-"], input=pdf, capture_output=True, check=True)
    return re.sub(r"\s+", " ", done.stdout.decode())


def unhyphened(words: str) -> str:
    """Leave out hyphens: at the end of a line they are not told from those that part a word."""
    return re.sub("(?<=\\w)-(?: (?=[a-z]))?", "", words)


def read_code(pdf: bytes, dpi: int, tmp_path: Path) -> str:
    path = tmp_path / "page.pdf"
    path.write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-png", path, tmp_path / "page"], check=True)
    found = zxingcpp.read_barcodes(Image.open(tmp_path / "page-1.png"))
    assert [code.format for code in found] == [zxingcpp.BarcodeFormat.QRCode]
    return str(found[0].text)


# Numbers of certificates.


@pytest.mark.parametrize(
    ("text", "digits"),
    [("WEST12345698765432GB", "82"), ("370400440532013000DE", "89"), ("20041010050500013M02606FR", "14")],
)
def test_check_digits_agree_with_published_examples(text: str, digits: str) -> None:
    # ISO/IEC 7064 MOD 97-10 in the example account numbers of ISO 13616 (from memory).
    assert check_digits(text) == digits


def test_check_digits_find_every_wrong_character() -> None:
    body = CERTIFICATE.number[:-3]
    for i, char in enumerate(body):
        kind = "0123456789" if char.isdigit() else "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
        for other in set(kind) - {char}:
            if char != "-":
                assert check_digits(body[:i] + other + body[i + 1 :]) != CERTIFICATE.number[-2:]


def test_check_digits_find_every_two_neighbours_swapped() -> None:
    for sequence in range(1, 3000):
        body = certificate_number("MCMR", 2026, sequence)[:-3]
        for i in range(len(body) - 1):
            a, b = body[i], body[i + 1]
            if a != b and "-" not in (a, b):
                assert check_digits(body[:i] + b + a + body[i + 2 :]) != check_digits(body)


@pytest.mark.parametrize(
    "text", ["", "MCMR-2026-000017-84", "MCMR-2026-17-85", "MCMR 2026 000017 85", "ＭCMR-2026-000017-9"]
)
def test_a_mistyped_number_is_refused(text: str) -> None:
    with pytest.raises(InvalidRecordError):
        read_certificate_number(text)


@given(st.text(max_size=30), st.integers(2000, 2100), st.integers(1, 10**9 - 1))
def test_every_programme_gets_numbers_that_read_back(name: str, year: int, sequence: int) -> None:
    number = certificate_number(programme_initials(name), year, sequence)
    assert read_certificate_number(number.lower()) == number


# The record.


@pytest.mark.parametrize(
    ("change", "error"),
    [
        ({"number": "MCMR-2026-000018-85"}, InvalidRecordError),
        ({"version": 0}, InvalidRecordError),
        ({"memorial_name": ""}, InvalidRecordError),
        ({"memorial_name": "x" * 121}, InvalidRecordError),
        ({"memorial_name": " Eleanor"}, InvalidRecordError),
        ({"memorial_name": "Elea\nnor"}, UnprintableTextError),
        ({"memorial_name": "Elea\x07nor"}, UnprintableTextError),
        ({"memorial_name": "Elea\u202enor"}, UnprintableTextError),
        ({"memorial_name": "Elea\u2067nor"}, UnprintableTextError),
        ({"memorial_name": "Elea\u200bnor"}, UnprintableTextError),
        ({"reef": "Gannet\u200fPatch"}, UnprintableTextError),
        ({"authority_note": "a\tb"}, UnprintableTextError),
        ({"lat_deg": 91.0}, InvalidRecordError),
        ({"home_lon_deg": math.nan}, InvalidRecordError),
        ({"r95_m": 0.0}, InvalidRecordError),
        ({"r95_m": math.inf}, InvalidRecordError),
        ({"depth_u95_m": None}, InvalidRecordError),
        ({"depth_u95_m": 0.0}, InvalidRecordError),
        ({"charted_depth_m": math.nan}, InvalidRecordError),
        ({"drift_m": -0.1}, InvalidRecordError),
        ({"language": "Vietnamese"}, InvalidRecordError),
        ({"journal_head": "A3" * 32}, InvalidRecordError),
        ({"issued_on": date(2026, 5, 13)}, InvalidRecordError),
    ],
)
def test_what_no_family_should_be_handed_is_refused(change: dict[str, Any], error: type[Exception]) -> None:
    with pytest.raises(error):
        replace(CERTIFICATE, **change)


def test_a_hidden_character_is_named() -> None:
    with pytest.raises(UnprintableTextError, match=r"U\+202E RIGHT-TO-LEFT OVERRIDE"):
        replace(CERTIFICATE, memorial_name="a\u202eb")


def test_names_are_kept_in_one_form() -> None:
    assert replace(CERTIFICATE, memorial_name="Zoe\u0308").memorial_name == "Zoë"


def test_the_statement_states_what_is_printed() -> None:
    assert CERTIFICATE.statement() == {
        "certificate": "MCMR-2026-000017-85",
        "version": 1,
        "programme": "Marram Coast Memorial Reefs",
        "name": "Eleanor Ashdown",
        "tag": "GP-017",
        "reef": "Gannet Patch",
        "permit": "MC-0417",
        "placed": "2026-05-14",
        "issued": "2026-11-25",
        "lat": 34.019277,
        "lon": -77.335129,
        "frame": "WGS 84 (G2296)",
        "epoch": 2026.9,
        "r95_m": 3.2,
        "depth_m": 18.34,
        "depth_u95_m": 0.39,
        "datum": "MLLW",
        "journal": "a3" * 32,
    }
    unmeasured = replace(CERTIFICATE, charted_depth_m=None, depth_u95_m=None).statement()
    assert unmeasured["depth_m"] is None
    assert unmeasured["depth_u95_m"] is None


# The page.


@needs_poppler
def test_every_fact_is_on_the_page() -> None:
    pdf, _ = drawn(CERTIFICATE)
    words = words_of(pdf)
    for fact in (
        "Eleanor Ashdown",
        "Gannet Patch",
        "on 14 May 2026 at",
        "34° 01.1566′ N",
        "077° 20.1077′ W",
        "34.019277° N",
        "77.335129° W",
        "WGS 84 (G2296, the same as ITRF2020), epoch 2026.9",
        "within 3.2 m of this position (95 %)",
        "18.34 m ± 0.39 m (95 %) below MLLW",
        "GP-017, Dome M",
        "MC-0417",
        "34.019265° N 77.335112° W NAD83(2011), epoch 2010.0",
        "toward the west-northwest by about 1.4 cm a year; in 2056 a receiver will show a position 0.4 m away",
        "MCMR-2026-000017-85",
        "Issued on 25 November 2026 by Marram Coast Memorial Reefs. Version 1.",
        "leadline authenticate",
        KEY.key_id,
        "Not for navigation.",
        "claims no legal authority",
        "Marram Coast Harbour Office",
    ):
        assert fact in words, fact
    assert "MARRAM COAST MEMORIAL REEFS" in words.upper()
    assert "supersedes" not in words


@needs_poppler
def test_what_is_not_known_is_not_printed() -> None:
    pdf, _ = drawn(
        replace(CERTIFICATE, r95_m=12.3, charted_depth_m=None, depth_u95_m=None, version=3, drift_m=0.04)
    )
    words = words_of(pdf)
    assert "34° 01.157′ N" in words
    assert "34.01928° N" in words
    assert "within 13 m of this position" in words
    assert "The depth was not measured." in words
    assert "Version 3, which supersedes version 2." in words
    assert "hardly moves" in words


@needs_poppler
def test_the_paper_alone_proves_itself(tmp_path: Path) -> None:
    pdf, jws = drawn(CERTIFICATE)
    for dpi in (100, 150):
        code = read_code(pdf, dpi, tmp_path)
        assert code == jws
        assert verify(code, TRUSTED) == CERTIFICATE.statement()


@needs_poppler
def test_the_longest_code_is_still_read(tmp_path: Path) -> None:
    pdf, jws = drawn(replace(CERTIFICATE, memorial_name="ễ" * 120, language="vi"))
    assert read_code(pdf, 150, tmp_path) == jws


def test_the_sealed_page_is_proved_and_every_change_found() -> None:
    pdf, _ = drawn(CERTIFICATE)
    sealed = seal(pdf, CERTIFICATE.statement(), KEY)
    assert verify_sealed(sealed, TRUSTED) == CERTIFICATE.statement()
    with pikepdf.open(io.BytesIO(sealed)) as file:
        assert file.check_pdf_syntax() == []
    tail = range(len(sealed) - 1400, len(sealed))
    for i in [*range(0, len(sealed), 97), *tail]:
        changed = bytearray(sealed)
        changed[i] ^= 1
        with pytest.raises(RejectedError):
            verify_sealed(bytes(changed), TRUSTED)


def test_the_same_record_makes_the_same_bytes() -> None:
    assert drawn(CERTIFICATE) == drawn(replace(CERTIFICATE))


def test_the_file_is_one_page_for_keeping_and_for_reading_aloud() -> None:
    pdf, _ = drawn(CERTIFICATE)
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert len(file.pages) == 1
        assert [round(float(x) / 72 * 25.4) for x in file.pages[0].mediabox] == [0, 0, 210, 297]
        assert str(file.Root.Lang) == "en-GB"
        assert bool(file.Root.MarkInfo.Marked)
        with file.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "2"
            assert metadata["pdfaid:conformance"] == "A"
            assert metadata["pdfuaid:part"] == "1"
            assert metadata["dc:title"] == "Memorial reef certificate MCMR-2026-000017-85: Eleanor Ashdown"
        fonts = {
            str(child.BaseFont).split("+")[1]
            for font in file.pages[0].resources.Font.values()
            for child in font.DescendantFonts
            if any(key in child.FontDescriptor for key in ("/FontFile2", "/FontFile3"))
        }
        assert fonts
        assert all(name.startswith("EBGaramond") for name in fonts)
        assert all("/Alt" in figure for figure in figures(file.Root.StructTreeRoot))


def elements(node: Any) -> list[Any]:
    """Give the elements of the structure tree from a node on."""
    kids = node.get("/K", [])
    kids = list(kids) if isinstance(kids, pikepdf.Array) else [kids]
    inner = [kid for kid in kids if isinstance(kid, pikepdf.Dictionary)]
    return [node, *(found for kid in inner for found in elements(kid))]


def figures(node: Any) -> list[Any]:
    return [found for found in elements(node) if found.get("/S") == "/Figure"]


# Languages and sheets.

IN_LANGUAGES = {
    "en": (
        "In memory of",
        "whose memorial module was set on the sea floor on 14 May 2026 at Gannet Patch",
        "34.019277° N 77.335129° W",
        "WGS 84 (G2296, the same as ITRF2020), epoch 2026.9",
        "The module lies within 3.2 m of this position (95 %).",
        "18.34 m ± 0.39 m (95 %) below MLLW",
        "moves toward the west-northwest by about 1.4 cm a year; in 2056 a receiver will show a position 0.4 m away",
        "MLLW is mean lower low water",
        "Issued on 25 November 2026 by Marram Coast Memorial Reefs. Version 1.",
        "Not for navigation.",
        "claims no legal authority",
        "Journal head on that day:",
    ),
    "es": (
        "En memoria de",
        "cuyo módulo conmemorativo fue depositado en el fondo del mar el 14 de mayo de 2026 en Gannet Patch",
        "34.019277° norte 77.335129° oeste",
        "WGS 84 (G2296, idéntico a ITRF2020), época 2026.9",
        "El módulo se encuentra a no más de 3,2 m de esta posición (95 %).",
        "18,34 m ± 0,39 m (95 %) bajo MLLW",
        "se desplaza aquí hacia el oestenoroeste unos 1,4 cm al año; en 2056 un receptor mostrará una posición a 0,4 m",
        "MLLW es el promedio de las bajamares más bajas",
        "N, S, E y W significan norte, sur, este y oeste",
        "Expedido el 25 de noviembre de 2026 por Marram Coast Memorial Reefs. Versión 1.",
        "No apto para la navegación.",
        "ni se atribuye autoridad legal",
        "Huella del diario de ese día:",
    ),
    "fr": (
        "À la mémoire de",
        "dont le module commémoratif a été déposé au fond de la mer le 14 mai 2026 à Gannet Patch",
        "34.019277° nord 77.335129° ouest",
        "WGS 84 (G2296, identique à ITRF2020), époque 2026.9",
        "Le module repose à 3,2 m au plus de cette position (95 %).",
        "18,34 m ± 0,39 m (95 %) sous MLLW",
        "se déplace ici vers l’ouest-nord-ouest d’environ 1,4 cm par an ; en 2056, un récepteur indiquera une position à 0,4 m",
        "MLLW est la moyenne des plus basses mers",
        "N, S, E et W désignent le nord, le sud, l’est et l’ouest",
        "Délivré le 25 novembre 2026 par Marram Coast Memorial Reefs. Version 1.",
        "Ne pas utiliser pour la navigation.",
        "ne se prévaut d’aucune autorité légale",
        "Empreinte du journal ce jour-là :",
    ),
    "de": (
        "Zum Gedenken an",
        "Das Gedenkmodul wurde am 14. Mai 2026 auf dem Meeresgrund abgesetzt, im Riffgebiet Gannet Patch",
        "34.019277° Nord 77.335129° West",
        "WGS 84 (G2296, gleich ITRF2020), Epoche 2026.9",
        "Das Modul liegt höchstens 3,2 m von dieser Position entfernt (95 %).",
        "18,34 m ± 0,39 m (95 %) unter MLLW",
        "um etwa 1,4 cm im Jahr nach Westnordwesten; im Jahr 2056 zeigt ein Empfänger eine Position, die 0,4 m entfernt ist",
        "MLLW ist das mittlere niedrigere Niedrigwasser",
        "N, S, E und W für Nord, Süd, Ost und West",
        "Ausgestellt am 25. November 2026 von Marram Coast Memorial Reefs. Fassung 1.",
        "Nicht zur Navigation.",
        "beansprucht keine rechtliche Befugnis",
        "Stand des Journals an jenem Tag:",
    ),
    "vi": (
        "Tưởng nhớ",
        "khối rạn tưởng niệm được đặt xuống đáy biển ngày 14 tháng 5, 2026 tại Gannet Patch",
        "34.019277° bắc 77.335129° tây",
        "WGS 84 (G2296, trùng với ITRF2020), thời điểm 2026.9",
        "Khối rạn nằm trong vòng 3,2 m quanh vị trí này (95 %).",
        "18,34 m ± 0,39 m (95 %) dưới MLLW",
        "về phía tây tây bắc khoảng 1,4 cm mỗi năm; vào năm 2056 máy thu sẽ chỉ một vị trí cách đây 0,4 m",
        "MLLW là trung bình của mực nước ròng thấp hơn mỗi ngày",
        "N, S, E và W nghĩa là bắc, nam, đông và tây",
        "Do Marram Coast Memorial Reefs cấp ngày 25 tháng 11, 2026. Phiên bản 1.",
        "Không dùng để hàng hải.",
        "không tự nhận thẩm quyền pháp lý",
        "Dấu nhật ký ngày hôm đó:",
    ),
}
SHEETS = [(tag, paper) for tag in known_languages() for paper in PAPERS]


@needs_poppler
@pytest.mark.parametrize(("tag", "paper"), SHEETS)
def test_every_language_prints_its_own_words_on_every_sheet(tag: str, paper: Paper) -> None:
    words = unicodedata.normalize("NFC", words_of(drawn(CERTIFICATE, tag, paper)[0], "-raw"))
    for fact in IN_LANGUAGES[tag]:
        assert unhyphened(fact) in unhyphened(words), fact
    for other in set(IN_LANGUAGES) - {tag}:
        assert IN_LANGUAGES[other][0] not in words


@needs_poppler
@pytest.mark.parametrize(("tag", "paper"), SHEETS)
def test_the_signed_statement_and_what_a_receiver_takes_are_the_same_in_every_language(
    tag: str, paper: Paper, tmp_path: Path
) -> None:
    pdf, jws = drawn(CERTIFICATE, tag, paper)
    assert jws == drawn(CERTIFICATE)[1]
    assert read_code(pdf, 150, tmp_path) == jws
    words = words_of(pdf, "-raw")
    # No comma parts these digits, and no letter of another language sends anyone to the other hemisphere.
    assert "34° 01.1566′ N 077° 20.1077′ W" in words
    assert not re.search(r"[\d.]+[°′] ?[OBĐT]\b", words)


@pytest.mark.parametrize(("tag", "paper"), SHEETS)
def test_the_file_names_its_language_and_has_the_size_of_its_sheet(tag: str, paper: Paper) -> None:
    pdf, _ = drawn(replace(CERTIFICATE, memorial_name="Nguyễn Thị Phương Thảo", language="vi"), tag, paper)
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert len(file.pages) == 1
        assert str(file.Root.Lang) == language_of(tag).tag
        sheet = {"a4": [210.0, 297.0], "letter": [215.9, 279.4]}[paper]
        assert [float(x) / 72 * 25.4 for x in file.pages[0].mediabox] == pytest.approx(
            [0, 0, *sheet], abs=0.02
        )
        with file.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "2"
            assert metadata["pdfaid:conformance"] == "A"
            assert metadata["pdfuaid:part"] == "1"
            assert CERTIFICATE.number in metadata["dc:title"]
        assert bool(file.Root.ViewerPreferences.DisplayDocTitle)
        heading = next(node for node in elements(file.Root.StructTreeRoot) if node.get("/S") == "/H1")
        assert "vi" in {str(file.Root.Lang), *(str(node.get("/Lang", "")) for node in elements(heading))}


@needs_poppler
@pytest.mark.parametrize(("tag", "paper"), SHEETS)
def test_whatever_is_printed_is_read_aloud_in_the_order_of_the_page(
    tag: str, paper: Paper, tmp_path: Path
) -> None:
    """The tags of the file hold every word that is on the page; only ornament is left out."""
    pdf, _ = drawn(CERTIFICATE, tag, paper)
    (tmp_path / "page.pdf").write_bytes(pdf)
    done = subprocess.run(["pdfinfo", "-struct-text", tmp_path / "page.pdf"], capture_output=True, check=True)
    aloud = re.findall(r'^ *"(.*)"$', done.stdout.decode(), re.MULTILINE)
    spoken = re.sub(r"\s+", " ", " ".join(aloud))
    assert sorted(unhyphened(spoken).split()) == sorted(unhyphened(words_of(pdf)).split())
    order = [
        spoken.index(fact) for fact in (IN_LANGUAGES[tag][0], "Eleanor", "34° 01.1566′", "GP-017", KEY.key_id)
    ]
    assert order == sorted(order)


@pytest.mark.parametrize("tag", known_languages())
def test_no_word_of_a_language_is_broken_beside_the_chart(tag: str) -> None:
    data = page_data(CERTIFICATE, language_of(tag))
    assert "\N{ZERO WIDTH SPACE}" not in json.dumps(data, ensure_ascii=False)


@needs_poppler
@pytest.mark.parametrize(
    "change",
    [
        {"memorial_name": "ễ" * 120, "outside_m": 12345.6, "charted_depth_m": None, "depth_u95_m": None},
        {"programme": "W" * 80, "reef": "W" * 80, "home_frame_name": "W" * 30, "version": 12},
    ],
    ids=["name", "words"],
)
@pytest.mark.parametrize(("tag", "paper"), SHEETS)
def test_the_longest_name_and_the_longest_words_fit_every_sheet(
    tag: str, paper: Paper, change: dict[str, Any]
) -> None:
    longest = replace(CERTIFICATE, **change)
    pdf, _ = drawn(longest, tag, paper)
    boxes = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True)
    right = [float(x) for x in re.findall(rb'xMax="([\d.]+)"', boxes.stdout)]
    width_pt = {"a4": 210.0, "letter": 215.9}[paper] / 25.4 * 72
    assert max(right) < width_pt - 12 / 25.4 * 72


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    ("name", "small"), [("Marram Coast", True), ("Rạn Biển Tưởng Niệm", False), ("Рифы памяти", False)]
)
def test_small_capitals_are_only_asked_of_the_font_where_it_has_them(
    name: str, small: bool, paper: Paper
) -> None:
    certificate = replace(CERTIFICATE, programme=name)
    assert page_data(certificate)["programme_small"] is small
    drawn(certificate, "en", paper)


CHANGED = (
    Change(what=ChangeKind.NAME),
    Change(what=ChangeKind.MOVED, distance_m=12.34, bearing_deg=91.0, u95_m=4.42),
)
RESURVEYED = replace(
    CERTIFICATE,
    version=2,
    changes=CHANGED,
    found_on=date(2026, 10, 3),
    charted_depth_m=None,
    depth_u95_m=None,
)


@needs_poppler
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    ("tag", "told"),
    [
        (
            "en",
            "Version 2, which supersedes version 1. The name was put right. A survey found that the module had "
            "moved 12.3 m ± 4.5 m toward the east. Duplicate 3 of this version, made on 1 December 2026.",
        ),
        (
            "es",
            "Versión 2, que sustituye a la versión 1. Se corrigió el nombre. Un levantamiento comprobó que el "
            "módulo se había desplazado 12,3 m ± 4,5 m hacia el este. Duplicado 3 de esta versión, hecho el 1 de "
            "diciembre de 2026.",
        ),
        (
            "fr",
            "Version 2, qui remplace la version 1. Le nom a été corrigé. Un levé a constaté que le module s’était "
            "déplacé de 12,3 m ± 4,5 m vers l’est. Duplicata 3 de cette version, établi le 1er décembre 2026.",
        ),
        (
            "de",
            "Fassung 2; sie ersetzt Fassung 1. Der Name wurde berichtigt. Eine Vermessung ergab, dass sich das "
            "Modul um 12,3 m ± 4,5 m nach Osten bewegt hat. Duplikat 3 dieser Fassung, erstellt am 1. Dezember "
            "2026.",
        ),
        (
            "vi",
            "Phiên bản 2, thay thế phiên bản 1. Tên đã được sửa cho đúng. Một lần đo đạc cho thấy khối rạn đã dịch "
            "chuyển 12,3 m ± 4,5 m về phía đông. Bản sao số 3 của phiên bản này, lập ngày 1 tháng 12, 2026.",
        ),
    ],
)
def test_what_a_later_version_says_otherwise_is_told_in_every_language(
    tag: str, told: str, paper: Paper
) -> None:
    certificate = replace(RESURVEYED, duplicate=3, duplicated_on=date(2026, 12, 1))
    pdf, _ = drawn(certificate, tag, paper)
    words = unicodedata.normalize("NFC", words_of(pdf, "-raw"))
    assert told in words
    language = language_of(tag)
    for stated in (
        certificate_words.within_words(certificate, language),
        dict(certificate_words.facts(certificate, language))[language.say("Depth of the sea floor")],
    ):
        assert re.sub(r"\s+", " ", stated) in words
    with pikepdf.open(io.BytesIO(pdf)) as file, file.open_metadata() as metadata:
        assert metadata["xmp:CreateDate"].startswith("2026-12-01")


def test_where_a_survey_found_the_module_is_no_place_where_it_was_set_down() -> None:
    assert certificate_words.within_words(RESURVEYED, ENGLISH) == (
        "A survey on 3 October 2026 found the module within 3.2 m of this position (95 %)."
    )
    depth = dict(certificate_words.facts(RESURVEYED, ENGLISH))["Depth of the sea floor"]
    assert depth == "The depth where it was found was not measured. The chart datum here is MLLW."


@pytest.mark.parametrize("tag", known_languages())
def test_every_kind_of_change_is_told_in_its_own_words(tag: str) -> None:
    moved = {ChangeKind.MOVED, ChangeKind.POSITION}
    kinds = [kind for kind in ChangeKind if kind not in moved]
    changes = [Change(what=kind) for kind in kinds]
    for kind in moved:
        changes += [
            Change(what=kind, distance_m=metres, bearing_deg=359.0, u95_m=5.0) for metres in (0.4, 40.0)
        ]
    said = {
        certificate_words.issued_words(replace(CERTIFICATE, version=2, changes=(change,)), language_of(tag))
        for change in changes
    }
    assert len(said) == len(ChangeKind) + len(moved)
    assert not any("{" in words for words in said)


@pytest.mark.parametrize(
    ("tag", "radius", "depth"),
    [
        (
            "en",
            "How well the position is known comes from that survey.",
            "The depth where it was found was not measured.",
        ),
        (
            "es",
            "La precisión con que se conoce la posición es la de ese levantamiento.",
            "No se midió la profundidad donde fue hallado.",
        ),
        (
            "fr",
            "La précision de la position est celle de ce levé.",
            "La profondeur n’a pas été mesurée là où il a été trouvé.",
        ),
        (
            "de",
            "Die Genauigkeit der Position ist die dieser Vermessung.",
            "Die Tiefe am Fundort wurde nicht gemessen.",
        ),
        (
            "vi",
            "Độ chính xác của vị trí là của lần đo đạc đó.",
            "Độ sâu nơi tìm thấy chưa được đo.",
        ),
    ],
)
def test_what_a_survey_found_is_no_correction(tag: str, radius: str, depth: str) -> None:
    language = language_of(tag)
    behind = (Change(what=ChangeKind.RADIUS), Change(what=ChangeKind.DEPTH))
    found = replace(RESURVEYED, changes=(CHANGED[1], *behind))
    assert certificate_words.issued_words(found, language).endswith(f" {radius} {depth}")
    # Without a survey both were put right.
    corrected = certificate_words.issued_words(replace(CERTIFICATE, version=2, changes=behind), language)
    assert radius not in corrected
    assert depth not in corrected


def test_a_shift_within_its_doubt_has_no_direction() -> None:
    change = Change(what=ChangeKind.POSITION, distance_m=2.0, bearing_deg=90.0, u95_m=4.4)
    words = certificate_words.issued_words(replace(CERTIFICATE, version=2, changes=(change,)), ENGLISH)
    assert words.endswith("The position was corrected by 2.0 m, less than its doubt of 4.4 m.")


PREFLIGHT = [
    Path("/usr/share/java") / f"{name}.jar"
    for name in (
        "preflight",
        "pdfbox2",
        "fontbox2",
        "xmpbox",
        "commons-logging",
        "javax.activation",
        "jaxb-api",
    )
]


@pytest.mark.skipif(
    shutil.which("java") is None or not all(jar.exists() for jar in PREFLIGHT),
    reason="the PDF/A validator of Debian's libpdfbox2-java is not installed",
)
@pytest.mark.parametrize(("tag", "paper"), [("en", "a4"), ("vi", "letter")])
def test_a_validator_takes_the_sealed_page_as_pdf_a(
    tag: str, paper: Paper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """
    That validator knows PDF/A-1b alone, so the same page is set as PDF/A-1a for it: fonts, colours, metadata,
    no transparency, and a seal that breaks none of it. For PDF/A-2a and PDF/UA-1 there is the typesetter's
    word and the tests of this file.
    """
    monkeypatch.setattr("registry.documents.typeset._STANDARDS", ["a-1a"])
    path = tmp_path / "page.pdf"
    path.write_bytes(seal(drawn(CERTIFICATE, tag, paper)[0], CERTIFICATE.statement(), KEY))
    classes = ":".join(map(str, PREFLIGHT))
    command = ["java", "-cp", classes, "org.apache.pdfbox.preflight.Validator_A1b", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert "is a valid PDF/A-1b file" in done.stdout, done.stdout + done.stderr
    path.write_bytes(path.read_bytes().replace(b"pdfaid:part>1<", b"pdfaid:part>7<"))
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert "is not a valid PDF/A-1b file" in done.stdout


# Names.


@needs_poppler
@pytest.mark.parametrize(
    ("name", "language"),
    [
        ("Łukasz Ångström-Šťastný Ñandú Þórðarson Öğretmen", None),
        ("Nguyễn Thị Phương Thảo", "vi"),
        ("Ἀλέξανδρος Παπαδόπουλος", "el"),
        ("Екатерина Щербакова-Ґалаґан", "uk"),
        ("Conn O’Hara “Ned” & Sons", "en-US"),
        ('#read("/etc/passwd") *bold* $x^2$ <b> @ref \\ // -- ~ `raw`', None),
        (
            "Maximiliana Konstantina Fitzgerald-Overbeek, called “Millie” by everyone who ever sailed with her off the coast",
            None,
        ),
    ],
)
def test_a_name_is_printed_letter_for_letter(name: str, language: str | None) -> None:
    pdf, _ = drawn(replace(CERTIFICATE, memorial_name=name, language=language))
    words = words_of(pdf).replace("-\N{WORD JOINER} ", "-").replace("\N{WORD JOINER}", "")
    assert name in unicodedata.normalize("NFC", words)
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert len(file.pages) == 1


@pytest.mark.parametrize(
    ("name", "language", "font"),
    [
        ("محمد عبد الرحمن الكندي", "ar", "Amiri"),
        ("שלום בן־דוד", "he", "NotoSerifHebrew"),
        ("علی‌رضا", "fa", "Amiri"),
    ],
)
def test_names_from_right_to_left_come_in_their_own_font(name: str, language: str, font: str) -> None:
    pdf, _ = drawn(replace(CERTIFICATE, memorial_name=name, language=language))
    with pikepdf.open(io.BytesIO(pdf)) as file:
        used = [
            str(child.BaseFont) for f in file.pages[0].resources.Font.values() for child in f.DescendantFonts
        ]
    assert any(font in name for name in used)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("김철수", r"김 \(U\+AE40, Hangul\)"),
        ("山田 花子", r"山 \(U\+5C71, Han\)"),
        ("अनिता", r"U\+0928 U\+093F, Devanagari"),
        ("Ann 🙂", r"U\+1F642"),
        ("A\u0489", r"U\+0041 U\+0489"),
    ],
)
def test_what_the_fonts_lack_is_refused_by_name(name: str, told: str) -> None:
    with pytest.raises(UnprintableTextError, match=told):
        drawn(replace(CERTIFICATE, memorial_name=name))
    with pytest.raises(UnprintableTextError, match="reef"):
        drawn(replace(CERTIFICATE, reef=name))


@pytest.mark.parametrize(
    "name", ["W" * 120, "ễ" * 120, " ".join(["Wilhelmina"] * 10), "م" * 120, ("Mm " * 40).strip()]
)
def test_the_longest_words_stay_on_one_page(name: str) -> None:
    pdf, _ = drawn(
        replace(
            CERTIFICATE,
            memorial_name=name,
            reef=("Gannet Patch, " * 6)[:80].strip(),
            programme=("Marram Coast Memorial Reefs " * 3)[:80].strip(),
        )
    )
    with pikepdf.open(io.BytesIO(pdf)) as file:
        assert len(file.pages) == 1


@needs_poppler
def test_the_longest_of_everything_is_kept_within_the_frame() -> None:
    """Words without a blank for a line to break at, as no one has: they must still not leave the page."""
    longest = replace(
        CERTIFICATE,
        programme="W" * 80,
        reef="W" * 80,
        module_type="W" * 40,
        permit="W" * 40,
        home_frame_name="W" * 30,
        chart_datum="W" * 12,
        authority_note="W" * 80,
    )
    pdf, _ = drawn(longest)
    boxes = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True)
    right = [float(x) for x in re.findall(rb'xMax="([\d.]+)"', boxes.stdout)]
    assert max(right) < 198 / 25.4 * 72


@needs_poppler
def test_the_head_of_the_journal_is_printed_with_how_to_check_it() -> None:
    pdf, _ = drawn(CERTIFICATE)
    done = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True)
    printed = re.search(r"Journal head on that day: ([0-9a-f ]+) · to check it: (.*)", done.stdout.decode())
    assert printed is not None
    assert printed[1].replace(" ", "") == CERTIFICATE.journal_head
    assert len(printed[1].split()[0]) == 16
    assert printed[2] == "leadline journal verify --head"


def test_what_does_not_fit_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(certificate_words, "caution_words", lambda c, language: "Not for navigation. " * 200)
    with pytest.raises(UnprintableTextError, match="more than one page"):
        drawn(CERTIFICATE)


def test_a_missing_font_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFileError, match=r"EBGaramond\.ttf"):
        render_certificate(CERTIFICATE, sign(CERTIFICATE.statement(), KEY), tmp_path)


@pytest.mark.parametrize("jws", ["", "abc", "e30.e30.e30"])
def test_an_unsigned_statement_is_not_printed(jws: str) -> None:
    with pytest.raises(InvalidRecordError, match="not signed"):
        render_certificate(CERTIFICATE, jws, FONTS)


# Numbers on the page.


def read_back(text: str) -> float:
    parts = re.fullmatch(r"(\d+(?:\.\d+)?)°(?: (\d+(?:\.\d+)?)′)? ([NSEW])", text)
    assert parts
    value = float(parts[1]) + float(parts[2] or 0) / 60
    return -value if parts[3] in "SW" else value


@given(
    st.floats(-89.9, 89.9, allow_nan=False),
    st.floats(-180, 180, allow_nan=False),
    st.floats(0.02, 200, allow_nan=False),
)
def test_what_is_printed_reads_back_within_its_doubt(lat_deg: float, lon_deg: float, r95_m: float) -> None:
    for written in (degrees_minutes, partial(decimal_degrees, language=ENGLISH)):
        lat, lon = (read_back(text) for text in written(lat_deg, lon_deg, r95_m))
        assert abs(lat - lat_deg) * 111_320 <= r95_m / 6 + 1e-6
        assert abs((lon - lon_deg + 180) % 360 - 180) * 111_320 <= r95_m / 6 + 1e-6


def test_minutes_carry_and_longitudes_wrap() -> None:
    assert degrees_minutes(33.9999999, 282.5, 5.0) == ["34° 00.0000′ N", "077° 30.0000′ W"]
    assert decimal_degrees(-0.5, 180.0, 5.0, ENGLISH) == ["0.50000° S", "180.00000° W"]


# The chart.


@pytest.mark.parametrize("centre_lon_deg", [-77.335, 179.9995, -180.0])
def test_the_chart_is_true_to_scale(centre_lon_deg: float) -> None:
    shift = centre_lon_deg - -77.335
    ring = tuple(((lon + shift + 180) % 360 - 180, lat) for lon, lat in RING)
    certificate = replace(CERTIFICATE, lon_deg=centre_lon_deg, plan=Plan(rings=(ring,)))
    chart = chart_data(certificate, ENGLISH, 74.0)
    mm_per_m = chart["bar_mm"] / float(chart["bar_text"].removesuffix(" m"))
    here_x, here_y = chart["here"]
    geod = Geod(ellps="WGS84")
    for (lon, lat), (x, y) in zip(ring, chart["rings"][0], strict=True):
        azimuth_deg, _, distance_m = geod.inv(certificate.lon_deg, certificate.lat_deg, lon, lat)
        assert math.hypot(x - here_x, y - here_y) == pytest.approx(distance_m * mm_per_m, abs=0.01)
        assert (math.degrees(math.atan2(x - here_x, here_y - y)) - azimuth_deg + 180) % 360 == pytest.approx(
            180, abs=0.05
        )
        assert 0 < x < chart["side"]
        assert 0 < y < chart["side"]


def test_the_ticks_stand_where_they_say() -> None:
    chart = chart_data(CERTIFICATE, ENGLISH, 74.0)
    mm_per_m = chart["bar_mm"] / float(chart["bar_text"].removesuffix(" m"))
    geod = Geod(ellps="WGS84")
    assert 2 <= len(chart["meridians"]) <= 5
    assert 2 <= len(chart["parallels"]) <= 5
    for x, words in chart["meridians"]:
        azimuth, _, distance_m = geod.inv(
            CERTIFICATE.lon_deg, CERTIFICATE.lat_deg, read_back(words), CERTIFICATE.lat_deg
        )
        east_mm = math.copysign(distance_m, azimuth) * mm_per_m
        assert x - chart["here"][0] == pytest.approx(east_mm, abs=0.02)
    for y, words in chart["parallels"]:
        azimuth, _, distance_m = geod.inv(
            CERTIFICATE.lon_deg, CERTIFICATE.lat_deg, CERTIFICATE.lon_deg, read_back(words)
        )
        north_mm = (distance_m if abs(azimuth) < 90 else -distance_m) * mm_per_m
        assert chart["here"][1] - y == pytest.approx(north_mm, abs=0.02)


@pytest.mark.parametrize("plan", [Plan(), Plan(others=OTHERS), Plan(rings=(RING,), others=OTHERS * 2000)])
def test_the_chart_bears_little_and_much(plan: Plan) -> None:
    pdf, _ = drawn(replace(CERTIFICATE, plan=plan))
    assert len(pdf) < 150_000


def test_nothing_of_other_families_is_in_the_data() -> None:
    data = page_data(CERTIFICATE)
    assert set(data["chart"]) == {
        "side", "left", "below", "rings", "dots", "here", "bar_mm", "bar_text", "north", "meridians", "parallels", "alt",
    }  # fmt: skip
    assert json.loads(json.dumps(data))["name"] == "Eleanor Ashdown"


def test_every_font_ships_with_its_licence() -> None:
    for file in FONTS.glob("*.ttf"):
        licence = FONTS / f"{file.stem.removesuffix('-Regular').removesuffix('-Italic')}-OFL.txt"
        assert "SIL OPEN FONT LICENSE" in licence.read_text()


@needs_poppler
def test_the_mark_of_the_module_stands_out_in_grey(tmp_path: Path) -> None:
    """A certificate that is copied without colour still shows which module is meant."""
    pdf, _ = drawn(CERTIFICATE)
    (tmp_path / "page.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "72", "-png", tmp_path / "page.pdf", tmp_path / "page"], check=True)
    image = Image.open(tmp_path / "page-1.png")
    colours = np.asarray(image.convert("RGB"))
    red = (colours[..., 0] > 140) & (colours[..., 1] < 70)
    assert red.sum() > 5
    assert np.asarray(image.convert("L"))[red].min() < 90


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, by WCAG 2.2 (relative luminance; from memory)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_every_word_and_mark_stands_out_from_what_is_behind_it() -> None:
    """WCAG 2.2: 4.5 to 1 for text (1.4.3), 3 to 1 for marks (1.4.11); black to white is 21 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    template = page._TEMPLATE.read_text()
    colour = dict(re.findall(r'#let (\w+) = rgb\("(#[0-9a-f]{6})"\)', template))
    (dots,) = re.findall(r'stroke="(#[0-9a-f]{6})"', page_data(CERTIFICATE)["chart"]["dots"])
    for text in ("ink", "quiet", "brass"):
        assert contrast(colour[text], "#ffffff") >= 4.5, text
    assert contrast(colour["quiet"], colour["sea"]) >= 4.5
    for mark in (colour["mark"], colour["ink"], dots):
        assert contrast(mark, colour["shoal"]) >= 3.0, mark


# What a family asks.


@needs_poppler
@pytest.mark.parametrize(
    ("datum", "told"),
    [
        ("MLLW", "MLLW is mean lower low water, the low-water level to which charts give depths."),
        ("lat", "lat is the lowest astronomical tide"),
        ("MSL", "MSL is the mean sea level"),
        ("Harbour Datum 1931", "Depths are from the permit’s chart datum."),
    ],
)
def test_the_datum_and_the_frame_are_told_in_plain_words(datum: str, told: str) -> None:
    words = words_of(drawn(replace(CERTIFICATE, chart_datum=datum))[0])
    assert told in words
    assert "WGS 84 is what satellite receivers use" in words


@needs_poppler
@pytest.mark.parametrize(
    ("outside_m", "told"),
    [
        (0.0, "on 14 May 2026 at Gannet Patch"),
        (12.0, "on 14 May 2026 near Gannet Patch"),
        (8312.0, "on 14 May 2026 8.3 km from Gannet Patch"),
    ],
)
def test_no_reef_is_named_as_the_place_of_a_module_that_lies_outside(outside_m: float, told: str) -> None:
    certificate = replace(CERTIFICATE, outside_m=outside_m)
    assert told in words_of(drawn(certificate)[0])
    stated = certificate.statement()
    assert stated["reef"] == "Gannet Patch"
    assert stated.get("outside_m") == (outside_m or None)


@settings(deadline=None)  # the first example reads the font
@given(st.floats(-89.9, 89.9), st.floats(-180, 180), st.floats(0.02, 200))
def test_the_minutes_on_the_page_are_those_of_what_was_signed(lat: float, lon: float, r95_m: float) -> None:
    certificate = replace(CERTIFICATE, lat_deg=lat, lon_deg=lon, r95_m=r95_m, plan=Plan())
    stated = certificate.statement()
    data = page_data(certificate)
    assert data["ddm"] == degrees_minutes(stated["lat"], stated["lon"], stated["r95_m"])
    for text, value_deg in zip(data["ddm"], (lat, lon), strict=True):
        # Rounded to degrees and then to minutes: together never off by more than a third of R95.
        assert abs((read_back(text) - value_deg + 180) % 360 - 180) * 111_320 <= certificate.r95_m * 0.36


@pytest.mark.parametrize(("lat", "lon"), [(34.0, 77.0), (-34.0, 102.7), (86.9, 86.9), (89.0, -77.0)])
def test_a_module_on_the_other_side_of_the_world_still_has_a_chart(lat: float, lon: float) -> None:
    pdf, _ = drawn(replace(CERTIFICATE, lat_deg=lat, lon_deg=lon, outside_m=9e6))
    assert pdf.startswith(b"%PDF")
