"""Record modules as they leave the mould."""

import unicodedata
from collections.abc import Sequence

from registry.errors import ConflictError, LeadlineError, NotFoundError
from registry.ports import Register
from registry.records.body import module_body
from registry.records.entry import Draft
from registry.records.module import Module

__all__ = ["add_modules"]


def add_modules(register: Register, modules: Sequence[Module], *, actor: str) -> list[Module | LeadlineError]:
    """
    Record modules as one transaction; one that cannot be recorded gives its error instead.

    A tag that exists gives a ConflictError, an unknown type a NotFoundError.
    """
    with register.writing():
        types = {module_type.type_id for module_type in register.module_types()}
        known = {_level(module.tag): module.tag for module in register.modules()}
        answers: list[Module | LeadlineError] = []
        good: list[Module] = []
        for module in modules:
            if module.type_id not in types:
                what = f"Module {module.tag}: there is no type {module.type_id!r}."
                answers.append(NotFoundError(what, remedy=f"Types: {', '.join(sorted(types)) or 'none'}."))
            elif (twin := known.get(_level(module.tag))) is not None:
                reads = "" if twin == module.tag else f" as {twin}, which reads the same"
                what = f"Module {module.tag} is recorded already{reads}."
                answers.append(ConflictError(what, remedy="Choose another tag; the first record stands."))
            else:
                known[_level(module.tag)] = module.tag
                good.append(module)
                answers.append(module)
        drafts = [Draft(kind="module.added", actor=actor, body=module_body(m)) for m in good]
        if drafts:
            register.append(drafts)
    return answers


def _level(tag: str) -> str:
    """Write a tag so that two that read the same are the same."""
    return " ".join(unicodedata.normalize("NFKC", tag).casefold().split())
