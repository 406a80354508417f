"""Keep what a family wishes to read on its plaque; the journal learns nothing of it."""

from dataclasses import replace

from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Families, Register
from registry.records.family import Family
from registry.records.plaque_wording import MOST_LINES, PlaqueWording, wording_version

__all__ = ["keep_plaque_wording"]


def keep_plaque_wording(
    register: Register, families: Families, tag: str, wording: PlaqueWording, *, seen: str
) -> Family:
    """
    Keep the words of a plaque in the place of those before.

    Parameters
    ----------
    register : Register
        Knows the module; nothing is written to it.
    families : Families
        Where they are kept.
    tag : str
        Of the module.
    wording : PlaqueWording
        The words.
    seen : str
        What the words were when they were seen (:func:`registry.records.plaque_wording.wording_version`).

    Raises
    ------
    NotFoundError
        If there is no such module.
    ConflictError
        If somebody else changed them meanwhile.
    InvalidRecordError
        If there are more lines than a plaque takes.
    """
    if len(wording.words) > MOST_LINES:
        what = f"A plaque takes {MOST_LINES} lines of your own; these are {len(wording.words)}."
        raise InvalidRecordError(what, remedy="Leave some out.")
    with register.writing():
        register.module(tag)
        now = register.now()
        family = families.held().get(tag) or Family(tag=tag, recorded_at=now)
        if seen != wording_version(family.plaque):
            what = "The words of the plaque were changed since you opened this page; nothing was recorded."
            raise ConflictError(what, remedy="Read them as they are now, and change them from there.")
        family = replace(family, plaque=wording, recorded_at=now)
        families.keep([family])
    return family
