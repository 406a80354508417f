"""
Addresses of the officer's pages: a permit's number and a tag as one segment each, whatever they hold.

A browser takes "%2e%2e" for a way up, and a server "%2F" for a stroke: quoting by per cent alone would lead
elsewhere. What is no letter, digit, "-" or "_", and a dot at the beginning, is written as "~" and its
bytes in hexadecimal.
"""

import re
from urllib.parse import urlencode

from registry.errors import NotFoundError

__all__ = ["RESERVED", "address", "segment", "text_of", "way"]

#: Addresses of the officer's that are no number of a permit.
RESERVED = frozenset(("changes", "downloads", "duties", "sample"))
_PLAIN = re.compile(r"[A-Za-z0-9_-]")
_QUOTED = re.compile(r"~([0-9a-f]{2})")


def segment(text: str) -> str:
    """
    Write a text as one segment of an address.

    Examples
    --------
    >>> segment("HB-0417"), segment("SAW 12/7"), segment("../x"), segment("duties")
    ('HB-0417', 'SAW~2012~2f7', '~2e.~2fx', '~64uties')
    """
    first = text in RESERVED
    written = []
    for place, letter in enumerate(text):
        plain = _PLAIN.match(letter) or (letter == "." and place > 0)
        if plain and not (first and place == 0):
            written.append(letter)
        else:
            written.append("".join(f"~{byte:02x}" for byte in letter.encode("utf-8", errors="replace")))
    return "".join(written)


def text_of(segment: str) -> str:
    """
    Read a segment back; NotFoundError where it is none.

    Examples
    --------
    >>> text_of("SAW~2012~2f7")
    'SAW 12/7'
    """
    raw = _QUOTED.sub(lambda found: chr(int(found[1], 16)), segment)
    try:
        # Letters that came unquoted are taken as they are.
        return raw.encode("latin-1").decode("utf-8") if "~" in segment else raw
    except UnicodeError as error:
        raise NotFoundError("There is no such page.", remedy="Begin at the first page.") from error


def way(path: str = "", /, **asked: str | int | None) -> str:
    """
    Write an address below ``/officer``, with what is asked; what is None or empty is left out.

    Examples
    --------
    >>> way("duties", as_of="2026-06-30", page=None)
    '/officer/duties?as-of=2026-06-30'
    """
    query = urlencode(
        {name.replace("_", "-"): value for name, value in asked.items() if value not in (None, "")}
    )
    whole = f"/officer/{path}" if path else "/officer"
    return f"{whole}?{query}" if query else whole


def address(*segments: str, **asked: str | int | None) -> str:
    """
    Write the address of a permit, or of a module under it.

    Examples
    --------
    >>> address("HB-0417", "MC 1", as_of="2026-06-30")
    '/officer/HB-0417/MC~201?as-of=2026-06-30'
    """
    return way("/".join(segment(each) for each in segments), **asked)
