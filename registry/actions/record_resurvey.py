"""Record that modules were observed again, and say of each whether it has moved."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from registry.actions.derive_placement import stated_of
from registry.actions.explain_shift import explain_shift
from registry.actions.settle_position import Settled, settle_all
from registry.actions.standing_place import StandingPlace, resurveys_by_tag, standing_place
from registry.actions.warn_of_slips import warnings_of_position
from registry.actions.written_digits import written_digits_r95_m
from registry.errors import ConflictError, InvalidRecordError, LeadlineError
from registry.measure.datum import decimal_year
from registry.measure.geodesic import inverse
from registry.measure.movement import (
    CommonShift,
    Motion,
    bearing_of,
    circular_covariance,
    common_shift,
    holm,
    least_seen_m,
    motion_of,
    stillness_p,
)
from registry.measure.uncertainty import R95_FACTOR, combine
from registry.ports import Register
from registry.records.entry import Draft
from registry.records.log_row import LogRow
from registry.records.resurvey import Movement, Resurvey, resurvey_body

__all__ = ["ASSUMPTION", "Resurveyed", "SiteResurvey", "record_resurvey", "record_resurveys"]

#: What the test takes for granted, for whoever prints it.
ASSUMPTION = (
    "Tested in two dimensions (chi-square, 95 %) with both positions' R95, taken as circular, normal and "
    "independent; over several modules together by Holm's rule."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Resurveyed:
    """One resurvey as it went into the journal, or would."""

    #: None where nothing was written.
    resurvey_id: str | None
    resurvey: Resurvey
    #: A displacement of this size would have been found 19 times in 20. Units: m.
    least_seen_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteResurvey:
    """What a survey of several modules found."""

    #: One for each row, in order; a row that could not be taken in gives its error.
    answers: tuple[Resurveyed | LeadlineError, ...]
    #: What all modules show alike; None for fewer modules than can tell.
    shift: CommonShift | None
    #: What a real common shift looks like, sentence by sentence.
    explanation: tuple[str, ...]

    @property
    def motion(self) -> Motion:
        """The worst that is said of any module; a real common shift leaves the whole inconclusive."""
        found = {a.resurvey.movement.verdict for a in self.answers if isinstance(a, Resurveyed)}
        if Motion.MOVED in found:
            return Motion.MOVED
        doubtful = Motion.INCONCLUSIVE in found or (self.shift is not None and self.shift.real)
        return Motion.INCONCLUSIVE if doubtful else Motion.NOT_SHOWN


def record_resurvey(
    register: Register, row: LogRow, *, actor: str, write: bool = True, corrects: str = "", reason: str = ""
) -> Resurveyed:
    """
    Record that one module was observed again.

    Parameters
    ----------
    register : Register
        Where it goes.
    row : LogRow
        What was observed; its `placed_at` is when.
    actor : str
        Who records it.
    write : bool
        False to be told without writing.
    corrects, reason : str
        The resurvey that this one corrects, and why.

    Raises
    ------
    LeadlineError
        If the row cannot be understood, or the module was not placed.
    """
    if bool(corrects) != bool(reason.strip()):
        what = "A correction names the resurvey that was wrong, and says why."
        raise InvalidRecordError(what, remedy="Give both --corrects and --reason.")
    extra = {"supersedes": corrects, "reason": reason.strip()} if corrects else {}
    (answer,) = record_resurveys(register, [row], actor=actor, write=write, extra=extra).answers
    if isinstance(answer, LeadlineError):
        raise answer
    return answer


def record_resurveys(
    register: Register,
    rows: Sequence[LogRow],
    *,
    actor: str,
    write: bool = True,
    extra: dict[str, str] | None = None,
) -> SiteResurvey:
    """
    Record a survey of many modules as one transaction, telling a common shift from modules that moved.

    Parameters
    ----------
    register : Register
        Where they go.
    rows : sequence of LogRow
        What was observed; `placed_at` is when.
    actor : str
        Who records it.
    write : bool
        False to be told without writing.
    extra : dict, optional
        What a correction adds to the entry.

    Notes
    -----
    Marks do not move all alike. A shift that the median module shows beyond its standard error is taken off
    before each module is tested, kept with every entry, and compared with the known differences of frames.
    """
    extra = extra or {}
    with register.writing() if write else register.reading():
        answers = _observed(register, rows, without=extra.get("supersedes", ""))
        seen = [answer for answer in answers if isinstance(answer, _Seen)]
        shift = common_shift(
            [s.east_m for s in seen], [s.north_m for s in seen], least_scatter_m=_written_scatter_m(seen)
        )
        real = shift if shift is not None and shift.real else None
        judged = _judged(seen, real)
        references: list[str | None] = [None] * len(judged)
        if write and judged:
            bodies = [resurvey_body(resurvey) | extra for resurvey in judged]
            entries = register.append(
                [Draft(kind="placement.resurveyed", actor=actor, body=body) for body in bodies]
            )
            references = [entry.reference for entry in entries]
        explanation = _explained(register, real, seen) if real is not None else ()
    told = iter(
        Resurveyed(resurvey_id=name, resurvey=one, least_seen_m=least_seen_m(one.movement.u95_m))
        for name, one in zip(references, judged, strict=True)
    )
    return SiteResurvey(
        answers=tuple(next(told) if isinstance(answer, _Seen) else answer for answer in answers),
        shift=shift,
        explanation=explanation,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """One module observed again, and how far from its former place."""

    row: LogRow
    place: StandingPlace
    settled: Settled
    warnings: tuple[str, ...]
    #: Units: m.
    east_m: float
    north_m: float
    u95_m: float


def _observed(register: Register, rows: Sequence[LogRow], *, without: str) -> list[_Seen | LeadlineError]:
    """Find where each module lay and where it was seen now; a row that cannot be taken in gives its error."""
    known = resurveys_by_tag(register)
    if without:
        known = {tag: [pair for pair in pairs if pair[0] != without] for tag, pairs in known.items()}
    permits = register.permits()
    taken = set(register.source_rows([str(row.source["key"]) for row in rows if "key" in row.source]))
    answers: list[_Seen | LeadlineError] = []
    for row, settled in zip(rows, _settled(register, rows), strict=True):
        try:
            if isinstance(settled, LeadlineError):
                raise settled
            key = row.source.get("key")
            if key in taken:
                what = f"This row for {row.tag} was taken in before, to the letter."
                raise ConflictError(what, remedy="Nothing to do: it stands in the registry.")
            place = standing_place(register, row.tag, known, before=row.placed_at)
            _check_time(row, place)
            warnings = warnings_of_position(row.position, settled.observed, settled.home.position, permits)
            answers.append(_seen(row, place, settled, tuple(warnings)))
            if key is not None:
                taken.add(key)
        except LeadlineError as error:
            answers.append(error)
    return answers


def _settled(register: Register, rows: Sequence[LogRow]) -> list[Settled | LeadlineError]:
    """Settle the positions together; one that cannot be gives its error."""
    stated = []
    errors: dict[int, LeadlineError] = {}
    for index, row in enumerate(rows):
        try:
            stated.append(stated_of(row))
        except LeadlineError as error:
            errors[index] = error
    settled = iter(settle_all(stated, register.programme()))
    return [errors[index] if index in errors else next(settled) for index in range(len(rows))]


def _check_time(row: LogRow, place: StandingPlace) -> None:
    if row.placed_at < place.observed_at:
        what = (
            f"{row.tag} was seen on {row.placed_at:%Y-%m-%d}, before {place.observed_at:%Y-%m-%d}, "
            "the observation that says where it lies."
        )
        raise InvalidRecordError(what, remedy="Check the day; a wrong placement is set right by correct.")


def _seen(row: LogRow, place: StandingPlace, settled: Settled, warnings: tuple[str, ...]) -> _Seen:
    there, here = place.home.position, settled.home.position
    distance_m, bearing_deg = (
        float(v) for v in inverse(there.lon_deg, there.lat_deg, here.lon_deg, here.lat_deg)
    )
    return _Seen(
        row=row,
        place=place,
        settled=settled,
        warnings=warnings,
        east_m=distance_m * math.sin(math.radians(bearing_deg)),
        north_m=distance_m * math.cos(math.radians(bearing_deg)),
        u95_m=float(combine(there.r95_m, here.r95_m)),
    )


def _written_scatter_m(seen: Sequence[_Seen]) -> float:
    """Give the scatter that the written digits alone stand for, as one standard deviation. Units: m."""
    digits_m = [written_digits_r95_m(one.row.position) for one in seen]
    return float(np.median(digits_m)) / R95_FACTOR if digits_m else 0.0


def _judged(seen: Sequence[_Seen], shift: CommonShift | None) -> list[Resurvey]:
    """Test every module for itself, after what all have in common was taken off."""
    if not seen:
        return []
    east, north = np.array([s.east_m for s in seen]), np.array([s.north_m for s in seen])
    covariance = circular_covariance([s.u95_m for s in seen])
    if shift is not None:
        east, north = east - shift.east_m, north - shift.north_m
        covariance = covariance + shift.covariance
    p = stillness_p(east, north, covariance)
    adjusted = holm(p)
    return [
        Resurvey(
            tag=one.row.tag,
            placement_id=one.place.placement_id,
            observed_at=one.row.placed_at,
            position_text=one.row.position.text,
            observed=one.settled.observed,
            home=one.settled.home,
            basis=one.settled.basis,
            warnings=one.warnings,
            movement=Movement(
                verdict=motion_of(float(p[i]), float(adjusted[i])),
                compared_with=one.place.reference,
                compared_at=one.place.observed_at,
                distance_m=math.hypot(east[i], north[i]),
                bearing_deg=bearing_of(float(east[i]), float(north[i])),
                u95_m=float(combine(one.u95_m, shift.r95_m)) if shift else one.u95_m,
                p_value=float(p[i]),
                adjusted_p=float(adjusted[i]),
                shift_m=shift.distance_m if shift else 0.0,
                shift_bearing_deg=shift.bearing_deg if shift else 0.0,
                since=one.place.last_seen_at,
            ),
            crew=one.row.crew,
            vessel=one.row.vessel,
            note=one.row.note,
            source=dict(one.row.source),
        )
        for i, one in enumerate(seen)
    ]


def _explained(register: Register, shift: CommonShift, seen: Sequence[_Seen]) -> tuple[str, ...]:
    """Compare a common shift with the frames, at the first module and in the frames that most rows state."""
    now = Counter(one.settled.observed.frame for one in seen).most_common(1)[0][0]
    then = Counter(one.place.stated_frame for one in seen).most_common(1)[0][0]
    home = seen[0].place.home.position
    return explain_shift(
        shift,
        home.lon_deg,
        home.lat_deg,
        home=register.programme().frame,
        stated=(now, round(decimal_year(seen[0].row.placed_at), 2)),
        stated_then=(then, round(decimal_year(seen[0].place.observed_at), 2)),
    )
