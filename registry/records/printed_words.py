"""Words that are to be printed: what would come out otherwise than it reads is refused."""

import unicodedata

from registry.errors import InvalidRecordError, UnprintableTextError

__all__ = ["LONGEST_NAME", "printed_words"]

#: The longest memorial name that a certificate holds. Units: characters.
LONGEST_NAME = 120

#: Joiners that the spelling of Persian, Urdu and other names needs; every other format character is refused.
_JOINERS = {"\N{ZERO WIDTH NON-JOINER}", "\N{ZERO WIDTH JOINER}"}
#: Control, direction-changing, private and unassigned characters.
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def printed_words(what: str, text: str, *, longest: int = LONGEST_NAME, may_be_empty: bool = False) -> str:
    r"""
    Give a text in Unicode form NFC, as it is to be printed.

    Parameters
    ----------
    what : str
        What the text is, for messages: "memorial name".
    text : str
        As typed.
    longest : int
        Most characters it may have.
    may_be_empty : bool
        Whether there may be no words at all.

    Raises
    ------
    InvalidRecordError
        If it is empty, too long or has blanks around it.
    UnprintableTextError
        If it holds line ends or other characters that do not show.

    Examples
    --------
    >>> printed_words("memorial name", "Zoe\u0308 Quill")
    'Zoë Quill'
    """
    text = unicodedata.normalize("NFC", text)
    if not text.strip() and not (may_be_empty and not text):
        problem = f"The {what} is empty."
        raise InvalidRecordError(problem, remedy="Give it as it is to be printed.")
    if len(text) > longest:
        problem = f"The {what} has {len(text)} characters."
        raise InvalidRecordError(problem, remedy=f"Give at most {longest} characters.")
    if text != text.strip():
        problem = f"The {what} {text!r} has blanks around it."
        raise InvalidRecordError(problem, remedy="Give it without outer blanks.")
    hidden = sorted({c for c in text if unicodedata.category(c) in _HIDDEN and c not in _JOINERS})
    if hidden:
        names = ", ".join(f"U+{ord(c):04X} {unicodedata.name(c, '')}".strip() for c in hidden)
        problem = f"The {what} holds characters that do not show: {names}."
        raise UnprintableTextError(problem, remedy="Type the text anew without them.")
    return text
