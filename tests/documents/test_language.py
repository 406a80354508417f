"""Every language says every sentence, with the same values, in letters that the shipped fonts have."""

import re
import warnings
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po
from fontTools.ttLib import TTFont

from registry.documents import language as source
from registry.documents.language import ENGLISH, known_languages, language_of, nearest_language
from registry.errors import InvalidRecordError, NotFoundError

DOCUMENTS = Path(source.__file__).parent
FONTS = Path(__file__).parents[2] / "geodata" / "fonts"
OTHERS = [tag for tag in known_languages() if tag != "en"]


def sentences() -> set[str | tuple[str, ...]]:
    """Give every sentence that the documents say, as a gettext catalogue keys it."""
    keywords = {"say": None, "wording": None, "say_many": (1, 2)}
    with warnings.catch_warnings():
        # Whatever the extractor cannot read would be missing from every catalogue.
        warnings.simplefilter("error")
        found = list(extract_from_dir(DOCUMENTS, method_map=[("**.py", "python")], keywords=keywords))
    return {message if isinstance(message, str) else tuple(message) for _, _, message, _, _ in found}


def catalogue(tag: str) -> Catalog:
    with (DOCUMENTS / "languages" / f"{tag}.po").open("rb") as file:
        return read_po(file, locale=tag, abort_invalid=True)


def said(message: Message) -> tuple[str, ...]:
    strings = message.string if isinstance(message.string, list | tuple) else [message.string]
    return tuple(text or "" for text in strings)


def texts(tag: str) -> Iterator[tuple[str, str]]:
    """Give every sentence of a catalogue with what is said for it."""
    for message in catalogue(tag):
        key = message.id if isinstance(message.id, str) else message.id[-1]
        for text in said(message) if key else ():
            yield key, text


def values(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name is not None}


def test_there_are_the_languages_that_the_readme_promises() -> None:
    assert set(known_languages()) >= {"en", "es", "fr", "de", "vi"}
    assert known_languages()[0] == "en"


@pytest.mark.parametrize("tag", OTHERS)
def test_no_catalogue_misses_a_sentence_or_keeps_one_that_nobody_says(tag: str) -> None:
    held = {message.id if isinstance(message.id, str) else tuple(message.id) for message in catalogue(tag)}
    assert held - {""} == sentences()


@pytest.mark.parametrize("tag", OTHERS)
def test_every_sentence_is_said_and_none_is_a_guess(tag: str) -> None:
    read = catalogue(tag)
    assert not list(read.obsolete)
    for message in read:
        assert not (message.fuzzy and message.id), message.id
        assert all(text.strip() for text in said(message)), message.id
        if not isinstance(message.id, str):
            assert len(said(message)) == read.num_plurals


@pytest.mark.parametrize("tag", OTHERS)
def test_every_sentence_holds_the_values_of_the_english_one(tag: str) -> None:
    for sentence, text in texts(tag):
        assert values(text) == values(sentence), text
        assert not any(format_spec for _, _, format_spec, _ in Formatter().parse(text)), text


@pytest.mark.parametrize("tag", OTHERS)
def test_every_letter_of_a_language_is_in_the_shipped_fonts(tag: str) -> None:
    letters = {ord(char) for _, text in texts(tag) for char in text}
    for file in ("EBGaramond.ttf", "EBGaramond-Italic.ttf"):
        with TTFont(FONTS / file, lazy=True) as font:
            assert letters <= set(font.getBestCmap()), file


@pytest.mark.parametrize("tag", OTHERS)
def test_a_language_is_not_english_over_again(tag: str) -> None:
    same = {sentence for sentence, text in texts(tag) if text == sentence}
    assert same <= {"N", "Module"}


def test_french_sets_a_blank_that_does_not_break_before_its_marks() -> None:
    for _, text in texts("fr"):
        assert not re.search("[^\N{NO-BREAK SPACE}][:;!?»]|«[^\N{NO-BREAK SPACE}]", text), text


# Days and numbers, as the Unicode Common Locale Data Repository writes them.


@pytest.mark.parametrize(
    ("tag", "first", "other"),
    [
        ("en", "1 May 2026", "25 November 2026"),
        ("en-US", "May 1, 2026", "November 25, 2026"),
        ("es", "1 de mayo de 2026", "25 de noviembre de 2026"),
        ("fr", "1er mai 2026", "25 novembre 2026"),
        ("de", "1. Mai 2026", "25. November 2026"),
        ("vi", "1 tháng 5, 2026", "25 tháng 11, 2026"),
    ],
)
def test_days_are_written_as_people_write_them(tag: str, first: str, other: str) -> None:
    language = language_of(tag)
    assert language.day(date(2026, 5, 1)) == first
    assert language.day(date(2026, 11, 25)) == other


@pytest.mark.parametrize(
    ("tag", "small", "large"),
    [
        ("en", "18.30", "12,345.6"),
        ("es", "18,30", "12.345,6"),
        ("es-MX", "18.30", "12,345.6"),
        ("fr", "18,30", "12 345,6"),
        ("de", "18,30", "12.345,6"),
        ("vi", "18,30", "12.345,6"),
    ],
)
def test_numbers_have_the_marks_of_the_language_and_the_digits_asked_for(
    tag: str, small: str, large: str
) -> None:
    language = language_of(tag)
    assert language.number(18.3, 2) == small
    assert language.number(12345.6, 1).replace("\N{NO-BREAK SPACE}", " ") == large
    assert language.number(3.0, 0) == "3"


def test_a_number_is_rounded_as_what_is_signed() -> None:
    for value in (0.125, 2.675, 18.345, 1.005, 0.45):
        assert language_of("es-MX").number(value, 2) == f"{round(value, 2):.2f}"


def test_one_and_many_are_told_apart() -> None:
    one, many = next(sentence for sentence in sentences() if isinstance(sentence, tuple))
    german = language_of("de")
    said_one, said_many = (german.say_many(one, many, count, reef="R", length="1 m") for count in (1, 1200))
    assert "blasser Punkt 1 anderes" in said_one
    assert "blasse Punkte 1.200 andere" in said_many


# Which language.


@pytest.mark.parametrize(
    ("tag", "given"),
    [
        ("es", "es"),
        ("es-MX", "es-MX"),
        ("de_AT", "de-AT"),
        ("EN", "en-GB"),
        ("en-US", "en-US"),
        ("vi-VN", "vi-VN"),
    ],
)
def test_a_tag_gives_language_and_region(tag: str, given: str) -> None:
    assert language_of(tag).tag == given


@pytest.mark.parametrize("tag", ["ko", "xx", "pt-BR"])
def test_a_language_without_a_catalogue_is_told_with_those_that_there_are(tag: str) -> None:
    with pytest.raises(NotFoundError, match=f"no wording in the language {tag}") as told:
        language_of(tag)
    assert told.value.remedy == "Give one of en, de, es, fr, vi."


@pytest.mark.parametrize("tag", ["", "Spanish", "es MX", "../es", "es\n", "é"])
def test_what_is_no_language_tag_is_refused(tag: str) -> None:
    with pytest.raises(InvalidRecordError):
        language_of(tag)


@pytest.mark.parametrize(
    ("recorded", "tag"),
    [(None, "en-GB"), ("vi", "vi"), ("fr-CA", "fr-CA"), ("ko", "en-GB"), ("zh-Hant", "en-GB")],
)
def test_what_is_recorded_gives_the_nearest_language_that_there_is(recorded: str | None, tag: str) -> None:
    assert nearest_language(recorded).tag == tag


def test_english_is_the_source() -> None:
    assert ENGLISH.is_english
    assert ENGLISH.say("near {reef}", reef="{reef}") == "near {reef}"
