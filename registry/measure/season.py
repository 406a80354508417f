"""
Days of the year on which something is allowed, and how far a day lies inside or outside of them.

A window runs from one day of the year to another, both included, and over New Year where it ends before it
begins. Days are compared as month and day: a window to 28 February leaves the leap day out, one to the 29th
ends on 28 February in other years.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["DayOfYear", "Window", "allowed_days", "days_inside"]

Days = NDArray[np.datetime64]
#: Month 1 to 12, and day of the month.
DayOfYear = tuple[int, int]
#: First and last day.
Window = tuple[DayOfYear, DayOfYear]

#: Longer than a leap day ever keeps one waiting (1896 to 1904): what is near a day is found within. Units: d.
_AROUND_D = 9 * 366


def allowed_days(
    day: Days, *, within: Sequence[Window] = (), outside: Sequence[Window] = ()
) -> NDArray[np.bool_]:
    """
    Tell which days lie within one of some windows, if any are given, and outside all of others.

    Parameters
    ----------
    day : numpy.ndarray of datetime64[D], shape (n,)
        The days.
    within, outside : sequence of Window
        Windows that are open, and such as are closed.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Examples
    --------
    >>> days = np.array(["2026-12-31", "2027-01-02", "2027-01-03"], dtype="datetime64[D]")
    >>> allowed_days(days, outside=[((12, 24), (1, 2))]).tolist()
    [False, False, True]
    """
    month = day.astype("datetime64[M]")
    of_year = 100 * ((month - month.astype("datetime64[Y]")).astype(int) + 1) + (day - month).astype(int) + 1
    allowed = np.full(day.shape, not within)
    for window in within:
        allowed |= _in_window(of_year, window)
    for window in outside:
        allowed &= ~_in_window(of_year, window)
    return allowed


def _in_window(of_year: NDArray[np.int64], window: Window) -> NDArray[np.bool_]:
    first, last = (100 * month + day for month, day in window)
    after, before = of_year >= first, of_year <= last
    return (after & before) if first <= last else (after | before)


def days_inside(
    day: Days, *, within: Sequence[Window] = (), outside: Sequence[Window] = ()
) -> NDArray[np.float64]:
    """
    Count how many days inside what is allowed a day lies.

    Parameters
    ----------
    day, within, outside
        As for :func:`allowed_days`.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Days to the nearer end: zero on the first and the last allowed day, below zero outside. Infinite where
        every day, or none, is allowed; NaN for a day that is none. Units: d.

    Examples
    --------
    >>> days = np.array(["2026-04-28", "2026-04-30", "2026-05-01", "2026-10-30"], dtype="datetime64[D]")
    >>> days_inside(days, outside=[((5, 1), (10, 31))]).tolist()
    [2.0, 0.0, -1.0, -2.0]
    """
    known = ~np.isnat(day)
    found = np.full(day.shape, np.nan)
    if not known.any():
        return found
    around = np.timedelta64(_AROUND_D, "D")
    first = day[known].min() - around
    calendar = np.arange(first, day[known].max() + around)
    allowed = allowed_days(calendar, within=within, outside=outside)
    row = (day[known] - first).astype(int)
    to_closed, to_open = _to_nearest(row, ~allowed), _to_nearest(row, allowed)
    found[known] = np.where(allowed[row], to_closed - 1.0, -to_open)
    return found


def _to_nearest(row: NDArray[np.int64], marked: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Count the days from some rows of a calendar to the nearest that is marked."""
    where = np.concatenate([[-np.inf], np.flatnonzero(marked), [np.inf]])
    after = np.searchsorted(where, row)
    return np.asarray(np.minimum(where[after] - row, row - where[after - 1]), dtype=float)
