"""Record modules as they leave the mould."""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, fields

from registry.errors import ConflictError, InvalidRecordError, LeadlineError, NotFoundError
from registry.ports import Register
from registry.records.body import module_body
from registry.records.entry import Draft
from registry.records.module import Module

__all__ = ["StoodAlready", "add_modules"]

#: What the fields of a module are called by whoever writes them down.
_CALLED = {
    "type_id": "type",
    "cast_on": "day of casting",
    "mass_kg": "mass",
    "memorial": "memorial, consent or language",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StoodAlready:
    """A module that the registry holds exactly so: nothing was written."""

    module: Module


def add_modules(
    register: Register, modules: Sequence[Module], *, actor: str
) -> list[Module | StoodAlready | LeadlineError]:
    """
    Record modules as one transaction; one that cannot be recorded gives its error instead.

    A tag that is recorded exactly so gives StoodAlready, one that is recorded otherwise a ConflictError that
    says what differs, an unknown type a NotFoundError.
    """
    with register.writing():
        types = {module_type.type_id for module_type in register.module_types()}
        known = {_level(module.tag): module for module in register.modules()}
        answers: list[Module | StoodAlready | LeadlineError] = []
        good: list[Module] = []
        for module in modules:
            held = known.get(_level(module.tag))
            if held == module:
                answers.append(StoodAlready(module=module))
            elif not module.tag.strip("."):
                what = f"{module.tag!r} is no tag: in an address and a folder it names another place."
                answers.append(InvalidRecordError(what, remedy="Give letters or digits, as MC-0017."))
            elif module.type_id not in types:
                what = f"Module {module.tag}: there is no type {module.type_id!r}."
                answers.append(NotFoundError(what, remedy=f"Types: {', '.join(sorted(types)) or 'none'}."))
            elif held is not None:
                answers.append(_conflict(module, held))
            else:
                known[_level(module.tag)] = module
                good.append(module)
                answers.append(module)
        drafts = [Draft(kind="module.added", actor=actor, body=module_body(m)) for m in good]
        if drafts:
            register.append(drafts)
    return answers


def _conflict(module: Module, held: Module) -> ConflictError:
    if held.tag != module.tag:
        what = f"Module {module.tag} is recorded already as {held.tag}, which reads the same."
        return ConflictError(what, remedy="Choose another tag; the first record stands.")
    differing = [_CALLED[f.name] for f in fields(Module) if getattr(held, f.name) != getattr(module, f.name)]
    what = f"Module {module.tag} is recorded already, with another {', another '.join(differing)}."
    remedy = "If the record is wrong: leadline module amend. If this is another module, choose another tag."
    return ConflictError(what, remedy=remedy)


def _level(tag: str) -> str:
    """Write a tag so that two that read the same are the same."""
    return " ".join(unicodedata.normalize("NFKC", tag).casefold().split())
