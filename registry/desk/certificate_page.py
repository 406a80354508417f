"""How a certificate becomes the bytes of its paper: drawn, signed and sealed with the key in use."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from registry.documents.look import Look
    from registry.records.certificate import Certificate
    from registry.records.certificate_version import CertificateVersion
    from registry.storage.keys import SigningKey

__all__ = ["STATUS_FILE", "holds_status_page", "is_whole", "page_printer", "paper_file", "signing_key"]

#: The signed list in the folder that a programme publishes.
STATUS_FILE = "status.jws"


def signing_key(register: Any) -> "SigningKey":
    """
    Load the key that the programme signs with now.

    Raises
    ------
    MissingKeyError
        If this machine does not hold it; says what to do where nobody does any more.
    """
    from registry.storage.keys import load_key

    return load_key(register.signing_keys()[-1].key_id)


def page_printer(key: "SigningKey", look: "Look") -> "Callable[[Certificate], bytes]":
    """Give what turns a certificate into its signed and sealed page."""
    from registry.documents.certificate import render_certificate
    from registry.formats.sealed_pdf import seal
    from registry.formats.signed_statement import sign
    from registry.storage.shipped import shipped_path

    fonts = shipped_path("fonts")

    def print_page(certificate: "Certificate") -> bytes:
        statement = certificate.statement()
        page = render_certificate(
            certificate,
            sign(statement, key),
            fonts,
            language=look.language(certificate.language),
            paper=look.paper,
        )
        return seal(page, statement, key)

    return print_page


def paper_file(folder: Path, number: str, version: int, look: "Look", duplicate: int = 0) -> Path:
    """Name the file of a paper."""
    copy = f"-duplicate{duplicate}" if duplicate else ""
    return folder / f"{number}-v{version}{copy}{look.suffix}.pdf"


def holds_status_page(file: Path) -> bool:
    """Tell whether a file is the page beside a published list; one that cannot be read is not known to be."""
    from registry.documents.status_page import is_status_page
    from registry.errors import UnreadableFileError
    from registry.storage.files import read_file

    try:
        return is_status_page(read_file(file).decode(errors="replace"))
    except UnreadableFileError:
        return False


def is_whole(file: Path, version: "CertificateVersion", keys: Mapping[str, bytes]) -> bool:
    """
    Tell whether a file is the whole paper of a version, in whatever language and on whatever sheet.

    Its seal proves every byte; the digest of the first print would not tell another language from damage.
    """
    from registry.errors import RejectedError
    from registry.formats.sealed_pdf import verify_sealed
    from registry.records.certificate_version import statement_digest
    from registry.storage.files import read_file

    if not file.is_file():
        return False
    try:
        return statement_digest(verify_sealed(read_file(file), keys)) == version.statement_sha256
    except RejectedError:
        return False
