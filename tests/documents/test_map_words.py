"""The words of the public pages: complete in every language, each used, and said alike by Python and by the page."""

import re
from importlib.resources import files

import pytest
from babel.messages.pofile import read_po

from registry.documents.map_words import ENGLISH, LANGUAGES, catalogues, fill
from registry.rules.catalogue import CATALOGUE

OTHERS = [language for language in LANGUAGES if language != "en"]
#: Sentences that are nothing but their values, or an international term.
ALIKE = {"about-frame-text", "area-title", "permit-from", "position-in", "depth-plain", "position", "name"}


def catalogue_of(language):
    file = files("registry.documents").joinpath("map_page", "languages", f"{language}.po")
    with file.open("rb") as opened:
        return read_po(opened, locale=language, abort_invalid=True)


def sentences(said):
    return (said,) if isinstance(said, str) else tuple(said)


def names(said):
    return {name for each in sentences(said) for name in re.findall(r"\{(\w+)\}", each)}


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_there_in_every_language(language):
    catalogue = catalogue_of(language)
    for key, english in ENGLISH.items():
        message = catalogue.get(sentences(english)[0])
        assert message is not None, key
        assert message.string, key
        assert all(sentences(message.string)), key


@pytest.mark.parametrize("language", OTHERS)
def test_no_catalogue_holds_what_nobody_says(language):
    said = {sentences(english)[0] for english in ENGLISH.values()}
    assert {sentences(message.id)[0] for message in catalogue_of(language) if message.id} == said


@pytest.mark.parametrize("language", OTHERS)
def test_every_value_of_a_sentence_stands_in_its_translation(language):
    text = catalogues()[language]["text"]
    for key, english in ENGLISH.items():
        assert names(text[key]) == names(english), key


@pytest.mark.parametrize("language", OTHERS)
def test_hardly_any_sentence_is_left_in_english(language):
    text = catalogues()[language]["text"]
    alike = {key for key, english in ENGLISH.items() if text[key] == english}
    # Words that two languages write alike, as "Position" and "Total: {length}"; never a whole sentence.
    assert all(len(sentences(ENGLISH[key])[0].split()) <= 3 for key in alike - ALIKE), alike


def test_no_two_keys_say_the_same_english():
    first = [sentences(english)[0] for english in ENGLISH.values()]
    assert len(set(first)) == len(first)


def test_every_key_is_used_and_every_used_key_is_there():
    folder = files("registry.documents")
    sources = [
        file.read_text(encoding="utf-8") for file in folder.joinpath("map_page").iterdir() if file.is_file()
    ]
    sources += [
        folder.joinpath(f"{name}.py").read_text(encoding="utf-8")
        for name in ("map", "area_page", "offline_site", "published_note")
    ]
    whole = "\n".join(sources)
    asked = set(re.findall(r'data-(?:word|label)="([a-z0-9-]+)"', whole))
    asked |= set(re.findall(r'(?:told|tell|attribute_words|_said)\(\s*"([a-z0-9-]+)"', whole))
    assert asked <= set(ENGLISH)
    made = ("notation-", "download-", "depth", "rule-", "part", "hole")
    unused = {key for key in ENGLISH if not key.startswith(made) and not re.search(f"[\"']{key}[\"']", whole)}
    assert unused == set()


def test_every_rule_has_a_name():
    assert {f"rule-{rule.rule_id}" for rule in CATALOGUE} <= set(ENGLISH)


@pytest.mark.parametrize(
    ("language", "key", "values", "said"),
    [
        ("en", "modules", {"n": 1}, "1 module"),
        ("en", "modules", {"n": 0}, "0 modules"),
        ("fr", "modules", {"n": 0}, "0 module"),
        ("es", "modules", {"n": 2}, "2 módulos"),
        ("vi", "modules", {"n": 1}, "1 khối"),
        ("de", "modules", {"n": 12000}, "12.000 Module"),
        (
            "de",
            "depth-below",
            {"depth": "19.68", "u95": "0.31", "datum": "LAT 2.0", "feet": "64.6"},
            "19,68 m ± 0,31 m unter LAT 2.0 (64,6 ft)",
        ),
        # A limit stands as the permit writes it, and what looks like a value in a value is none.
        ("de", "limit-least", {"written": "6.0 m"}, "mindestens 6.0 m"),
        ("en", "keep-clear", {"name": "{n} <b>"}, "Keep clear: {n} <b>"),
    ],
)
def test_sentences_by_plural_and_decimal_mark(language, key, values, said):
    assert fill(language, key, values) == said
