"""
The evidence behind a placement as files that anybody can open: JSON to read, a log as it was, an index.

Names of files are made of the tag and the name of the journal entry, in letters that every disk takes.
"""

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from registry.formats.csv_table import write_csv_table
from registry.records.entry import instant_text
from registry.records.placement_evidence import PlacementEvidence

__all__ = ["EvidenceFile", "evidence_files", "write_evidence_index"]

_UNSAFE = re.compile(r"[^A-Za-z0-9._-]+")
_LONGEST_NAME = 48
INDEX = (
    "path",
    "bytes",
    "sha256",
    "permit",
    "placement",
    "placement_id",
    "entered_at",
    "actor",
    "entry_sha256",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceFile:
    """One file of the folder of evidence."""

    #: Below that folder: a folder for the permit, and a name.
    folder: str
    name: str
    content: bytes
    evidence: PlacementEvidence

    @property
    def path(self) -> str:
        """Where it lies, with a stroke between folder and name."""
        return f"{self.folder}/{self.name}"


def evidence_files(evidence: PlacementEvidence) -> Iterator[EvidenceFile]:
    """
    Write the files of one placement: its derivation and, where the journal holds them, the lines of the log.

    Parameters
    ----------
    evidence : PlacementEvidence
        What the journal holds.
    """
    stem = f"{_safe(evidence.tag)}--{_safe(evidence.placement_id)}"
    folder = _safe(evidence.permit)
    content = dict(evidence.content)
    if evidence.log_lines:
        log = "".join(f"{line}\r\n" for line in evidence.log_lines).encode("utf-8", errors="replace")
        content["lines_of_the_log"] = {
            "in": f"{stem}.nmea",
            "sha256": hashlib.sha256(log).hexdigest(),
            "lines": len(evidence.log_lines),
        }
        yield EvidenceFile(folder=folder, name=f"{stem}.nmea", content=log, evidence=evidence)
    text = json.dumps(content, ensure_ascii=False, indent=2) + "\n"
    yield EvidenceFile(
        folder=folder, name=f"{stem}.json", content=text.encode("utf-8", errors="replace"), evidence=evidence
    )


def write_evidence_index(lines: Iterable[tuple[str, int, str, PlacementEvidence]]) -> bytes:
    """
    List the files as a spreadsheet: path, size, SHA-256, and the journal entry that each is the evidence of.

    Parameters
    ----------
    lines : iterable of (str, int, str, PlacementEvidence)
        Path, number of bytes, digest in hexadecimal, and what the file is of.
    """
    rows = (
        (
            path,
            size,
            digest,
            each.permit,
            each.tag,
            each.placement_id,
            instant_text(each.at),
            each.actor,
            each.digest,
        )
        for path, size, digest, each in lines
    )
    return write_csv_table(INDEX, rows).encode("utf-8-sig", errors="replace")


def _safe(text: str) -> str:
    """
    Make a name that is no path, no hidden file, and means nothing to a shell.

    Examples
    --------
    >>> _safe("../MR 1<b>"), _safe("...")
    ('MR-1-b', 'unnamed')
    """
    return _UNSAFE.sub("-", text).strip(".-")[:_LONGEST_NAME].rstrip(".-") or "unnamed"
