"""What a certificate states, once it is proved: out of its PDF file, or out of the text of its code."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.errors import InvalidRecordError

__all__ = ["ProvedPaper", "prove_paper"]

_REMEDY = "Give the PDF file whole, or the text that its QR code holds."


@dataclass(frozen=True, slots=True)
class ProvedPaper:
    """What is signed, and the key that proves it."""

    statement: dict[str, Any]
    key_id: str


def prove_paper(content: bytes, name: str, keys: Mapping[str, bytes]) -> ProvedPaper:
    """
    Prove a PDF file or a text.

    Nothing of a PDF file is unpacked or run: its seal is over every byte.

    Parameters
    ----------
    content : bytes
        The whole file.
    name : str
        What it is called, for messages.
    keys : mapping of str to bytes
        The keys that are trusted, raw (32 bytes), by their thumbprint.

    Raises
    ------
    RejectedError
        If it is not signed, was changed, or its key is not trusted.
    InvalidRecordError
        If what is signed is not a certificate's statement.
    UnreadableFileError
        If it is neither a PDF file nor a text.
    """
    from registry.formats.sealed_pdf import is_seal, open_seal, verify_sealed
    from registry.formats.signed_statement import key_id_of, unwrapped, verify
    from registry.records.certificate import is_statement
    from registry.storage.files import decode_text

    if content.startswith(b"%PDF"):
        statement = verify_sealed(content, keys)
        key_id = key_id_of(open_seal(content)[0])
    else:
        text = unwrapped(decode_text(content, name=name).text)
        if is_seal(text, keys):
            what = (
                "This is the seal of a PDF file, not the statement of a certificate: alone it proves nothing."
            )
            raise InvalidRecordError(what, remedy=_REMEDY)
        statement = verify(text, keys)
        key_id = key_id_of(text)
    if not is_statement(statement):
        what = "What is signed here is not the statement of a certificate."
        raise InvalidRecordError(what, remedy=_REMEDY)
    return ProvedPaper(statement, key_id)
