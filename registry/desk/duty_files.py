"""The draft of a notice or report: drawn up as its reader asks for it, and as the files of that draft."""

from registry.actions.draft_duty import draft_duty
from registry.documents.duty_draft import render_duty_draft
from registry.formats.duty_table import write_draft_table, write_duty_fields
from registry.formats.reported_position import write_reported
from registry.formats.written_position import read_position
from registry.ports import Register
from registry.records.duty_draft import DutyDraft
from registry.storage.shipped import shipped_path

__all__ = ["draft_of", "duty_files"]


def draft_of(register: Register, duty_id: str) -> DutyDraft:
    """Draft the paper of a duty; errors as of ``draft_duty``."""
    return draft_duty(register, duty_id, read_position=read_position, write_position=write_reported)


def duty_files(draft: DutyDraft) -> dict[str, bytes]:
    """
    Write the files of a draft.

    Returns
    -------
    dict
        Name of each file, which every file system takes, to its bytes: the paper, its fields, each table
        that has rows.
    """
    name = _file_name(draft.duty.duty_id)
    files = {
        f"{name}.pdf": render_duty_draft(draft, shipped_path("fonts")),
        f"{name}.csv": write_duty_fields(draft),
    }
    for table in draft.tables:
        if table.rows:
            files[f"{name}-{_file_name(table.title.lower())}.csv"] = write_draft_table(table)
    return files


def _file_name(text: str) -> str:
    """Make a name that every file system takes."""
    return "".join(c if c.isalnum() or c in "-._" else "_" for c in text)
