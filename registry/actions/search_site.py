"""Search what the public may see: modules by their tag or a listed name, sites by theirs or their permit."""

import unicodedata
from dataclasses import dataclass

from registry.records.public_site import PublicModule, PublicSite

__all__ = ["Found", "search_site"]

#: So many modules are told of.
MOST_FOUND = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What was found, the nearest to what was typed first."""

    #: Places in the site's list of areas.
    areas: tuple[int, ...]
    modules: tuple[PublicModule, ...]
    #: How many modules more there are than are told.
    more: int


def search_site(site: PublicSite, text: str) -> Found:
    """
    Find what holds every word that was typed, whatever its capitals and accents.

    Parameters
    ----------
    site : PublicSite
        What the public may see; nothing else can be found.
    text : str
        As typed.
    """
    words = _plain(text).split()
    if not words:
        return Found(areas=(), modules=(), more=0)
    areas = [
        index
        for index, area in enumerate(site.areas)
        if _holds(_plain(f"{area.area_id} {area.permit}"), words)
    ]
    whole = " ".join(words)
    ranked = []
    for module in site.modules:
        tag, name = _plain(module.tag), _plain(module.name or "")
        if _holds(f"{tag} {name}", words):
            ranked.append(((whole not in (tag, name), not f"{tag} ".startswith(whole), tag), module))
    ranked.sort(key=lambda row: row[0])
    found = tuple(module for _, module in ranked)
    return Found(areas=tuple(areas), modules=found[:MOST_FOUND], more=max(0, len(found) - MOST_FOUND))


def _holds(text: str, words: list[str]) -> bool:
    return all(word in text for word in words)


def _plain(text: str) -> str:
    """Fold capitals and accents; a letter that is typed without its accent still finds."""
    apart = unicodedata.normalize("NFKD", text).casefold()
    return "".join(char for char in apart if not unicodedata.combining(char))
