"""What the programme tells visitors of its reefs, in its own words: nothing here is Leadline's advice."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.records.printed_words import printed_words

__all__ = ["VisitorWords", "visitor_words_body", "visitor_words_from_body"]

LONGEST_TEXT = 600


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitorWords:
    """
    The programme's word to visitors; a later one takes the place of an earlier one for the same permit.

    Both texts may be empty: so an earlier word is taken back.
    """

    #: The permit for whose reefs it holds; empty for every permit without a word of its own.
    permit: str = ""
    #: When a young reef is worth a visit, as the programme says; empty where it says nothing.
    young_reef: str = ""
    #: The rules of the place, as the programme says; empty where it says nothing.
    rules: str = ""
    #: Who told it and when; empty while it is being drafted.
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse words that do not read as they were typed."""
        for name in ("young_reef", "rules"):
            what = f"word to visitors ({name.replace('_', ' ')})"
            words = printed_words(what, getattr(self, name), longest=LONGEST_TEXT, may_be_empty=True)
            object.__setattr__(self, name, words)


def visitor_words_body(words: VisitorWords) -> dict[str, Any]:
    """Give the words as the journal keeps them."""
    return {
        "about": "visitors",
        "permit": words.permit,
        "young_reef": words.young_reef,
        "rules": words.rules,
    }


def visitor_words_from_body(body: Mapping[str, Any]) -> VisitorWords:
    """Give back the words."""
    told = f"{body['actor']}, {str(body['time'])[:16]}Z" if "reference" in body else ""
    return VisitorWords(permit=body["permit"], young_reef=body["young_reef"], rules=body["rules"], told=told)
