"""
Whether a new password or PIN is worth having: length before composition.

After NIST SP 800-63B-4 (3.1.1.2, from memory): nothing is demanded of its letters, it never has to be changed
for its age, it may be a whole sentence in any script, and what everybody would try first is refused.
"""

import unicodedata

from registry.errors import InvalidRecordError
from registry.records.account import name_key

__all__ = ["SHORTEST_PASSWORD", "SHORTEST_PIN", "checked_password", "checked_pin"]

#: NIST asks for 15 where a password stands alone and 8 beside a second factor; attempts are few here.
SHORTEST_PASSWORD = 12
LONGEST_PASSWORD = 512
SHORTEST_PIN = 6
LONGEST_PIN = 20
#: A password of fewer different characters is a key that was held down.
_FEWEST_DIFFERENT = 5
#: How much must be left of it without the words that everybody here would try.
_LEAST_OF_ITS_OWN = 6
_TRIED_FIRST = ("leadline", "password", "letmein", "welcome", "memorial", "reef")
_ROWS = ("01234567890123456789", "abcdefghijklmnopqrstuvwxyz", "qwertyuiopasdfghjklzxcvbnm")
#: Four keys in a row, either way.
_RUNS = tuple(
    way[first : first + 4] for row in _ROWS for way in (row, row[::-1]) for first in range(len(row) - 3)
)


def checked_password(password: str, *, name: str) -> str:
    """
    Give a new password in Unicode form NFKC, as it is hashed.

    Parameters
    ----------
    password : str
        As typed.
    name : str
        Of the account.

    Raises
    ------
    InvalidRecordError
        If it is too short, too long, or what somebody would try first; the password is not quoted.

    Examples
    --------
    >>> checked_password("seven gannets over grey water", name="Ada")
    'seven gannets over grey water'
    """
    plain = unicodedata.normalize("NFKC", password)
    if len(plain) < SHORTEST_PASSWORD:
        what = f"The password has {len(plain)} characters."
        raise InvalidRecordError(
            what, remedy=f"Give at least {SHORTEST_PASSWORD}; a few words in a row are good."
        )
    if len(plain) > LONGEST_PASSWORD:
        what = f"The password has {len(plain)} characters."
        raise InvalidRecordError(what, remedy=f"Give at most {LONGEST_PASSWORD}.")
    try:
        plain.encode()
    except UnicodeEncodeError:
        what = "The password holds something that is no text."
        raise InvalidRecordError(what, remedy="Type it anew.") from None
    if _trivial(plain, name):
        what = "The password is one that somebody would try first."
        raise InvalidRecordError(
            what, remedy="Leave out the name and rows of keys; a few words in a row are good."
        )
    return plain


def _trivial(password: str, name: str) -> bool:
    folded = name_key(password)
    if len(set(folded)) < _FEWEST_DIFFERENT:
        return True
    for word in (name_key(name), *name_key(name).split(), *_TRIED_FIRST, *_RUNS):
        if len(word) >= 3:
            folded = folded.replace(word, "")
    own = [c for c in folded if c.isalpha()]
    return len(own) < _LEAST_OF_ITS_OWN and folded != name_key(password)


def checked_pin(pin: str) -> str:
    """
    Give a new PIN as it is hashed.

    Raises
    ------
    InvalidRecordError
        If it is not six digits or more, or is what somebody would try first; the PIN is not quoted.

    Examples
    --------
    >>> checked_pin("482 195")
    '482195'
    """
    plain = "".join(unicodedata.normalize("NFKC", pin).split())
    if not (plain.isascii() and plain.isdigit() and SHORTEST_PIN <= len(plain) <= LONGEST_PIN):
        what = "The PIN is not made of digits alone, or has too few or too many."
        raise InvalidRecordError(what, remedy=f"Give {SHORTEST_PIN} to {LONGEST_PIN} digits.")
    halves = len(set(plain)) < 3 or plain == plain[: len(plain) // 2] * 2
    if halves or plain in _ROWS[0] or plain in _ROWS[0][::-1]:
        what = "The PIN is one that somebody would try first."
        raise InvalidRecordError(what, remedy="Take digits that follow no pattern.")
    return plain
