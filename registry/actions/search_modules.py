"""Find modules by a part of their tag, their type or whom they remember, a page at a time."""

import unicodedata
from dataclasses import dataclass

from registry.ports import Register
from registry.records.module import Module

__all__ = ["FoundModule", "FoundModules", "search_modules"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundModule:
    """One module, and how far it has come."""

    module: Module
    #: Permits under which it stands on the seabed; several where nobody knows yet which is true.
    permits: tuple[str, ...]
    #: Number of its certificate, empty where none was issued.
    certificate: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundModules:
    """One page of what was found."""

    modules: tuple[FoundModule, ...]
    #: How many were found, on all pages.
    count: int
    #: Place of the first of this page among them, from 0.
    first: int


def search_modules(register: Register, text: str = "", *, first: int = 0, at_most: int = 100) -> FoundModules:
    """
    Find the modules whose tag, type or memorial holds each word of a text, in order of tag.

    Parameters
    ----------
    register : Register
        Read from.
    text : str
        Words; letters of either case and in whatever Unicode form. All modules where it is empty.
    first : int
        How many of those found to pass over.
    at_most : int
        How many to give.
    """
    words = _plain(text).split()
    with register.reading():
        found = [module for module in register.modules() if _holds(module, words)]
        first = max(0, min(first, len(found) - 1))
        page = found[first : first + at_most]
        tags = [module.tag for module in page]
        permits: dict[str, dict[str, None]] = {}
        standing = register.placements_tagged(tags)
        for tag, permit in zip(map(str, standing.tag), map(str, standing.permit), strict=True):
            permits.setdefault(tag, {})[permit] = None
        wanted = set(tags)
        numbers = {each.tag: each.number for each in register.certificate_versions() if each.tag in wanted}
    return FoundModules(
        modules=tuple(
            FoundModule(
                module=module,
                permits=tuple(permits.get(module.tag, ())),
                certificate=numbers.get(module.tag, ""),
            )
            for module in page
        ),
        count=len(found),
        first=first,
    )


def _holds(module: Module, words: list[str]) -> bool:
    if not words:
        return True
    name = module.memorial.name if module.memorial else ""
    said = _plain(f"{module.tag} {module.type_id} {name}")
    return all(word in said for word in words)


def _plain(text: str) -> str:
    return unicodedata.normalize("NFKC", text).casefold()
