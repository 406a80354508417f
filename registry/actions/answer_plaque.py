"""Let a family approve the proof of its plaque, or ask for a change; the journal keeps what it saw."""

from datetime import datetime

from registry.errors import ConflictError
from registry.ports import Register
from registry.records.entry import Draft
from registry.records.plaque_wording import PlaqueAnswer

__all__ = ["answer_plaque", "plaque_answer"]


def answer_plaque(
    register: Register, tag: str, *, approved: bool, seen: str, artwork_sha256: str, actor: str
) -> PlaqueAnswer:
    """
    Record what a family says of a proof; said again of the same drawing, the first answer stands.

    Parameters
    ----------
    register : Register
        Gets the answer: the digest of the drawing, and no word of it.
    tag : str
        Of the module.
    approved : bool
        True to have it engraved, False to have it changed.
    seen : str
        Digest of the drawing that the family had before its eyes.
    artwork_sha256 : str
        Digest of the drawing as it is made now.
    actor : str
        As "family of MC-0017": no relative is named.

    Raises
    ------
    NotFoundError
        If there is no such module.
    ConflictError
        If the drawing changed since it was seen.
    """
    with register.writing():
        register.module(tag)
        if seen != artwork_sha256:
            what = "The plaque has changed since you opened this page; nothing was recorded."
            raise ConflictError(what, remedy="Look at it as it is drawn now, and answer then.")
        last = plaque_answer(register, tag)
        if last is not None and (last.approved, last.artwork_sha256) == (approved, artwork_sha256):
            return last
        kind = "plaque.approved" if approved else "plaque.returned"
        body = {"tag": tag, "artwork_sha256": artwork_sha256}
        (entry,) = register.append([Draft(kind=kind, actor=actor, body=body)])
    return PlaqueAnswer(
        approved=approved, artwork_sha256=artwork_sha256, reference=entry.reference, at=entry.time
    )


def plaque_answer(register: Register, tag: str) -> PlaqueAnswer | None:
    """Give what the family of a module said last, None where it said nothing yet."""
    told = register.plaque_answers(tag)
    if not told:
        return None
    body = told[-1]
    return PlaqueAnswer(
        approved=bool(body["approved"]),
        artwork_sha256=str(body["artwork_sha256"]),
        reference=str(body["reference"]),
        at=datetime.fromisoformat(str(body["time"])),
    )
