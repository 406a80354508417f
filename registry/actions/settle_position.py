"""
Settle what a written position means: frame, epoch and doubt, and where it lies in the home frame.

Whatever is taken as understood is said in ``basis``, one sentence each, and goes into the journal.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from registry.actions.written_digits import written_digits_r95_m
from registry.errors import FrameError, LeadlineError
from registry.measure.datum import ResolvedFrame, Transformed, decimal_year, resolve, transform
from registry.measure.receiver_class import UNKNOWN
from registry.measure.uncertainty import combine
from registry.records.position import HomePosition, Position
from registry.records.programme import Programme
from registry.records.written_position import WrittenPosition

__all__ = ["NO_FRAME", "Settled", "Stated", "settle", "settle_all"]


#: How the sentence begins that says that the programme's own frame was taken.
NO_FRAME = "No frame was stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A written position and what was stated beside it."""

    written: WrittenPosition
    #: Frame and epoch stated beside the text, None where they were not.
    frame: str | None = None
    epoch: float | None = None
    #: 95 % radius stated beside the text, and in which words. Units: m.
    r95_m: float | None = None
    r95_words: str = ""
    #: Of a position that was derived: the sentence that says where its radius comes from.
    r95_basis: str = ""
    #: When the position was observed: the epoch of a moving frame where none is stated.
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """A position that means something."""

    observed: Position
    home: HomePosition
    basis: tuple[str, ...]
    warnings: tuple[str, ...]


class Understood(NamedTuple):
    """The frame and epoch of a written position, and why."""

    frame: ResolvedFrame
    epoch: float | None
    basis: tuple[str, ...]


def settle(stated: Stated, programme: Programme) -> Settled:
    """
    Settle one position.

    Raises
    ------
    FrameError
        If text and statement name different frames, or the frame or epoch cannot be used.
    MissingGridError
        If the operation needs a grid file that is absent.
    """
    answer = settle_all([stated], programme)[0]
    if isinstance(answer, LeadlineError):
        raise answer
    return answer


def settle_all(stated: Sequence[Stated], programme: Programme) -> list[Settled | LeadlineError]:
    """Settle many positions, each for itself: one that cannot be settled gives its error instead."""
    answers: list[Settled | LeadlineError | None] = [None] * len(stated)
    groups: dict[tuple[str, bool], list[int]] = defaultdict(list)
    frames: dict[int, Understood] = {}
    for index, item in enumerate(stated):
        try:
            known = frames[index] = _frame_and_epoch(item, programme)
            groups[known.frame.code, known.epoch is None].append(index)
        except LeadlineError as error:
            answers[index] = error
    for members in groups.values():
        batch = [(stated[index], frames[index]) for index in members]
        try:
            settled: list[Settled | LeadlineError] = list(_bring_home(batch, programme))
        except LeadlineError:
            # One bad member must not take the others with it.
            settled = [_bring_home_alone(item, programme) for item in batch]
        for index, answer in zip(members, settled, strict=True):
            answers[index] = answer
    return [answer for answer in answers if answer is not None]


def _frame_and_epoch(item: Stated, programme: Programme) -> Understood:
    written = item.written
    basis: list[str] = []
    if item.frame is not None:
        if written.grid is None and resolve(item.frame).projected:
            what = f"The frame {item.frame} has easting and northing, but the text gives degrees."
            raise FrameError(what, remedy="Name the geographic frame of the degrees, as EPSG:4326.")
        frame = _named(item.frame)
        if written.frame is not None and _named(written.frame).code != frame.code:
            inner = _named(written.frame)
            what = f"The text says {inner.name}, but {frame.name} is stated beside it."
            raise FrameError(what, remedy="State one frame: leave out --frame, or the name in the text.")
    elif written.frame is not None:
        frame = _named(written.frame)
        basis.append(f"The text itself names the frame: {frame.name}.")
    else:
        frame = _named(programme.frame)
        basis.append(f"{NO_FRAME}: read in the programme's home frame, {frame.name}.")
    epoch = item.epoch if item.epoch is not None else written.epoch
    if written.epoch is not None and written.epoch != epoch:
        what = f"The text says epoch {written.epoch:g}, but {epoch:g} is stated beside it."
        raise FrameError(what, remedy="State one epoch: leave out --epoch, or the year in the text.")
    if not frame.dynamic:
        return Understood(frame, frame.epoch if epoch is None else epoch, tuple(basis))
    if epoch is None:
        epoch = round(decimal_year(item.at), 4)
        day = item.at.date().isoformat()
        basis.append(f"Epoch of the {frame.name} coordinates: {epoch:.2f}, the day of observation ({day}).")
    return Understood(frame, epoch, tuple(basis))


def _named(code: str) -> ResolvedFrame:
    """Give the geographic frame that a code names: written positions are in latitude and longitude by now."""
    found = resolve(code)
    return resolve(found.base) if found.projected else found


def _bring_home_alone(item: tuple[Stated, Understood], programme: Programme) -> Settled | LeadlineError:
    try:
        return _bring_home([item], programme)[0]
    except LeadlineError as error:
        return error


def _bring_home(batch: Sequence[tuple[Stated, Understood]], programme: Programme) -> list[Settled]:
    """Transform positions of one frame together; all of them have an epoch, or none."""
    epochs = [known.epoch for _, known in batch if known.epoch is not None]
    moved = transform(
        [item.written.lon_deg for item, _ in batch],
        [item.written.lat_deg for item, _ in batch],
        source=batch[0][1].frame.code,
        target=programme.frame,
        epoch=epochs or None,
        anywhere=True,
    )
    if len(batch) > 1 and moved.outside.any():
        # What a slip carried abroad is doubtful by metres; that doubt is its own.
        return [settled for item in batch for settled in _bring_home([item], programme)]
    return [_settled(item, known, moved, place, programme) for place, (item, known) in enumerate(batch)]


def _settled(
    item: Stated, known: Understood, moved: Transformed, place: int, programme: Programme
) -> Settled:
    written = item.written
    r95_m, r95_basis = _stated_r95(item)
    rounding_m = written_digits_r95_m(written)
    home_r95_m = float(combine(r95_m, rounding_m, written.extra_r95_m, moved.accuracy_m))
    return Settled(
        observed=Position(
            lat_deg=written.lat_deg,
            lon_deg=written.lon_deg,
            frame=known.frame.code,
            epoch=known.epoch,
            r95_m=r95_m,
        ),
        home=HomePosition(
            position=Position(
                lat_deg=float(moved.lat_deg[place]),
                lon_deg=(float(moved.lon_deg[place]) + 180.0) % 360.0 - 180.0,
                frame=programme.frame,
                epoch=programme.frame_epoch,
                r95_m=home_r95_m,
            ),
            operation=moved.operation,
            accuracy_m=moved.accuracy_m,
            software=moved.proj_version,
        ),
        basis=(*known.basis, r95_basis, *_widening(item, rounding_m, moved.accuracy_m, r95_m, home_r95_m)),
        warnings=_abroad(written, programme) if moved.outside[place] else (),
    )


def _abroad(written: WrittenPosition, programme: Programme) -> tuple[str, ...]:
    home = resolve(programme.frame).name
    return (
        f"“{written.text}” lies outside the region of {home}: its place there is good to metres at best.",
    )


def _stated_r95(item: Stated) -> tuple[float, str]:
    if item.r95_m is not None and item.r95_basis:
        return item.r95_m, item.r95_basis
    if item.r95_m is not None:
        return (
            item.r95_m,
            f"R95 {item.r95_m:g} m as stated{f' ({item.r95_words})' if item.r95_words else ''}.",
        )
    if item.written.stated_r95_m is not None:
        return item.written.stated_r95_m, f"R95 {item.written.stated_r95_m:g} m from the text itself."
    return UNKNOWN.r95_m, f"No accuracy was stated: R95 {UNKNOWN.r95_m:g} m is taken, as {UNKNOWN.sentence}."


def _widening(
    item: Stated, rounding_m: float, accuracy_m: float, r95_m: float, home_r95_m: float
) -> tuple[str, ...]:
    """Say what made the radius wider than stated, where it shows in its second digit."""
    if home_r95_m < r95_m * 1.01:
        return ()
    parts = {
        "the digits written": rounding_m,
        "the datum or square as written": item.written.extra_r95_m,
        "the datum operation": accuracy_m,
    }
    told = ", ".join(f"{name} ({size:.2g} m)" for name, size in parts.items() if size > 0.1 * r95_m)
    return (f"R95 widened from {r95_m:.2g} to {home_r95_m:.2g} m by {told}.",)
