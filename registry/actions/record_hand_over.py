"""Record that a module, and the remains in it, went from one hand to another; or mend what was recorded."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from registry.errors import InvalidRecordError, LeadlineError, NotFoundError
from registry.ports import Families, Register
from registry.records.custody import (
    HandOver,
    HandOverDraft,
    Side,
    WrittenSide,
    hand_over_body,
    hand_over_from_body,
    identification_digest,
    secret_name,
)
from registry.records.entry import Draft
from registry.records.family import Family

__all__ = ["Recorded", "record_hand_overs", "withdraw_hand_over"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A hand-over as it stands in the journal."""

    hand_over: HandOver
    #: False where it was recorded before, word for word; nothing was then written.
    new: bool
    warnings: tuple[str, ...] = ()


def record_hand_overs(
    register: Register,
    families: Families,
    drafts: Sequence[HandOverDraft],
    *,
    actor: str,
    corrects: str = "",
    reason: str = "",
) -> tuple[Recorded | LeadlineError, ...]:
    """
    Record hand-overs; identifiers that do not agree are recorded as they were read.

    Parameters
    ----------
    register : Register
        Where they are recorded; of the crematory's numbers it gets digests.
    families : Families
        Keeps the numbers themselves, and the secret of each module, where both can be erased.
    drafts : sequence of HandOverDraft
        What was written down.
    actor : str
        Who records it.
    corrects, reason : str, optional
        The entry that a single one takes the place of, and why.

    Returns
    -------
    tuple
        One answer for each draft: the hand-over, or the error that tells what is wrong with it.

    Raises
    ------
    InvalidRecordError
        If a correction gives no reason.
    """
    if corrects and not reason.strip():
        what = f"The correction of {corrects} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    with register.writing():
        desk = _Desk(register, families, actor)
        answers = tuple(desk.record(draft, corrects=corrects, reason=reason.strip()) for draft in drafts)
        # Before the journal stands: a digest whose secret is nowhere could never be compared again.
        desk.keep()
    return answers


def withdraw_hand_over(register: Register, tag: str, reference: str, *, reason: str, actor: str) -> None:
    """
    Record that a hand-over of a module never was, and why; the journal keeps it.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    NotFoundError, ConflictError
        If there is no such hand-over of this module, or it does not stand any more.
    """
    if not reason.strip():
        what = f"The withdrawal of {reference} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    body = {"reference": reference, "tag": tag, "reason": reason.strip()}
    with register.writing():
        register.append([Draft(kind="custody.withdrawn", actor=actor, body=body)])


class _Desk:
    """Records hand-overs one by one, and remembers what of the families is to be kept."""

    def __init__(self, register: Register, families: Families, actor: str) -> None:
        self._register, self._families, self._actor = register, families, actor
        self._now = register.now()
        self._held = dict(families.held())
        self._changed: dict[str, Family] = {}

    def keep(self) -> None:
        if self._changed:
            self._families.keep(tuple(self._changed.values()))

    def record(self, draft: HandOverDraft, *, corrects: str, reason: str) -> Recorded | LeadlineError:
        try:
            return self._record(draft, corrects, reason)
        except LeadlineError as error:
            return error

    def _record(self, draft: HandOverDraft, corrects: str, reason: str) -> Recorded:
        family = self._held.get(draft.tag) or Family(tag=draft.tag, recorded_at=self._now)
        for text in (draft.giver.name, draft.taker.name, draft.note, reason, self._actor):
            if family.named_in(text):
                what = f"The hand-over of {draft.tag} names a contact of the family, for the journal to keep."
                raise InvalidRecordError(what, remedy="Write “the family” instead.")
        family = self._with_numbers(family, (draft.giver.identification, draft.taker.identification))
        hand_over = HandOver(
            tag=draft.tag,
            step=draft.step,
            at=draft.at,
            at_text=draft.at_text,
            giver=_kept(draft.giver, family.secret),
            taker=_kept(draft.taker, family.secret),
            secret=secret_name(family.secret),
            note=draft.note,
            source=draft.source,
            corrects=corrects,
            reason=reason,
        )
        warnings = self._warnings(draft)
        for body in self._register.hand_overs(draft.tag):
            before = hand_over_from_body(body)
            same = replace(
                before, at_text=hand_over.at_text, source=hand_over.source, reference="", told="",
                corrects="", reason="",
            )  # fmt: skip
            if same == replace(hand_over, corrects="", reason=""):
                return Recorded(hand_over=before, new=False, warnings=warnings)
        body = hand_over_body(hand_over)
        (entry,) = self._register.append([Draft(kind="custody.handed", actor=self._actor, body=body)])
        self._held[draft.tag] = self._changed[draft.tag] = family
        return Recorded(hand_over=replace(hand_over, reference=entry.reference), new=True, warnings=warnings)

    def _with_numbers(self, family: Family, written: Sequence[str]) -> Family:
        secret = family.secret or self._families.fresh_secret()
        known = {identification_digest(secret, number) for number in family.identifications}
        new = [
            number for number in dict.fromkeys(written) if identification_digest(secret, number) not in known
        ]
        if not new and family.secret:
            return family
        return replace(
            family, secret=secret, identifications=(*family.identifications, *new), recorded_at=self._now
        )

    def _warnings(self, draft: HandOverDraft) -> tuple[str, ...]:
        told = []
        if draft.at > self._now:
            told.append(f"“{draft.at_text}” lies ahead: check the day and the year.")
        try:
            self._register.module(draft.tag)
        except NotFoundError as error:
            told.append(f"{error.what} {error.remedy}".strip())
        return tuple(told)


def _kept(side: WrittenSide, secret: str) -> Side:
    """Give what the journal may keep of a side."""
    digest = identification_digest(secret, side.identification)
    return Side(name=side.name, tag=side.tag, identification_digest=digest)
