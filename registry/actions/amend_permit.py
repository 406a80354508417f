"""Record that an authority amended a permit or gave it another holder: a new version from a day on."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from registry.actions.add_permit import ReadPosition, ReadShapes, transcribe_permit
from registry.actions.permit_since import refuse_unseen
from registry.errors import ConflictError, InvalidRecordError, PermitError
from registry.ports import Register
from registry.records.body import permit_body
from registry.records.entry import Draft
from registry.records.permit import Permit, in_force_on
from registry.records.permit_changes import permit_changes
from registry.records.permit_draft import PermitDraft

__all__ = ["Amended", "amend_permit", "transfer_permit"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended:
    """A new version of a permit, and what it took the place of."""

    #: In force on the first day of the new one until it was recorded; the first, where nothing was.
    before: Permit
    after: Permit
    #: What differs between them, one phrase each.
    changes: tuple[str, ...]
    #: First day of the version after it, None where it is the last.
    until: date | None


def amend_permit(
    register: Register,
    number: str,
    draft: PermitDraft,
    *,
    effective: date,
    why: str,
    read_position: ReadPosition,
    read_shapes: ReadShapes,
    actor: str,
    seen: str | None = None,
    write: bool = True,
) -> Amended:
    """
    Record a permit as it was amended. What was recorded before stays, and is in force until the day before.

    Parameters
    ----------
    register : Register
        Where it is recorded.
    number : str
        Of the permit.
    draft : PermitDraft
        The whole permit as it now reads.
    effective : date
        The first day of this version, in the programme's zone. On the first day of one that is recorded
        already it takes the place of that one: a better transcript.
    why : str
        As the amending paper says it.
    read_position, read_shapes : callable
        As for ``add_permit``.
    actor : str
        Who transcribes it.
    seen : str, optional
        The ``permit_version`` that whoever amends it has looked at.
    write : bool
        False to be told what would change without writing.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    InvalidRecordError
        If no reason is given.
    PermitError
        If the file is that of another permit, the day contradicts the dates, or an area or condition cannot
        be used.
    ConflictError
        If the registry says all of it already, or somebody amended the permit since it was looked at.
    FrameError, GeometryError, PositionTextError
        As for ``add_permit``.
    """
    reason = _reason(why)
    if draft.number != number:
        what = f"The file states permit {draft.number}, not {number}."
        raise PermitError(what, remedy="Give the file of the permit that is to be amended.")
    after = transcribe_permit(
        draft,
        register.programme(),
        read_position=read_position,
        read_shapes=read_shapes,
        in_force_from=effective,
        amendment=reason,
    )
    with register.writing() if write else register.reading():
        versions = register.permit_versions(number)
        refuse_unseen(register, versions, seen)
        _refuse_contradiction(after, versions[0])
        return _recorded(register, after, versions, actor=actor, write=write)


def transfer_permit(
    register: Register,
    number: str,
    *,
    holder: str,
    effective: date,
    why: str,
    actor: str,
    seen: str | None = None,
) -> Amended:
    """
    Record that a permit has another holder from a day on; everything else stays as it was that day.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    InvalidRecordError
        If no holder or no reason is given.
    PermitError
        If the day lies outside the permit's dates.
    ConflictError
        If it has that holder already, a later version is recorded that names another, or somebody amended
        the permit since it was looked at (`seen`, as for ``amend_permit``).
    """
    reason = _reason(why)
    if not holder.strip():
        raise InvalidRecordError("The new holder has no name.", remedy='Name it, as --to "NAME".')
    with register.writing():
        versions = register.permit_versions(number)
        refuse_unseen(register, versions, seen)
        held = in_force_on(versions, effective)
        later = [each for each in versions if each.begins_on > effective and each.holder != holder.strip()]
        if later and effective >= versions[0].begins_on:
            day = later[-1].begins_on
            what = (
                f"The version of permit {number} from {day} names the holder {later[-1].holder or 'nobody'}."
            )
            raise ConflictError(what, remedy=f"Transfer that one first: --effective {day}.")
        same_day = held.amendment if held.begins_on == effective and held.amendment else ""
        after = replace(
            held,
            holder=holder.strip(),
            in_force_from=effective,
            amendment=f"{same_day}; {reason}" if same_day else reason,
        )
        _refuse_contradiction(after, versions[0])
        return _recorded(register, after, versions, actor=actor, write=True)


def _reason(why: str) -> str:
    if not why.strip():
        raise InvalidRecordError("The amendment gives no reason.", remedy='Say it, as --why "Amendment 1".')
    return why.strip()


def _refuse_contradiction(after: Permit, first: Permit) -> None:
    """Refuse a first day that the dates of the permit make impossible."""
    day = after.begins_on
    if day < first.begins_on:
        what = (
            f"The amendment of {after.number} from {day} would begin before the permit, on {first.begins_on}."
        )
        raise PermitError(
            what, remedy="Check --effective; it is the day on which the amendment takes effect."
        )
    if day < after.valid_from:
        what = (
            f"The amendment of {after.number} from {day} says that it is valid from {after.valid_from} only."
        )
        raise PermitError(
            what, remedy="Check --effective and valid_from: a version is valid on its first day."
        )
    if day > after.valid_to:
        what = (
            f"The amendment of {after.number} from {day} would begin after its own end, on {after.valid_to}."
        )
        raise PermitError(what, remedy="Check --effective and valid_to.")


def _recorded(
    register: Register, after: Permit, versions: Sequence[Permit], *, actor: str, write: bool
) -> Amended:
    before = in_force_on(versions, after.begins_on)
    changes = permit_changes(before, after)
    better_told = before.in_force_from == after.in_force_from and before.amendment != after.amendment
    if not changes and not better_told:
        what = f"The version of permit {after.number} in force on {after.begins_on} says all of that already."
        raise ConflictError(what, remedy="See it with: leadline permit show NUMBER.")
    if write:
        register.append([Draft(kind="permit.amended", actor=actor, body=permit_body(after))])
    later = [each.begins_on for each in versions if each.begins_on > after.begins_on]
    return Amended(before=before, after=after, changes=changes, until=min(later, default=None))
