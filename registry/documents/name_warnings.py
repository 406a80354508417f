"""What no paper for a family can do with a name or a language, told when they are recorded."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from unicodedata import normalize

from registry.records.module import Memorial, Module

__all__ = ["name_warnings"]


def name_warnings(modules: Sequence[Module], fonts: Path) -> tuple[str, ...]:
    """
    Warn of names that no certificate can print and of languages in which there is no paper.

    One sentence each; both are recorded all the same.

    Parameters
    ----------
    modules : sequence of Module
        As they were recorded.
    fonts : pathlib.Path
        The folder of the fonts that papers are set in.
    """
    return (*_unprintable(modules, fonts), *_without_wording(modules))


def _remembered(modules: Sequence[Module]) -> Iterator[tuple[str, Memorial]]:
    return ((module.tag, module.memorial) for module in modules if module.memorial is not None)


def _unprintable(modules: Sequence[Module], fonts: Path) -> Iterator[str]:
    named = [(tag, memorial.name) for tag, memorial in _remembered(modules) if not memorial.name.isascii()]
    if not named:
        return
    from registry.documents.glyphs import SCRIPTS, missing_glyphs

    for tag, name in named:
        missing = missing_glyphs(normalize("NFC", name), fonts)
        if missing:
            yield (
                f"Module {tag}: no certificate can print {name!r}, since the shipped fonts lack "
                f"{', '.join(missing)}. Ask the family for the name in {SCRIPTS} letters too."
            )


def _without_wording(modules: Sequence[Module]) -> Iterator[str]:
    spoken = [(tag, memorial.language) for tag, memorial in _remembered(modules) if memorial.language]
    if not spoken:
        return
    from registry.documents.language import known_languages, nearest_language

    known = ", ".join(known_languages())
    for tag, language in spoken:
        if nearest_language(language).is_english and not language.lower().startswith("en"):
            yield (
                f"Module {tag}: papers are written in {known}, not in {language}; "
                "its certificate will be in English."
            )
