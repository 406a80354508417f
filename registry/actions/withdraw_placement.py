"""Withdraw a placement that never was: logged twice, or of a module that was not set down."""

from dataclasses import dataclass

from registry.errors import InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.entry import Draft
from registry.records.placement import Placement

__all__ = ["Withdrawn", "withdraw_placement"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn:
    """A placement that no longer stands, and what is left of its module."""

    placement_id: str
    tag: str
    permit: str
    reason: str
    #: The entry that withdrew it.
    reference: str
    #: The placements of the same tag that stand, oldest first.
    standing: tuple[str, ...]
    #: Numbers of the certificates whose newest version rests on what was withdrawn.
    certificates: tuple[str, ...]


def withdraw_placement(register: Register, placement_id: str, *, reason: str, actor: str) -> Withdrawn:
    """
    Record that a placement does not stand, and why; nothing takes its place and nothing is deleted.

    Parameters
    ----------
    register : Register
        Where it stands.
    placement_id : str
        As printed when it was logged.
    reason : str
        Why, for the journal.
    actor : str
        Who withdraws it.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    NotFoundError
        If there is no such placement.
    ConflictError
        If it was corrected or withdrawn before.
    """
    if not reason.strip():
        what = f"The withdrawal of {placement_id} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    with register.writing():
        placement = _placement(register, placement_id)
        body = {
            "placement_id": placement_id,
            "tag": placement.tag,
            "permit": placement.permit,
            "reason": reason.strip(),
        }
        (entry,) = register.append([Draft(kind="placement.withdrawn", actor=actor, body=body)])
        newest = {str(issued["number"]): issued for issued in register.certificates(placement.tag)}
        return Withdrawn(
            **body,
            reference=entry.reference,
            standing=register.placement_ids(placement.tag),
            certificates=tuple(
                number for number, issued in newest.items() if issued["placement_id"] == placement_id
            ),
        )


def _placement(register: Register, placement_id: str) -> Placement:
    """Find the placement; whoever gives a tag is told which placements it has."""
    try:
        return register.placement(placement_id)
    except NotFoundError:
        of_tag = register.placement_ids(placement_id)
        if not of_tag:
            raise
        what = f"{placement_id} is a tag, not a placement."
        raise NotFoundError(what, remedy=f"Its placements: {', '.join(of_tag)}.") from None
