"""A folder of certificates: what is missing in it is issued and written, what is whole is left alone."""

import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING

from registry.desk.certificate_page import STATUS_FILE, is_whole, page_printer, paper_file

if TYPE_CHECKING:
    from registry.documents.look import Look
    from registry.errors import RequestError
    from registry.ports import Register
    from registry.records.certificate_version import CertificateVersion
    from registry.records.status_list import StatusList
    from registry.storage.keys import SigningKey

__all__ = ["Laid", "certify_into", "pack_papers", "status_files"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """What became of one module."""

    tag: str
    #: "issued", "again" (printed again), "kept" (there and unchanged), "withdrawn" or "refused".
    outcome: str
    number: str = ""
    version: int = 0
    #: The paper, where there is one.
    file: Path | None = None
    #: Why nothing was issued, where it was refused.
    refused: "RequestError | None" = None


def certify_into(
    register: "Register",
    folder: Path,
    tags: tuple[str, ...],
    *,
    key: "SigningKey",
    look: "Look",
    now: datetime,
    actor: str,
) -> Iterator[Laid]:
    """
    Issue the certificates of some modules into a folder, one after the other.

    Whoever stops in between loses nothing: each stands, and lies there whole, once the next is asked for.

    Parameters
    ----------
    register : Register
        Proved already (``storage.replay.insist_on_proof``).
    folder : pathlib.Path
        Made where it is missing; what an earlier run left half written there is cleared away.
    tags : tuple of str
        As from :func:`registry.actions.issue_certificates.tags_to_certify`.
    key : SigningKey
        Signs.
    look : Look
        Language and sheet.
    now : datetime.datetime
        The instant of issue.
    actor : str
        Who issues them.
    """
    from registry.actions.issue_certificates import issue_certificates
    from registry.storage.files import clear_drafts, make_folder, write_file

    make_folder(folder)
    clear_drafts(folder)
    public_keys = {each.key_id: each.public_key for each in register.signing_keys()}

    def is_at_hand(version: "CertificateVersion") -> bool:
        return is_whole(paper_file(folder, version.number, version.version, look), version, public_keys)

    for each in issue_certificates(
        register, tags, print_page=page_printer(key, look), is_at_hand=is_at_hand, now=now, actor=actor
    ):
        if each.refused is not None:
            yield Laid(tag=each.tag, outcome="refused", refused=each.refused)
        elif each.issued is not None:
            made = each.issued.certificate
            file = write_file(paper_file(folder, made.number, made.version, look), each.issued.pdf)
            outcome = "again" if each.issued.again else "issued"
            yield Laid(tag=each.tag, outcome=outcome, number=made.number, version=made.version, file=file)
        elif each.kept is not None:
            held = each.kept
            file = paper_file(folder, held.number, held.version, look)
            yield Laid(tag=each.tag, outcome="kept", number=held.number, version=held.version, file=file)
        elif each.withdrawn is not None:
            held = each.withdrawn
            yield Laid(tag=each.tag, outcome="withdrawn", number=held.number, version=held.version)


def pack_papers(
    versions: "Iterable[CertificateVersion]", folder: Path, look: "Look", target: IO[bytes]
) -> int:
    """Pack the papers of some versions that lie in a folder into one ZIP file; tell how many there were."""
    count = 0
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as packed:
        for each in versions:
            file = paper_file(folder, each.number, each.version, look)
            if file.is_file():
                packed.write(file, file.name)
                count += 1
    return count


def status_files(status: "StatusList", key: "SigningKey") -> dict[str, bytes]:
    """Give the files by which everybody can tell which certificates stand: signed list, key, page."""
    from registry.documents.status_page import write_status_page
    from registry.formats.status_list import write_status_list
    from registry.storage.keys import public_key_pem

    files = {
        STATUS_FILE: write_status_list(status, key) + "\n",
        "public_key.pem": public_key_pem(status.keys[-1].public_key),
        "index.html": write_status_page(status),
    }
    return {name: text.encode() for name, text in files.items()}
