"""Mend what is recorded of a module: a misspelt name, the consent of a family, a type, a mass."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.body import module_body, module_from_body
from registry.records.entry import Draft, Entry
from registry.records.module import Memorial, Module
from registry.records.module_words import module_differences, module_version

__all__ = ["amend_module"]


def amend_module(
    register: Register,
    tag: str,
    *,
    reason: str,
    actor: str,
    type_id: str | None = None,
    mass_kg: float | None = None,
    cast_on: date | None = None,
    memorial: str | None = None,
    no_memorial: bool = False,
    consent_listed: bool | None = None,
    language: str | None = None,
    seen: str | None = None,
) -> tuple[Module, Module]:
    """
    Record what a module is from now on, and why; what is None stays as it was, and the journal keeps both.

    Parameters
    ----------
    register : Register
        Where it is recorded.
    tag : str
        Of the module.
    reason, actor : str
        Why, and who says so.
    type_id : str, optional
        The type that it really is of.
    mass_kg : float, optional
        Mass as weighed. Units: kg.
    cast_on : datetime.date, optional
        The day of casting.
    memorial : str, optional
        The name as it is to be printed; the consent stays as it was.
    no_memorial : bool
        True where the module remembers nobody.
    consent_listed : bool, optional
        Whether the family agrees that the name is shown in public.
    language : str, optional
        Of the name and of the papers for the family (BCP 47).
    seen : str, optional
        What whoever mends it had before their eyes (:func:`registry.records.module_words.module_version`).

    Returns
    -------
    tuple of Module
        The module as it was and as it is.

    Raises
    ------
    NotFoundError
        If there is no such module or type.
    InvalidRecordError
        If no reason is given, or the parts contradict each other.
    ConflictError
        If the registry says all of it already; or if somebody else mended it since it was seen: it says who
        changed what, and when.
    """
    if not reason.strip():
        what = f"The amendment of {tag} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    with register.writing():
        before = register.module(tag)
        if seen is not None and seen != module_version(before):
            raise _mended_since(register, before, seen)
        types = {module_type.type_id for module_type in register.module_types()}
        if type_id is not None and type_id not in types:
            what = f"Module {tag}: there is no type {type_id!r}."
            raise NotFoundError(what, remedy=f"Types: {', '.join(sorted(types)) or 'none'}.")
        after = replace(
            before,
            type_id=before.type_id if type_id is None else type_id,
            mass_kg=before.mass_kg if mass_kg is None else mass_kg,
            cast_on=before.cast_on if cast_on is None else cast_on,
            memorial=_memorial(before, memorial, consent=consent_listed, language=language, none=no_memorial),
        )
        if after == before:
            what = f"The registry says all of that of {tag} already."
            raise ConflictError(what, remedy="Give what is to change: --memorial, --type, --mass and so on.")
        body = module_body(after) | {"reason": reason.strip()}
        register.append([Draft(kind="module.amended", actor=actor, body=body)])
    return before, after


def _memorial(
    module: Module, name: str | None, *, consent: bool | None, language: str | None, none: bool
) -> Memorial | None:
    """Give whom it remembers now; a name that is mended keeps the consent that the family gave."""
    if none and (name is not None or consent is not None or language is not None):
        what = f"Module {module.tag} cannot both remember nobody and carry a name, a consent or a language."
        raise InvalidRecordError(what, remedy="Give either --no-memorial or the others.")
    if none:
        return None
    if module.memorial is None and name is None:
        if consent is not None or language is not None:
            lacking = "to consent to" if consent is not None else "that has a language"
            what = f"Module {module.tag} remembers nobody, so there is no name {lacking}."
            raise InvalidRecordError(what, remedy="Give the name too, with --memorial.")
        return None
    held = module.memorial
    return Memorial(
        name=held.name if name is None and held is not None else name or "",
        consent_listed=(held.consent_listed if held is not None else False) if consent is None else consent,
        language=language or (held.language if held is not None else None),
    )


def _mended_since(register: Register, module: Module, seen: str) -> ConflictError:
    """Say who changed what of a module, and when, since somebody saw it."""
    zone = ZoneInfo(register.programme().zone)
    told: list[str] = []
    before: Module | None = None
    for entry in _versions(register, module.tag):
        after = module_from_body(entry.content())
        if before is not None:
            changes = "; ".join(
                f"{each.name} from “{each.was}” to “{each.now}”" for each in module_differences(before, after)
            )
            told.append(
                f"{entry.actor} changed it on {entry.time.astimezone(zone):%Y-%m-%d %H:%M %Z}: {changes}."
            )
        if module_version(after) == seen:
            told.clear()
        before = after
    what = f"Module {module.tag} was changed since you opened it. {' '.join(told)}".strip()
    return ConflictError(
        what, remedy="Look at what it says now, and mend it from there; nothing was written."
    )


def _versions(register: Register, tag: str) -> Iterator[Entry]:
    """Give the entries that say what a module is, oldest first."""
    for kind in ("module.added", "module.amended"):
        yield from (each for each in register.journal(kind=kind) if each.content().get("tag") == tag)
