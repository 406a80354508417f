"""Where rows that were not taken in are kept, with their reasons, until somebody mends them."""

from collections.abc import Sequence
from itertools import count
from pathlib import Path

from registry.errors import ConflictError, UnwritableError
from registry.formats.csv_table import CsvTable, Row, write_reject_table
from registry.storage.files import read_file, write_file

__all__ = ["keep_rejects", "reject_file"]


def reject_file(file: Path, chosen: Path | None = None) -> Path:
    """
    Tell where the rejected rows of a file go.

    Raises
    ------
    ConflictError
        If that is the file itself.
    """
    target = chosen or file.with_name(f"{file.name}.rejected.csv")
    if target.resolve() == file.resolve():
        what = f"{target} is the file that is being taken in."
        raise ConflictError(what, remedy="Choose another name for the rejected rows.")
    return target


def keep_rejects(
    target: Path,
    table: CsvTable,
    rejected: Sequence[tuple[Row, str]],
    *,
    taken: int,
    private: bool = False,
) -> Path:
    """
    Write rejected rows; an older file of that name, which somebody may be mending, is left alone.

    Parameters
    ----------
    target : Path
        The name wanted; where it holds something else, a number is added to it.
    table : CsvTable
        The spreadsheet.
    rejected : sequence of (Row, str)
        The rows and why.
    taken : int
        How many rows stand in the registry already, for the message where this fails.
    private : bool
        Whether only the owner may read them (rights 0600), where they may hold what is private.

    Raises
    ------
    UnwritableError
        If the disk is full or the folder read-only.
    """
    data = write_reject_table(table, rejected).encode()
    try:
        for number in count(2):
            if not target.exists() or (target.is_file() and read_file(target) == data):
                break
            target = target.with_name(f"{target.stem.removesuffix(f'-{number - 1}')}-{number}{target.suffix}")
        return write_file(target, data, private=private)
    except UnwritableError as error:
        what = f"{error.what} {taken} rows stand; the {len(rejected)} rejected ones are in no file yet."
        remedy = "Take the file in again where there is room: rows that stand are passed over."
        raise UnwritableError(what, remedy=remedy) from error
