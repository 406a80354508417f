"""A sealed file opens like any other, and no byte of it can be changed."""

import io
import shutil
import subprocess
from pathlib import Path

import pikepdf
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from registry.errors import RejectedError
from registry.formats.sealed_pdf import open_seal, seal, verify_sealed
from registry.formats.signed_statement import sign
from registry.records.certificate import key_thumbprint

STATEMENT = {"certificate": "MCMR-2026-000017-9", "name": "Zoë"}


class Key:
    """A signer that holds a private key in memory."""

    def __init__(self, private: bytes) -> None:
        self._private = Ed25519PrivateKey.from_private_bytes(private)
        self.public = self._private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        self.key_id = key_thumbprint(self.public)

    def sign(self, message: bytes) -> bytes:
        return self._private.sign(message)


KEY = Key(bytes(range(32)))
TRUSTED = {KEY.key_id: KEY.public}


@pytest.fixture(scope="module")
def plain() -> bytes:
    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page(page_size=(595, 842))
        pdf.save(out, static_id=True, object_stream_mode=pikepdf.ObjectStreamMode.disable)
    return out.getvalue()


@pytest.fixture(scope="module")
def sealed(plain: bytes) -> bytes:
    return seal(plain, STATEMENT, KEY)


def test_a_seal_proves_the_file_and_its_statement(plain: bytes, sealed: bytes) -> None:
    assert verify_sealed(sealed, TRUSTED) == STATEMENT
    line = next(row for row in sealed.splitlines(keepends=True) if row.startswith(b"%leadline-seal "))
    assert sealed.replace(line, b"") == plain
    assert sealed.endswith(plain[plain.rindex(b"startxref") :])


def test_every_changed_byte_is_found(sealed: bytes) -> None:
    for i in range(len(sealed)):
        for flip in (0x01, 0x20, 0x80):
            changed = bytearray(sealed)
            changed[i] ^= flip
            with pytest.raises(RejectedError):
                verify_sealed(bytes(changed), TRUSTED)


def test_every_missing_or_added_byte_is_found(sealed: bytes) -> None:
    for i in range(len(sealed) + 1):
        with pytest.raises(RejectedError):
            verify_sealed(sealed[:i] + b"\n" + sealed[i:], TRUSTED)
        if i < len(sealed):
            with pytest.raises(RejectedError):
                verify_sealed(sealed[:i] + sealed[i + 1 :], TRUSTED)


@pytest.mark.parametrize("end", [b"\n", b" ", b"\x00", b"\r\n", b"%%EOF", b"\nstartxref\n9\n%%EOF\n"])
def test_nothing_may_follow(sealed: bytes, end: bytes) -> None:
    with pytest.raises(RejectedError):
        verify_sealed(sealed + end, TRUSTED)


def test_an_edit_by_a_program_breaks_the_seal(sealed: bytes) -> None:
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(sealed)) as pdf:
        pdf.save(out)
    with pytest.raises(RejectedError, match="no seal"):
        verify_sealed(out.getvalue(), TRUSTED)


def test_a_seal_moved_to_another_file_is_found(plain: bytes, sealed: bytes) -> None:
    line = next(row for row in sealed.splitlines(keepends=True) if row.startswith(b"%leadline-seal "))
    other = plain.replace(b"595", b"594")
    at = other.rindex(b"startxref")
    with pytest.raises(RejectedError, match="changed after it was sealed"):
        verify_sealed(other[:at] + line + other[at:], TRUSTED)


def test_a_signed_statement_that_is_no_seal_is_refused(plain: bytes) -> None:
    at = plain.rindex(b"startxref")
    line = f"%leadline-seal {sign(STATEMENT, KEY)}\n".encode()
    with pytest.raises(RejectedError, match="not the seal of a file"):
        verify_sealed(plain[:at] + line + plain[at:], TRUSTED)


def test_an_unknown_key_is_named(sealed: bytes) -> None:
    with pytest.raises(RejectedError, match=KEY.key_id):
        verify_sealed(sealed, {})


@pytest.mark.parametrize("data", [b"", b"hello", b"%PDF-1.7\n"])
def test_a_file_without_a_seal_is_told_plainly(data: bytes) -> None:
    with pytest.raises(RejectedError, match="no seal"):
        open_seal(data)


def test_only_a_whole_unsealed_pdf_is_sealed(plain: bytes, sealed: bytes) -> None:
    with pytest.raises(RejectedError, match="already"):
        seal(sealed, STATEMENT, KEY)
    for broken in (b"", plain[:-9], plain[5:], plain + b"more"):
        with pytest.raises(RejectedError, match="not a complete PDF"):
            seal(broken, STATEMENT, KEY)


def test_readers_pass_over_the_seal(sealed: bytes, tmp_path: Path) -> None:
    with pikepdf.open(io.BytesIO(sealed)) as pdf:
        assert len(pdf.pages) == 1
        assert pdf.check_pdf_syntax() == []
        assert pdf.get_warnings() == []
    if shutil.which("pdftoppm") is None:
        pytest.skip("poppler-utils is not installed")
    path = tmp_path / "sealed.pdf"
    path.write_bytes(sealed)
    commands: list[list[str | Path]] = [
        ["pdftotext", path, "-"],
        ["pdftoppm", "-r", "20", path, tmp_path / "page"],
        ["pdfinfo", path],
    ]
    for command in commands:
        done = subprocess.run(command, capture_output=True, text=True, check=True)
        assert done.stderr == ""
