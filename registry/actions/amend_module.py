"""Mend what is recorded of a module: a misspelt name, the consent of a family, a type, a mass."""

from dataclasses import replace
from datetime import date

from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.body import module_body
from registry.records.entry import Draft
from registry.records.module import Memorial, Module

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
        If the registry says all of it already.
    """
    if not reason.strip():
        what = f"The amendment of {tag} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    with register.writing():
        before = register.module(tag)
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
