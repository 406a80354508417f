"""Whether a paper is genuine, told to whoever holds it: by file, by code, by number; and whatever else is sent."""

import io
import os
import re
import zipfile
from pathlib import Path

import pikepdf
import pytest

from registry.cli.main import run
from registry.formats.sealed_pdf import open_seal
from registry.formats.signed_statement import payload_of, sign
from registry.storage.keys import load_key
from tests.web.conftest import Site, form_token


@pytest.fixture
def paper(site: Site) -> bytes:
    assert (
        run(
            (
                "certificate",
                "MC-0001",
                "--out",
                "papers",
                "--despite",
                "both seen by divers",
                "--actor",
                "Ada",
            )
        )
        == 0
    )
    (file,) = Path("papers").glob("*.pdf")
    return file.read_bytes()


def number_of(paper: bytes) -> str:
    return str(payload_of(open_seal(paper)[0])["statement"]["certificate"])


def code_of(paper: bytes) -> str:
    """Give what the code on the paper says: the statement alone, signed."""
    jws = open_seal(paper)[0]
    seal = payload_of(jws)
    return sign(seal["statement"], load_key(_key_id(jws)))


def _key_id(jws: str) -> str:
    from registry.formats.signed_statement import key_id_of

    return key_id_of(jws)


def proved(client, content: bytes, name="paper.pdf", kind="application/pdf"):
    return client.post("/authenticate", files={"file": (name, content, kind)})


def heading(answer) -> str:
    found = re.search(r'class="note proof[^>]*>\s*<h2><svg.*?</svg>([^<]*)', answer.text)
    assert found, answer.text
    return found[1]


def test_a_paper_is_proved_by_file_code_and_number(site, paper):
    client = site.client()
    answer = proved(client, paper)
    assert heading(answer) == "Genuine"
    assert "Ada Quill" in answer.text
    assert "version 1: current" in answer.text
    answer = client.post("/authenticate", data={"code": f"  {code_of(paper)}\n"})
    assert heading(answer) == "Genuine"
    answer = client.get("/authenticate", params={"number": number_of(paper).lower()})
    assert heading(answer) == f"{number_of(paper)}: current"
    assert "Quill" not in answer.text
    assert "MC-0001" not in answer.text


def test_one_changed_byte_is_found(site, paper):
    client = site.client()
    for place in (100, len(paper) // 2, len(paper) - 300):
        changed = bytearray(paper)
        changed[place] ^= 1
        answer = proved(client, bytes(changed))
        assert heading(answer) == "Not genuine", place
    code = code_of(paper)
    turned = code[:-2] + ("A" if code[-2] != "A" else "B") + code[-1]
    assert heading(client.post("/authenticate", data={"code": turned})) == "Not genuine"


def test_what_became_of_a_paper_is_told(site, paper):
    client = site.client()
    amend = ("module", "amend", "MC-0001", "--memorial", "Ada M. Quill", "--reason", "misspelt")
    assert run((*amend, "--actor", "Ada")) == 0
    answer = proved(client, paper)
    assert heading(answer) == "Genuine, but read on"
    assert "the record has changed since" in answer.text
    assert (
        run(
            (
                "certificate",
                "MC-0001",
                "--out",
                "papers",
                "--despite",
                "both seen by divers",
                "--actor",
                "Ada",
            )
        )
        == 0
    )
    assert "superseded by version 2" in proved(client, paper).text
    number = number_of(paper)
    text = client.get(f"/authenticate?number={number}").text
    assert re.search(r"<dt>Version 1</dt><dd>issued on [\d-]+; superseded on", text)
    assert re.search(r"<dt>Version 2</dt><dd>issued on [\d-]+; current", text)
    withdraw = ("certificates", "withdraw", number, "--reason", "another module", "--actor", "Ada")
    assert run(withdraw) == 0
    assert "withdrawn on" in proved(client, paper).text
    assert heading(client.get(f"/authenticate?number={number}")) == f"{number}: withdrawn"


def _encrypted() -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as document:
        document.add_blank_page()
        document.save(out, encryption=pikepdf.Encryption(owner="a", user="b"))
    return out.getvalue()


def _bomb() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("paper.pdf", bytes(50_000_000))
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("paper.pdf", _encrypted(), "carries no seal"),
        ("paper.pdf", b"%PDF-1.7\n", "carries no seal"),
        ("paper.zip", _bomb(), "neither a PDF file nor"),
        ("paper.pdf", b"\x00\x01\x02" * 1000, "neither a PDF file nor"),
        ("paper.png", b"\x89PNG\r\n\x1a\n" + bytes(500), "neither a PDF file nor"),
        ("paper.txt", b"hello", "not a signed statement"),
        ("paper.txt", b"a.b.c" * 40_000, "neither a PDF file nor"),
        ("paper.txt", "eyJ\u202e.é.ü".encode(), "not a signed statement"),
        ("paper.pdf", b"%PDF" + b"x" * 5_000_000, "larger than 5 MB"),
        ("../../etc/passwd", b"root:x:0", "not a signed statement"),
        ("<script>.pdf", b"%PDF-<script>alert(1)</script>", "carries no seal"),
        ("empty.pdf", b"", "The file is empty"),
    ],
)
def test_whatever_else_is_sent_is_answered_in_plain_words(site, name, content, said):
    answer = proved(site.client(), content, name)
    assert answer.status_code in (200, 400)
    assert heading(answer) in ("Not genuine", "This could not be read")
    assert said in answer.text
    assert "Traceback" not in answer.text
    assert "<script>alert" not in answer.text


def test_random_bytes_are_never_genuine_and_never_a_fault(site):
    client = site.client()
    for size in (1, 10, 1000, 60_000):
        for head in (b"", b"%PDF-1.7\n", b"%leadline-seal "):
            answer = proved(client, head + os.urandom(size))
            assert answer.status_code in (200, 400), (size, head)
            assert heading(answer) != "Genuine"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        ("MCMR-2026-000001-42", "check digits"),
        ("MCMR-2026-009999-88", "No certificate"),
        ("MC-0001", "is not a certificate number"),
        ("<script>alert(1)</script>", "is not a certificate number"),
        ("=HYPERLINK(1)", "is not a certificate number"),
    ],
)
def test_a_number_that_is_none_is_told_in_plain_words(site, number, said):
    from registry.records.certificate import certificate_number

    asked = certificate_number("MCMR", 2026, 9999) if said == "No certificate" else number
    answer = site.client().get("/authenticate", params={"number": asked})
    assert answer.status_code == 200
    assert said in answer.text
    assert "<script>alert" not in answer.text
    assert "leadline " not in answer.text.split("<footer>")[0].split("<main", 1)[1]


def test_an_open_session_does_not_stand_in_the_way(site, paper):
    client = site.client("Ada")
    assert heading(proved(client, paper)) == "Genuine"
    data = {"code": code_of(paper), "form_token": form_token(client, "/authenticate")}
    assert heading(client.post("/authenticate", data=data)) == "Genuine"
    refused = client.post("/authenticate", data=data, headers={"Origin": "https://elsewhere.example"})
    assert refused.status_code == 403


def test_nothing_is_sent(site):
    client = site.client()
    assert heading(client.post("/authenticate", data={"code": " "})) == "This could not be read"
    assert client.post("/authenticate", content=b"\xff", headers={"content-type": "multipart/form-data; boundary=x"}).status_code in (400, 422)  # fmt: skip
