"""All that is held about one family, written as JSON for machines and as plain text for the family itself."""

import json
from collections.abc import Iterator
from typing import Any
from zoneinfo import ZoneInfo

from registry.records.family_record import FamilyRecord, Section

__all__ = ["family_record_data", "write_family_json", "write_family_text"]

_LABELS = 26


def family_record_data(record: FamilyRecord) -> dict[str, Any]:
    """Give the record as JSON data: a list of rows for each section, empty values left out."""
    return {
        "tag": record.tag,
        "programme": record.programme,
        "written_at": record.written_at.isoformat(),
        "journal_head": record.journal_head,
        "held": {section.name: _rows(section) for section in record.sections},
        "kept": {section.name: section.kept for section in record.sections},
        "notes": list(record.notes),
    }


def write_family_json(record: FamilyRecord) -> bytes:
    """Write the record as one JSON document in UTF-8."""
    data = family_record_data(record)
    return (json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False) + "\n").encode()


def write_family_text(record: FamilyRecord) -> bytes:
    """Write the record as plain text in UTF-8, for somebody who never saw the registry."""
    return ("\n".join(_lines(record)) + "\n").encode()


def _rows(section: Section) -> list[dict[str, Any]]:
    return [{fact.name: fact.value for fact in row if fact.value not in (None, "")} for row in section.rows]


def _lines(record: FamilyRecord) -> Iterator[str]:
    at = record.written_at.astimezone(ZoneInfo(record.zone))
    title = f"What {record.programme} holds about {record.tag} and the family"
    yield from (title, "=" * len(title), "")
    yield f"Written on {at:%Y-%m-%d %H:%M %Z}; head of the journal {record.journal_head[:16]}."
    for section in record.sections:
        yield from ("", section.title, "-" * len(section.title), section.kept)
        for row in section.rows:
            yield ""
            for fact in row:
                if fact.label and fact.words:
                    yield f"  {fact.label:<{_LABELS}}{fact.words}"
    yield from ("", "Not in this paper", "-----------------", *record.notes)
