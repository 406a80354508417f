"""
The keepers' chain of one module: where it has a gap, and where two identifiers do not agree.

Source: common practice of chains of custody, no source: whoever hands something on is who took it before, no
station is passed over, and what identifies it is read anew by both sides each time.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import Enum
from itertools import pairwise
from zoneinfo import ZoneInfo

from registry.records.custody import HandOver, Side, Step, spelt_alike

__all__ = ["Chain", "Fault", "FaultKind", "forge_chain"]

#: The placement and the hand-over for it were written down apart; further apart they cannot be one act.
PLACED_WITHIN = timedelta(hours=24)


class FaultKind(Enum):
    """What is wrong with a chain."""

    GAP = "gap"
    MISMATCH = "mismatch"
    #: The secret of the module was lost or erased in between.
    NOT_COMPARABLE = "not comparable"
    #: Nothing is wrong so far; the module is not placed yet.
    NOT_FINISHED = "not finished"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that is wrong with a chain."""

    kind: FaultKind
    #: Says where in the chain, and what.
    sentence: str
    #: The hand-over at which it shows; empty where one is missing.
    reference: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Who kept one module, in order of time."""

    tag: str
    hand_overs: tuple[HandOver, ...]
    faults: tuple[Fault, ...]

    @property
    def whole(self) -> bool:
        """Whether it leads from the crematory to the seabed without a gap or a mismatch."""
        return not self.faults

    def has(self, *kinds: FaultKind) -> bool:
        """Tell whether it has a fault of one of these kinds."""
        return any(fault.kind in kinds for fault in self.faults)


def forge_chain(
    tag: str,
    hand_overs: Sequence[HandOver],
    *,
    zone: str,
    cast_on: date | None = None,
    placed_at: Sequence[datetime] = (),
) -> Chain:
    """
    Put hand-overs in order of time and say where the chain is broken.

    Parameters
    ----------
    tag : str
        Of the module.
    hand_overs : sequence of HandOver
        Those that stand, oldest entry first.
    zone : str
        IANA zone of the programme, for days.
    cast_on : datetime.date, optional
        The day on which the record of the module says that it was cast.
    placed_at : sequence of datetime.datetime, optional
        When its placements that stand say that it was placed; several where nobody knows yet which is true.
    """
    chain = tuple(sorted(hand_overs, key=lambda each: each.at))
    clock = _Days(ZoneInfo(zone))
    faults = [
        *_missing(chain, clock),
        *_passed_on_by_others(chain, clock),
        *_misread(tag, chain, clock),
        *_against_the_record(chain, cast_on, placed_at, clock),
        *_to_come(chain, clock, placed=bool(placed_at)),
    ]
    return Chain(tag=tag, hand_overs=chain, faults=tuple(faults))


@dataclass(frozen=True, slots=True)
class _Days:
    zone: ZoneInfo

    def of(self, instant: datetime) -> date:
        return instant.astimezone(self.zone).date()

    def name(self, each: HandOver) -> str:
        """Name a hand-over in a sentence."""
        return f"“{each.step.value}” ({self.of(each.at)})"


def _missing(chain: Sequence[HandOver], days: _Days) -> Iterator[Fault]:
    """Name the stations that nobody recorded; one that was passed twice, or backwards, is none."""
    steps = list(Step)
    if chain and chain[0].step.rank:
        missing = _not_recorded(steps[: chain[0].step.rank])
        sentence = f"The chain begins with {days.name(chain[0])}; before it, {missing}."
        yield Fault(kind=FaultKind.GAP, sentence=sentence, reference=chain[0].reference)
    for before, after in pairwise(chain):
        passed_over = steps[before.step.rank + 1 : after.step.rank]
        if passed_over:
            between = f"Between {days.name(before)} and {days.name(after)}"
            sentence = f"{between}, {_not_recorded(passed_over)}."
            yield Fault(kind=FaultKind.GAP, sentence=sentence, reference=after.reference)


def _to_come(chain: Sequence[HandOver], days: _Days, *, placed: bool) -> Iterator[Fault]:
    """Name what the end of the chain lacks: a gap if the module lies on the seabed already."""
    kind = FaultKind.GAP if placed else FaultKind.NOT_FINISHED
    if not chain:
        yield Fault(kind=kind, sentence="No hand-over of it is recorded.")
        return
    last = chain[-1]
    missing = list(Step)[last.step.rank + 1 :]
    if missing:
        rest = _not_recorded(missing) if placed else f"still to come: {_names(missing)}"
        yield Fault(kind=kind, sentence=f"The chain ends with {days.name(last)}; {rest}.")


def _passed_on_by_others(chain: Sequence[HandOver], days: _Days) -> Iterator[Fault]:
    """Name where somebody hands on what another took."""
    for before, after in pairwise(chain):
        if not spelt_alike(before.taker.name, after.giver.name):
            sentence = (
                f"{before.taker.name} took it at {days.name(before)}, but {after.giver.name} handed it on"
                f" at {days.name(after)}: nothing says how it came there."
            )
            yield Fault(kind=FaultKind.GAP, sentence=sentence, reference=after.reference)


def _misread(tag: str, chain: Sequence[HandOver], days: _Days) -> Iterator[Fault]:
    """Name each side that read another tag, or another number than the crematory first handed over."""
    for each in chain:
        for side, who in _sides(each):
            if not spelt_alike(side.tag, tag):
                sentence = f"At {days.name(each)}, {who} read the tag {side.tag}, not {tag}."
                yield Fault(kind=FaultKind.MISMATCH, sentence=sentence, reference=each.reference)
    first: HandOver | None = None
    for each in chain:
        if first is None or each.secret != first.secret:
            if first is not None:
                sentence = (
                    f"The identification read at {days.name(each)} cannot be compared with that of"
                    f" {days.name(first)}: the secret behind their digests was lost or erased in between."
                )
                yield Fault(kind=FaultKind.NOT_COMPARABLE, sentence=sentence, reference=each.reference)
            first = each
        true = first.giver.identification_digest
        wrong = [who for side, who in _sides(each) if side.identification_digest != true]
        if wrong:
            sentence = (
                f"At {days.name(each)}, {' and '.join(wrong)} read another identification than the one"
                f" handed over at {days.name(first)}."
            )
            yield Fault(kind=FaultKind.MISMATCH, sentence=sentence, reference=each.reference)


def _against_the_record(
    chain: Sequence[HandOver], cast_on: date | None, placed_at: Sequence[datetime], days: _Days
) -> Iterator[Fault]:
    """Name where the chain says another day than the module and its placement."""
    cast = [each for each in chain if each.step is Step.CAST]
    if cast and cast_on and cast_on not in {days.of(each.at) for each in cast}:
        sentence = (
            f"The chain says {days.name(cast[-1])}, the record of the module that it was cast {cast_on}."
        )
        yield Fault(kind=FaultKind.MISMATCH, sentence=sentence, reference=cast[-1].reference)
    placed = [each for each in chain if each.step is Step.PLACED]
    apart = [abs(each.at - at) for each in placed for at in placed_at]
    if apart and min(apart) > PLACED_WITHIN:
        sentence = f"The chain says {days.name(placed[-1])}, the placement {days.of(placed_at[-1])}."
        yield Fault(kind=FaultKind.MISMATCH, sentence=sentence, reference=placed[-1].reference)


def _sides(each: HandOver) -> tuple[tuple[Side, str], tuple[Side, str]]:
    return (each.giver, f"{each.giver.name} (handing)"), (each.taker, f"{each.taker.name} (taking)")


def _not_recorded(steps: Sequence[Step]) -> str:
    return f"{_names(steps)} {'is' if len(steps) == 1 else 'are'} not recorded"


def _names(steps: Sequence[Step]) -> str:
    return ", ".join(f"“{step.value}”" for step in steps)
