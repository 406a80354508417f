"""
Spreadsheets as text: a table with named columns read row by row, and written so that no cell can act.

Reading guesses nothing: the delimiter must follow from the text, names of columns must differ, and a row that
does not fit keeps its raw text and says why, while the rows around it go on.

A cell that a spreadsheet would run as a formula (it begins with ``=``, ``+``, ``-``, ``@``, tab or carriage
return and is no number) is written with an apostrophe in front, which reading takes off again.

Sources
-------
RFC 4180 (quoting, CRLF). Formula-safe cells: common practice, no source.
"""

import csv
import io
import re
import unicodedata
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from registry.errors import TableError

__all__ = ["DELIMITERS", "CsvTable", "Row", "read_csv_table", "write_csv_table", "write_reject_table"]

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
SAMPLE_ROWS = 50
#: A quote that is never closed swallows at most this many characters before it is found out.
LONGEST_CELL = 100_000
SHOWN = 40

_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row below the header."""

    #: As a spreadsheet numbers it: the header of a table that starts at the top is row 1.
    number: int
    #: As typed, outer blanks included; one for each column unless `problem` says otherwise.
    cells: tuple[str, ...]
    #: Why the row cannot be read, None if it can.
    problem: str | None
    #: The row as it stands in the text, without its line end.
    raw: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvTable:
    """A spreadsheet whose columns are understood; rows are parsed as they are asked for."""

    #: Names as typed, and normalised: lower case, words joined by an underscore ("Depth (ft)" to "depth_ft").
    written_header: tuple[str, ...]
    header: tuple[str, ...]
    delimiter: str
    text: str

    def rows(self) -> Iterator[Row]:
        """Give the rows below the header in order; rows that are blank throughout are left out."""
        rows = _parsed(self.text, self.delimiter)
        for row in rows:
            if not _blank(row):
                break
        for row in rows:
            if not _blank(row):
                yield self._fitted(row)

    def _fitted(self, row: Row) -> Row:
        width = len(self.header)
        if row.problem is not None:
            return row
        cells = row.cells
        if len(cells) > width and not any(cell.strip() for cell in cells[width:]):
            cells = cells[:width]
        problem = None
        if len(cells) != width:
            problem = f"The row has {len(cells)} cells where the header has {width} columns."
        return Row(number=row.number, cells=cells, problem=problem, raw=row.raw)

    def by_name(self, row: Row) -> dict[str, str]:
        """Give the cells of a sound row by the normalised name of their column."""
        return dict(zip(self.header, row.cells, strict=True))


def read_csv_table(content: bytes | str, *, delimiter: str | None = None) -> CsvTable:
    r"""
    Read a spreadsheet that was saved as text.

    Parameters
    ----------
    content : bytes or str
        Bytes in UTF-8, with or without its mark, or in UTF-16 with its mark; or text.
    delimiter : str, optional
        ``","``, ``";"`` or a tab, where the text fits more than one.

    Raises
    ------
    TableError
        If the text is empty, holds NUL, is in another encoding, fits two delimiters equally well, or if its
        header has a column without a name or the same name twice.

    Examples
    --------
    >>> table = read_csv_table("Tag;Depth (ft)\nMC-1;60,5\n")
    >>> table.header
    ('tag', 'depth_ft')
    >>> [row.cells for row in table.rows()]
    [('MC-1', '60,5')]
    """
    text = _decoded(content) if isinstance(content, bytes) else content.removeprefix("\ufeff")
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        what = f"Line {line} holds a NUL character: this is not a spreadsheet saved as text."
        raise TableError(what, remedy="Save the spreadsheet as CSV (UTF-8) and try again.")
    if delimiter is not None and delimiter not in DELIMITERS:
        what = f"{delimiter!r} does not separate columns here."
        raise TableError(what, remedy="Give a comma, a semicolon or a tab.")
    delimiter = delimiter or _sniffed(text)
    first = next((row for row in _parsed(text, delimiter) if not _blank(row)), None)
    if first is None:
        raise TableError("The table is empty.", remedy="Give a header line and at least one row.")
    if first.problem is not None:
        raise TableError(f"The header cannot be read. {first.problem}", remedy="Mend its quotes.")
    written = _named_columns(first.cells)
    return CsvTable(
        written_header=written,
        header=tuple(_normalised(name) for name in written),
        delimiter=delimiter,
        text=text,
    )


def write_csv_table(header: Sequence[str], rows: Iterable[Sequence[object]], *, delimiter: str = ",") -> str:
    """
    Write a table as RFC 4180 text whose cells no spreadsheet runs.

    Numbers stay numbers and None becomes an empty cell; :func:`read_csv_table` gives the cells back exactly.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow([_safe(name) for name in header])
    for row in rows:
        writer.writerow([_safe(cell) for cell in row])
    return out.getvalue()


def write_reject_table(table: CsvTable, rejected: Iterable[tuple[Row, str]]) -> str:
    """
    Write the rows that were not taken in, as they came, with the reason in a last column.

    A row that could not be cut into cells stands whole in the first column. Once mended, the file can be read
    again as it is: the column of reasons is called ``reason``, or ``reason_2`` where that name is taken.
    """
    reason, number = "reason", 1
    while reason in table.header:
        number += 1
        reason = f"reason_{number}"
    width = len(table.header)

    def line(row: Row, why: str) -> list[str]:
        cells = list(row.cells) if len(row.cells) <= width and row.cells else [row.raw]
        return [*cells, *[""] * (width - len(cells)), f"row {row.number}: {why}"]

    rows = (line(row, why) for row, why in rejected)
    return write_csv_table([*table.written_header, reason], rows, delimiter=table.delimiter)


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding, name = "utf-16", "UTF-16"
    else:
        encoding, name = "utf-8-sig", "UTF-8"
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        what = f"Line {line} holds the byte 0x{content[error.start]:02x}, which is not {name}."
        raise TableError(what, remedy='Save the spreadsheet as "CSV UTF-8" and try again.') from error


def _sniffed(text: str) -> str:
    """Tell the delimiter from the header and from whether the first rows agree with it."""
    fits = {}
    for delimiter in DELIMITERS:
        widths = []
        for row in _parsed(text, delimiter):
            if not _blank(row):
                widths.append(len(row.cells) if row.problem is None else 0)
            if len(widths) > SAMPLE_ROWS:
                break
        if widths and widths[0] > 1:
            fits[delimiter] = sum(width == widths[0] for width in widths) / len(widths)
    if not fits:
        return ","
    best = [delimiter for delimiter, share in fits.items() if share == max(fits.values())]
    if len(best) > 1:
        names = " and ".join(DELIMITERS[delimiter] for delimiter in best)
        what = f"The columns could be separated by {names}; both fit equally well."
        raise TableError(what, remedy="Say which one separates the columns.")
    return best[0]


def _named_columns(cells: Sequence[str]) -> tuple[str, ...]:
    names = [cell.strip() for cell in cells]
    while names and not names[-1]:
        names.pop()
    normal = [_normalised(name) for name in names]
    for place, (name, written) in enumerate(zip(normal, names, strict=True), start=1):
        if not name:
            what = f"Column {place} of the header has no name ({written!r})."
            raise TableError(what, remedy="Name every column in the first row.")
        if name in normal[: place - 1]:
            other = normal.index(name) + 1
            what = f"Columns {other} and {place} of the header are both called {names[other - 1]!r}."
            raise TableError(what, remedy="Give every column a name of its own.")
    return tuple(names)


def _normalised(name: str) -> str:
    plain = unicodedata.normalize("NFKC", name).casefold()
    return re.sub(r"[\W_]+", "_", plain).strip("_")


def _blank(row: Row) -> bool:
    return row.problem is None and not any(cell.strip() for cell in row.cells)


class _Lines:
    """The lines of a text, each with its end, that can be given back to be read again."""

    def __init__(self, text: str) -> None:
        self._source = iter(io.StringIO(text, newline=""))
        self._returned: deque[str] = deque()
        self.taken: list[str] = []

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        line = self._returned.popleft() if self._returned else next(self._source)
        self.taken.append(line)
        return line

    def give_back_all_but_first(self) -> None:
        self._returned.extendleft(reversed(self.taken[1:]))
        del self.taken[1:]


def _parsed(text: str, delimiter: str) -> Iterator[Row]:
    """
    Cut a text into rows.

    A row with a wrong quote is given up to the end of its first line only, and reading goes on with the next
    line: one forgotten quote must not swallow the rows below it.
    """
    lines = _Lines(text)
    number = 0
    while True:
        # A fresh parser for each row: after a wrong quote nothing of the old state is left.
        lines.taken.clear()
        problem = None
        cells: tuple[str, ...] = ()
        try:
            cells = tuple(next(csv.reader(_bounded(lines), delimiter=delimiter, strict=True)))
        except StopIteration:
            return
        except csv.Error as error:
            lines.give_back_all_but_first()
            first = lines.taken[0]
            problem = f"A quotation mark in it is wrong ({error}): {first.strip()[:SHOWN]!r}."
        number += 1
        raw = "".join(lines.taken)
        raw = raw.removesuffix("\n").removesuffix("\r")
        yield Row(number=number, cells=tuple(_plain(cell) for cell in cells), problem=problem, raw=raw)


def _bounded(lines: _Lines) -> Iterator[str]:
    length = 0
    for line in lines:
        length += len(line)
        if length > LONGEST_CELL:
            what = f"no closing quote within {LONGEST_CELL} characters"
            raise csv.Error(what)
        yield line


def _plain(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def _safe(cell: object) -> str:
    text = "" if cell is None else str(cell)
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text
