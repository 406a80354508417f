"""Record where the plan wants modules, and where it wants one instead when it changes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from registry.actions.bring_shapes_home import no_epoch_stated
from registry.actions.settle_position import NO_FRAME, Settled, Stated, settle_all
from registry.actions.warn_of_slips import furthest_inside, warnings_of_position
from registry.errors import ConflictError, InvalidRecordError, LeadlineError, NotFoundError
from registry.measure.datum import resolve
from registry.ports import Register
from registry.records.body import target_body
from registry.records.entry import Draft
from registry.records.permit import Permit
from registry.records.target import Target, TargetDraft

__all__ = ["Planned", "add_targets", "move_target"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A target that stands."""

    target: Target
    #: False where the registry held it exactly so, and nothing was written.
    new: bool = True
    #: What a person should look at, one sentence each.
    warnings: tuple[str, ...] = ()


def add_targets(
    register: Register, drafts: Sequence[TargetDraft], *, permit: str, actor: str
) -> list[Planned | LeadlineError]:
    """
    Record targets under one permit as one transaction; one that cannot be recorded gives its error instead.

    Parameters
    ----------
    register : Register
        Where they go.
    drafts : sequence of TargetDraft
        One for each module.
    permit : str
        Under which the modules are to be placed.
    actor : str
        Who records the plan.

    Returns
    -------
    list of Planned or LeadlineError
        A FrameError where a position cannot be brought home, a ConflictError where the module has another
        target under this permit. A target outside every area of the permit is recorded with a warning.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    with register.writing():
        of = register.permit(permit)
        standing = register.targets()
        held = {target.tag: target for target in standing if target.permit == permit}
        number = _highest(standing)
        answers: list[Planned | LeadlineError] = []
        for answer in _brought_home(register, drafts, of):
            if isinstance(answer, LeadlineError):
                answers.append(answer)
                continue
            target, warnings = answer
            before = held.get(target.tag)
            if before is None:
                number += 1
                target = _numbered(target, number)
                held[target.tag] = target
                answers.append(Planned(target=target, warnings=warnings))
            elif _says_the_same(before, target):
                answers.append(Planned(target=before, new=False))
            else:
                what = f"Module {target.tag} has a target under permit {permit} already: {before.written}."
                remedy = f"Where the plan changed: leadline target move {target.tag} ... --why TEXT."
                answers.append(ConflictError(what, remedy=remedy))
        new = [each.target for each in answers if isinstance(each, Planned) and each.new]
        if new:
            register.append([Draft(kind="target.added", actor=actor, body=target_body(t)) for t in new])
    return answers


def move_target(
    register: Register, draft: TargetDraft, *, permit: str, why: str, actor: str
) -> tuple[Target, Planned]:
    """
    Record that the plan wants a module elsewhere; the journal keeps both.

    Returns
    -------
    tuple
        The target as it was, and as it is.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    NotFoundError
        If the module has no target under this permit, or there is no such permit.
    ConflictError
        If it has that target already.
    FrameError
        If the position cannot be brought home.
    """
    if not why.strip():
        what = f"The new target of {draft.tag} gives no reason."
        raise InvalidRecordError(what, remedy='Say why the plan changed, with --why "...".')
    with register.writing():
        of = register.permit(permit)
        standing = register.targets()
        before = next((t for t in standing if (t.permit, t.tag) == (permit, draft.tag)), None)
        if before is None:
            what = f"Module {draft.tag} has no target under permit {permit} to move."
            raise NotFoundError(what, remedy="Add one: leadline target add.")
        (answer,) = _brought_home(register, [draft], of)
        if isinstance(answer, LeadlineError):
            raise answer
        target, warnings = answer
        if _says_the_same(before, target):
            what = f"The target of {draft.tag} under permit {permit} is that already."
            raise ConflictError(what, remedy="Give where the plan wants it now, with --at.")
        target = _numbered(target, _highest(standing) + 1)
        body = target_body(target) | {"supersedes": before.target_id, "reason": why.strip()}
        register.append([Draft(kind="target.added", actor=actor, body=body)])
    return before, Planned(target=target, warnings=warnings)


def _highest(standing: Sequence[Target]) -> int:
    """Give the highest number in use: one that took another's place always has a higher one than that."""
    return max((int(target.target_id.rpartition("-")[2]) for target in standing), default=0)


def _numbered(target: Target, number: int) -> Target:
    return replace(target, target_id=f"target-{number:04d}")


def _says_the_same(held: Target, target: Target) -> bool:
    """Compare what was written: where no epoch was stated, that of the day was taken."""
    same_epoch = held.epoch == target.epoch or "no epoch was stated" in held.operation + target.operation
    return (held.written, held.frame) == (target.written, target.frame) and same_epoch


def _brought_home(
    register: Register, drafts: Sequence[TargetDraft], permit: Permit
) -> list[tuple[Target, tuple[str, ...]] | LeadlineError]:
    """Bring every position home and look whether it lies in an area of the permit."""
    at = register.now()
    # A plan says where, not how well anybody knew it.
    stated = [
        Stated(written=d.position, frame=d.frame, epoch=d.epoch, r95_m=0.0, r95_words="a plan", at=at)
        for d in drafts
    ]
    settled = settle_all(stated, register.programme())
    ready = [each.home.position for each in settled if isinstance(each, Settled)]
    inside = iter(furthest_inside([permit], [p.lon_deg for p in ready], [p.lat_deg for p in ready]).tolist())
    return [
        each if isinstance(each, LeadlineError) else _target(draft, each, permit, next(inside), at)
        for draft, each in zip(drafts, settled, strict=True)
    ]


def _target(
    draft: TargetDraft, settled: Settled, permit: Permit, inside_m: float, at: datetime
) -> tuple[Target, tuple[str, ...]]:
    observed, home = settled.observed, settled.home.position
    untold = draft.epoch is None and draft.position.epoch is None and resolve(observed.frame).dynamic
    target = Target(
        target_id="",
        permit=permit.number,
        tag=draft.tag,
        lon_deg=home.lon_deg,
        lat_deg=home.lat_deg,
        frame=observed.frame,
        epoch=observed.epoch,
        written=draft.position.text,
        operation=settled.home.operation + (no_epoch_stated(at) if untold else ""),
    )
    known = {permit.number: inside_m}
    warnings = warnings_of_position(draft.position, observed, home, [permit], inside_m=known)
    if inside_m < 0 and not any("outside every permit area" in warning for warning in warnings):
        warnings += (f"It lies {-inside_m:.0f} m outside every area of permit {permit.number}.",)
    unframed = tuple(sentence for sentence in settled.basis if sentence.startswith(NO_FRAME))
    return target, (*unframed, *settled.warnings, *warnings)
