"""
PDF files that carry their own proof: a change of any byte is found without a network.

The seal is one comment line, ``%leadline-seal`` and a signed statement, right before the last ``startxref``.
No offset in the file moves, nothing follows ``%%EOF``, and every reader passes over a comment. What is signed
holds the SHA-256 of the file without that line.
"""

import hashlib
import re
from collections.abc import Mapping
from typing import Any

from registry.errors import RejectedError
from registry.formats.signed_statement import sign, verify
from registry.ports import Signer

__all__ = ["is_seal", "open_seal", "seal", "verify_sealed"]

_TAIL = re.compile(rb"startxref\r?\n\d+\r?\n%%EOF(?:\r?\n)?\Z")
_SEAL = re.compile(
    rb"(?<=[\r\n])%leadline-seal ([A-Za-z0-9_.-]+)\n(?=startxref\r?\n\d+\r?\n%%EOF(?:\r?\n)?\Z)"
)
_REMEDY = "Get the file again from the programme; a copy that was printed to PDF or edited has lost its seal."


def seal(pdf: bytes, statement: Mapping[str, Any], signer: Signer) -> bytes:
    """
    Seal a PDF file together with what it states.

    Parameters
    ----------
    pdf : bytes
        A finished file that ends with ``startxref``, an offset and ``%%EOF``.
    statement : mapping
        What the pages state, as plain JSON values.
    signer : Signer
        Whoever holds the programme's private key.

    Returns
    -------
    bytes
        The same file with one comment line more.

    Raises
    ------
    RejectedError
        If the file is no complete PDF, or sealed already.
    """
    if _SEAL.search(pdf):
        what = "The PDF file carries a seal already."
        raise RejectedError(what, remedy="Seal the file as it was before.")
    tail = _TAIL.search(pdf)
    if (
        not pdf.startswith(b"%PDF-")
        or tail is None
        or pdf[tail.start() - 1 : tail.start()] not in {b"\n", b"\r"}
    ):
        what = "The file is not a complete PDF file."
        raise RejectedError(what, remedy="Make it anew.")
    sealed = {"sha256": hashlib.sha256(pdf).hexdigest(), "statement": dict(statement)}
    line = f"%leadline-seal {sign(sealed, signer)}\n".encode()
    return pdf[: tail.start()] + line + pdf[tail.start() :]


def is_seal(text: str, public_keys: Mapping[str, bytes]) -> bool:
    """Tell whether a text is the seal of a file, with or without the word before it."""
    if text.startswith("%leadline-seal"):
        return True
    try:
        return set(verify(text, public_keys)) == {"sha256", "statement"}
    except RejectedError:
        return False


def open_seal(pdf: bytes) -> tuple[str, str]:
    """
    Take the seal out of a file; nothing is proved by that.

    Returns
    -------
    jws, digest : str
        The signed seal, and the SHA-256 (hexadecimal) of the file without it.

    Raises
    ------
    RejectedError
        If the file has no seal at its end.
    """
    found = _SEAL.search(pdf)
    if found is None:
        what = "The file carries no seal of Leadline at its end."
        raise RejectedError(what, remedy=_REMEDY)
    return found[1].decode(), hashlib.sha256(pdf[: found.start()] + pdf[found.end() :]).hexdigest()


def verify_sealed(pdf: bytes, public_keys: Mapping[str, bytes]) -> dict[str, Any]:
    """
    Give back what a sealed file states, once it is proved that not one byte was changed.

    Parameters
    ----------
    pdf : bytes
        The file.
    public_keys : mapping of str to bytes
        The keys that are trusted, raw (32 bytes), by their thumbprint.

    Raises
    ------
    RejectedError
        If there is no seal, its key is not trusted, or the seal or the file was changed.
    """
    jws, digest = open_seal(pdf)
    sealed = verify(jws, public_keys)
    statement = sealed.get("statement")
    if set(sealed) != {"sha256", "statement"} or not isinstance(statement, dict):
        what = "The file's last lines hold a signature, but not the seal of a file."
        raise RejectedError(what, remedy=_REMEDY)
    if sealed["sha256"] != digest:
        what = "The file was changed after it was sealed."
        raise RejectedError(what, remedy=_REMEDY)
    return statement
