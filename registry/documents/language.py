"""
The languages in which papers are written: sentences from a catalogue, days and numbers as people write them.

English is the language of the source, so that it needs no catalogue. Each other language is one file
``languages/TAG.po`` (GNU gettext), read as it is. How days and numbers are written comes from the Unicode
Common Locale Data Repository, through the library that carries it.
"""

import io
import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from registry.errors import InvalidRecordError, NotFoundError

__all__ = ["ENGLISH", "Language", "known_languages", "language_of", "nearest_language", "wording"]

_FOLDER = Path(__file__).parent / "languages"
_SOURCE = "en"
#: Where a tag names no region, papers in English follow this one.
_ENGLISH_REGION = "GB"
_TAG = re.compile(r"[A-Za-z]{2,3}([-_][A-Za-z0-9]{2,8})*", re.ASCII)
#: The shipped fonts have no glyph for it; the other blank that no line breaks at takes its place.
_NARROW_BLANK, _BLANK = "\N{NARROW NO-BREAK SPACE}", "\N{NO-BREAK SPACE}"


def wording(message: str) -> str:
    """Mark a sentence that stands in a table, so that it is found for the catalogues; give it back."""
    return message


@dataclass(frozen=True, slots=True)
class Language:
    """One language as a paper uses it."""

    #: BCP 47, as "es" or "es-MX".
    tag: str
    locale: Locale
    catalogue: NullTranslations

    @property
    def is_english(self) -> bool:
        """Whether sentences are said as they stand in the source."""
        return str(self.locale.language) == _SOURCE

    def say(self, message: str, **values: object) -> str:
        """Give a sentence in this language, with its ``{values}`` filled in."""
        return self.catalogue.gettext(message).format(**values)

    def say_many(self, one: str, many: str, count: int, **values: object) -> str:
        """Give the sentence for a count, of which ``{count}`` stands for the number."""
        said = self.catalogue.ngettext(one, many, count)
        return said.format(count=self.number(count, 0), **values)

    def number(self, value: float, decimals: int) -> str:
        """
        Write a number with so many decimals, with the decimal mark and the groups of the language.

        Examples
        --------
        >>> language_of("de").number(1234.5, 1), language_of("es-MX").number(1234.5, 1)
        ('1.234,5', '1,234.5')
        """
        # Rounded here, once: what is signed is rounded by the same rule.
        exact = Decimal(f"{value:.{decimals}f}")
        pattern = f"#,##0.{'0' * decimals}" if decimals else "#,##0"
        return format_decimal(exact, format=pattern, locale=self.locale).replace(_NARROW_BLANK, _BLANK)

    def day(self, day: date) -> str:
        """
        Write a day in full, the month as a word.

        Notes
        -----
        French writes the first of a month as an ordinal (common practice, no source), which the
        repository's patterns cannot tell.

        Examples
        --------
        >>> [language_of(tag).day(date(2026, 5, 1)) for tag in ("en", "en-US", "es", "fr")]
        ['1 May 2026', 'May 1, 2026', '1 de mayo de 2026', '1er mai 2026']
        """
        pattern = str(self.locale.date_formats["long"].pattern)
        if self.locale.language == "fr" and day.day == 1:
            pattern = pattern.replace("d", "d'er'", 1)
        return format_date(day, pattern, locale=self.locale).replace(_NARROW_BLANK, _BLANK)


@lru_cache(maxsize=64)
def language_of(tag: str) -> Language:
    """
    Give the language of a BCP 47 tag: sentences by its language, days and numbers also by its region.

    Raises
    ------
    InvalidRecordError
        If it is not a language tag, or names a region that nobody knows.
    NotFoundError
        If there is no catalogue of that language.
    """
    known = ", ".join(known_languages())
    if not _TAG.fullmatch(tag):
        raise InvalidRecordError(f"{tag!r} is not a language tag.", remedy=f"Give one of {known}.")
    language, *rest = re.split("[-_]", tag)
    if language.lower() not in known_languages():
        raise NotFoundError(f"There is no wording in the language {tag}.", remedy=f"Give one of {known}.")
    locale = _locale(language.lower(), rest)
    if locale is None:
        what = f"{tag!r} is the language {language} with a region or a script that is not known."
        raise InvalidRecordError(what, remedy=f"Give {language.lower()} alone, or a region as in es-MX.")
    return Language(
        "-".join(part for part in (locale.language, locale.script, locale.territory) if part),
        locale,
        _catalogue(language.lower()),
    )


def nearest_language(tag: str | None) -> Language:
    """Give the language of a tag if there is a catalogue of it, else English; none counts as English."""
    try:
        return language_of(tag) if tag else ENGLISH
    except NotFoundError:
        return ENGLISH
    except InvalidRecordError:
        return nearest_language(re.split("[-_]", tag)[0]) if tag and re.search("[-_]", tag) else ENGLISH


@lru_cache(maxsize=1)
def known_languages() -> tuple[str, ...]:
    """Give the languages that papers are written in, English first."""
    return (_SOURCE, *sorted(file.stem for file in _FOLDER.glob("*.po")))


def _locale(language: str, rest: list[str]) -> Locale | None:
    try:
        locale = Locale.parse("_".join([language, *rest]))
    except (UnknownLocaleError, ValueError):
        return None
    if language == _SOURCE and locale.territory is None:
        return Locale(_SOURCE, _ENGLISH_REGION)
    return locale


@lru_cache(maxsize=16)
def _catalogue(language: str) -> NullTranslations:
    """Read the catalogue of a language; a sentence that it lacks is said in English."""
    if language == _SOURCE:
        return NullTranslations()
    compiled = io.BytesIO()
    with (_FOLDER / f"{language}.po").open("rb") as file:
        write_mo(compiled, read_po(file, locale=language, abort_invalid=True))
    compiled.seek(0)
    return GNUTranslations(compiled)


ENGLISH = language_of(_SOURCE)
