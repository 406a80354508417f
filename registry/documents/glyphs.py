"""Which letters the fonts that ship with Leadline can print."""

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from registry.errors import UnreadableFileError

__all__ = ["FONT_FILES", "SCRIPTS", "clusters_of", "has_small_capitals", "missing_glyphs", "printable"]

#: In order of preference; a text that none of them can show is refused.
FONT_FILES = {
    "EB Garamond": "EBGaramond.ttf",
    "Amiri": "Amiri-Regular.ttf",
    "Noto Serif Hebrew": "NotoSerifHebrew.ttf",
}
#: What they cover, for messages.
SCRIPTS = "Latin, Greek, Cyrillic, Arabic or Hebrew"
#: Joiners steer how neighbours are drawn and have no glyph of their own.
_JOINERS = {"\N{ZERO WIDTH NON-JOINER}", "\N{ZERO WIDTH JOINER}"}


def missing_glyphs(text: str, font_folder: Path) -> tuple[str, ...]:
    """
    Name what no single shipped font shows: each letter together with its marks, its code points, its script.

    Parameters
    ----------
    text : str
        In Unicode form NFC.
    font_folder : pathlib.Path
        Where the shipped font files lie.

    Raises
    ------
    UnreadableFileError
        If a font file is absent.
    """
    coverage = [_characters(font_folder / file) for file in FONT_FILES.values()]
    missing = [
        cluster
        for cluster in clusters_of(text)
        if not any(all(ord(char) in font for char in cluster if char not in _JOINERS) for font in coverage)
    ]
    return tuple(dict.fromkeys(_named(cluster) for cluster in missing))


def printable(text: str, font_folder: Path) -> str:
    """
    Write the code point in place of each letter that no shipped font shows, and of each unseen sign.

    Parameters
    ----------
    text : str
        Any text.
    font_folder : pathlib.Path
        Where the shipped font files lie.

    Raises
    ------
    UnreadableFileError
        If a font file is absent.
    """
    if text.isascii() and text.isprintable():
        return text
    coverage = [_characters(font_folder / file) for file in FONT_FILES.values()]

    def shown(cluster: str) -> str:
        seen = cluster.isprintable() or unicodedata.category(cluster[0]) == "Zs"
        if cluster == "\n" or (seen and any(all(ord(char) in font for char in cluster) for font in coverage)):
            return cluster
        return "".join(f"[U+{ord(char):04X}]" for char in cluster)

    return "".join(shown(cluster) for cluster in clusters_of(unicodedata.normalize("NFC", text)))


def has_small_capitals(text: str, font_folder: Path) -> bool:
    """
    Tell whether the first font has small capitals for every letter of a text; Vietnamese, say, it lacks.

    Parameters
    ----------
    text : str
        In Unicode form NFC.
    font_folder : pathlib.Path
        Where the shipped font files lie.

    Raises
    ------
    UnreadableFileError
        If a font file is absent.
    """
    letters = {char for char in text if char.upper() != char or char.lower() != char}
    return letters <= _small_capitals(font_folder / next(iter(FONT_FILES.values())))


@lru_cache(maxsize=2)
def _small_capitals(font_file: Path) -> frozenset[str]:
    """Give the letters, small and capital, that a font can set as small capitals."""
    with _opened(font_file) as font:
        table = font["GSUB"].table
        found = frozenset[str]()
        glyphs = font.getBestCmap()
        for feature in ("smcp", "c2sc"):
            used = {
                index
                for record in table.FeatureList.FeatureRecord
                if record.FeatureTag == feature
                for index in record.Feature.LookupListIndex
            }
            replaced = {
                name
                for index in used
                for part in table.LookupList.Lookup[index].SubTable
                for name in getattr(getattr(part, "ExtSubTable", part), "mapping", {})
            }
            found |= {chr(code) for code, name in glyphs.items() if name in replaced}
        return found


@contextmanager
def _opened(font_file: Path) -> Iterator[Any]:
    from fontTools.ttLib import TTFont

    try:
        with TTFont(font_file, lazy=True) as font:
            yield font
    except OSError as error:
        what = f"The font file {font_file} is absent or unreadable."
        raise UnreadableFileError(what, remedy="Install Leadline anew: its fonts ship with it.") from error


@lru_cache(maxsize=8)
def _characters(font_file: Path) -> frozenset[int]:
    """Give the code points that a font file has glyphs for."""
    with _opened(font_file) as font:
        return frozenset(font.getBestCmap())


def clusters_of(text: str) -> list[str]:
    """
    Part a text into letters with the marks that belong to them.

    Examples
    --------
    >>> [len(cluster) for cluster in clusters_of("x̂a")]
    [2, 1]
    """
    clusters: list[str] = []
    for char in text:
        if clusters and (unicodedata.category(char) in {"Mn", "Mc", "Me"} or char in _JOINERS):
            clusters[-1] += char
        else:
            clusters.append(char)
    return clusters


def _named(cluster: str) -> str:
    """Show a letter with its code points and its script."""
    from fontTools import unicodedata as ucd

    codes = " ".join(f"U+{ord(char):04X}" for char in cluster)
    return f"{cluster} ({codes}, {ucd.script_name(ucd.script(cluster[0]))})"
