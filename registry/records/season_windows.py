"""The windows of a season as a permit writes them: "05-01 to 10-31", or "1 May to 31 October"."""

import re

from registry.errors import PermitError
from registry.measure.season import DayOfYear, Window

__all__ = ["named_day", "read_windows"]

_MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
#: The longest that each month becomes. Units: d.
_LONGEST = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)

_NUMBERS = re.compile(r"(?P<month>[0-9]{2})-(?P<day>[0-9]{2})")
_NAMED = re.compile(
    r"(?P<day>[0-9]{1,2})\.? (?P<month>[A-Za-z]+)|(?P<first>[A-Za-z]+) (?P<second>[0-9]{1,2})"
)


def read_windows(text: str | None) -> tuple[Window, ...]:
    """
    Read the windows of a season.

    Parameters
    ----------
    text : str or None
        Days as month-day in two digits each, or with the month by name; "to" between the first and the last
        day, both included; commas between windows.

    Returns
    -------
    tuple of Window
        Empty where there is no text.

    Raises
    ------
    PermitError
        If a window cannot be read.

    Examples
    --------
    >>> read_windows("05-01 to 10-31, 24 December to Jan 2")
    (((5, 1), (10, 31)), ((12, 24), (1, 2)))
    """
    return tuple(_window(each.strip()) for each in text.split(",")) if text else ()


def named_day(day: DayOfYear) -> str:
    """
    Write a day of the year with its month by name, so that two numbers in the wrong order are seen.

    Examples
    --------
    >>> named_day((5, 1))
    '1 May'
    """
    month, of_month = day
    return f"{of_month} {_MONTHS[month - 1]}"


def _window(text: str) -> Window:
    ends = [_day(end.strip()) for end in text.split(" to ")]
    first, last = ends[0], ends[-1]
    if len(ends) > 2 or first is None or last is None:
        what = f"The window {text!r} of a season cannot be read."
        remedy = "Write its first and last day as month-day, or name the months"
        raise PermitError(what, remedy=f"{remedy}: 05-01 to 10-31, or 1 May to 31 October.")
    return first, last


def _day(text: str) -> DayOfYear | None:
    """Read a day of the year; None if it is none."""
    if found := _NUMBERS.fullmatch(text):
        month, day = int(found["month"]), int(found["day"])
    elif found := _NAMED.fullmatch(text):
        month, day = _month(found["month"] or found["first"]), int(found["day"] or found["second"])
    else:
        return None
    return (month, day) if 1 <= month <= 12 and 1 <= day <= _LONGEST[month - 1] else None


def _month(name: str) -> int:
    """Give the number of a month by its name or the first three letters of it; zero if it has none."""
    names = [month.lower() for month in _MONTHS]
    short = [month[:3] for month in names]
    word = name.lower()
    return (names.index(word) if word in names else short.index(word) if word in short else -1) + 1
