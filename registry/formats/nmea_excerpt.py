"""The lines of a receiver's log that a position was taken from, verbatim, for the record."""

from collections.abc import Callable

import numpy as np

from registry.records.fix import FixTable

__all__ = ["MOST_LINES", "excerpt_of"]

#: More lines than these are told by their window and the digest of their file. About ten minutes at 1 Hz.
MOST_LINES = 1200
_LONGEST_LINE = 1024


def excerpt_of(fixes: FixTable, unpacked: Callable[[int], bytes]) -> tuple[str, ...]:
    r"""
    Give every line from the first of some fixes to the last, file by file.

    Parameters
    ----------
    fixes : FixTable
        As read from the logs.
    unpacked : callable
        Gives the bytes of the log of a number, as counted in `fixes`.

    Returns
    -------
    tuple of str
        Empty where there are none, or more than `MOST_LINES`. Bytes that are no ASCII are escaped.

    Examples
    --------
    >>> from registry.formats.nmea_log import read_nmea_logs
    >>> log = b"x\n$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68\r\ny\n"
    >>> excerpt_of(read_nmea_logs([log]).fixes, lambda _number: log)
    ('$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68',)
    """
    if len(fixes) > MOST_LINES:
        return ()
    lines: list[str] = []
    for number in np.unique(fixes.file).tolist():
        offsets = fixes.offset[fixes.file == number]
        first, last = int(offsets.min()), int(offsets.max())
        content = unpacked(number)
        end = content.find(b"\n", last, last + _LONGEST_LINE)
        if end < 0:
            end = min(len(content), last + _LONGEST_LINE)
        if end - first > MOST_LINES * _LONGEST_LINE:
            return ()
        lines += [line.decode("ascii", "backslashreplace") for line in content[first:end].splitlines()]
    return tuple(lines) if len(lines) <= MOST_LINES else ()
