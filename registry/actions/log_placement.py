"""Record modules that lie on the seabed: never refused for where they lie, always with what the rules say."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from registry.actions.derive_placement import derive_placements
from registry.actions.gather_cases import Surroundings, gather, table_of
from registry.actions.last_known import last_known
from registry.errors import ConflictError, InvalidRecordError, LeadlineError, NotFoundError
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.body import module_body, placement_body
from registry.records.entry import Draft
from registry.records.finding import Finding, whole_verdict
from registry.records.log_row import LogRow
from registry.records.module import Module, ModuleType
from registry.records.near_tags import NearTags
from registry.records.permit import Permit, in_force_on
from registry.records.placement import Placement, PlacementTable
from registry.rules.catalogue import judge

__all__ = ["Logged", "correct_placement", "log_placement", "log_placements"]

#: A boat's clock may run ahead by this much before a time in the future is worth a word.
CLOCK_AHEAD = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One placement as it went into the journal."""

    placement_id: str
    placement: Placement
    findings: tuple[Finding, ...]
    verdict: Verdict


def log_placement(register: Register, row: LogRow, *, actor: str) -> Logged:
    """
    Record one placement.

    Raises
    ------
    LeadlineError
        If the line cannot be derived, or its tag is unknown and no type is given.
    """
    (answer,) = log_placements(register, [row], actor=actor)
    if isinstance(answer, LeadlineError):
        raise answer
    return answer


def log_placements(
    register: Register, rows: Sequence[LogRow], *, actor: str, write: bool = True
) -> list[Logged | LeadlineError]:
    """
    Record many placements as one transaction; a line that cannot be derived gives its error instead.

    A line whose key was taken in before is not written again: it gives a ConflictError that says so. With
    `write` False everything is derived and judged likewise, nothing is recorded, and the identifiers are
    empty.
    """
    with register.writing() if write else register.reading():
        book = _Book(register, [row.tag for row in rows])
        answers: list[Logged | LeadlineError | None] = [None] * len(rows)
        taken = set(register.source_rows([str(row.source["key"]) for row in rows if "key" in row.source]))
        fresh: list[int] = []
        first_of: dict[str, int] = {}
        repeated: list[tuple[int, int]] = []
        for index, row in enumerate(rows):
            key = row.source.get("key")
            if key in taken:
                answers[index] = _taken_before(row)
                continue
            if key in first_of:
                repeated.append((index, first_of[key]))
                continue
            if key is not None:
                first_of[key] = index
            try:
                book.know(row)
                fresh.append(index)
            except LeadlineError as error:
                answers[index] = error
        derived = derive_placements(
            [rows[index] for index in fresh],
            programme=register.programme(),
            permits=book.permits,
            permit_at=book.permit_at,
            standing=book.standing,
        )
        good: list[tuple[int, Placement]] = []
        for index, answer in zip(fresh, derived, strict=True):
            if isinstance(answer, LeadlineError):
                answers[index] = answer
            else:
                good.append((index, book.compared(rows[index], answer)))
        placements = [placement for _, placement in good]
        told = book.write(placements, actor=actor) if write else book.judged(placements)
        for (index, _), logged in zip(good, told, strict=True):
            answers[index] = logged
        for index, first in repeated:
            # The same line twice in one file: where the first could not be taken in, neither can this.
            refused = isinstance(answers[first], LeadlineError)
            answers[index] = answers[first] if refused else _taken_before(rows[index])
    return [answer for answer in answers if answer is not None]


def _taken_before(row: LogRow) -> ConflictError:
    what = f"This row for {row.tag} was taken in before, to the letter."
    return ConflictError(what, remedy="Nothing to do: it is in the journal.")


def correct_placement(
    register: Register, placement_id: str, row: LogRow, *, reason: str, actor: str
) -> Logged:
    """
    Record that a placement was logged wrongly: a new entry that supersedes it and says why.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    LeadlineError
        If the new line cannot be derived.
    """
    if not reason.strip():
        what = f"The correction of {row.tag} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    with register.writing():
        book = _Book(register, [row.tag], without=placement_id)
        book.know(row)
        (answer,) = derive_placements(
            [row],
            programme=register.programme(),
            permits=book.permits,
            permit_at=book.permit_at,
            standing=book.standing,
        )
        if isinstance(answer, LeadlineError):
            raise answer
        extra = {"supersedes": placement_id, "reason": reason.strip()}
        placement = book.compared(row, answer)
        (logged,) = book.write([placement], actor=actor, kind="placement.corrected", extra=extra)
    return logged


class _Book:
    """What one transaction needs to know of the registry, read once."""

    def __init__(self, register: Register, tags: Sequence[str], *, without: str = "") -> None:
        self._register = register
        self._now = register.now()
        self._zone = ZoneInfo(register.programme().zone)
        self._versions: dict[str, tuple[Permit, ...]] = {}
        self.permits: dict[str, Permit] = {permit.number: permit for permit in register.permits()}
        self.standing: PlacementTable = register.placements()
        if without:
            self.standing = self.standing.rows(self.standing.placement_id != without)
        columns = ("tag", "placed_at_s", "lat_deg", "lon_deg", "placement_id")
        self._standing_at: dict[tuple[str, float, float, float], str] = {
            (tag, when, lat, lon): identifier
            for tag, when, lat, lon, identifier in zip(
                *(getattr(self.standing, name).tolist() for name in columns), strict=True
            )
        }
        self._types: dict[str, ModuleType] = {t.type_id: t for t in register.module_types()}
        self._modules: dict[str, Module] = register.modules_tagged(tags)
        self._near_tags: NearTags | None = None
        self._new_modules: list[Module] = []

    def permit_at(self, number: str, placed_at: datetime) -> Permit:
        """Give a permit as it was in force on the day of a placement."""
        versions = self._versions.get(number)
        if versions is None:
            versions = self._versions[number] = self._register.permit_versions(number)
        if len(versions) == 1:
            return versions[0]
        return in_force_on(versions, placed_at.astimezone(self._zone).date())

    def know(self, row: LogRow) -> None:
        """Find the module of a line, or make it where the line gives its type."""
        if row.tag in self._modules:
            return
        if not row.type_id:
            raise self._unknown(row.tag)
        if row.type_id not in self._types:
            what = f"There is no module type {row.type_id!r}."
            raise NotFoundError(what, remedy=f"Types: {', '.join(sorted(self._types))}.")
        module = Module(tag=row.tag, type_id=row.type_id)
        self._new_modules.append(module)
        self._modules[row.tag] = module

    def compared(self, row: LogRow, placement: Placement) -> Placement:
        """Add a warning where the line disagrees with what the registry knows of the module or of time."""
        warnings = list(placement.warnings)
        held = self._modules[row.tag].type_id
        if row.type_id and row.type_id != held:
            warnings.append(
                f"The log says that {row.tag} is of type {row.type_id}, but the registry holds it as {held}: "
                "check the tag. It is judged as the registry holds it."
            )
        if placement.placed_at > self._now + CLOCK_AHEAD:
            when = f"{placement.placed_at:%Y-%m-%d %H:%M} UTC"
            warnings.append(f"The time {when} lies in the future: check its digits and zone.")
        home = placement.home.position
        twin = self._standing_at.get(
            (placement.tag, placement.placed_at.timestamp(), home.lat_deg, home.lon_deg)
        )
        if twin is not None:
            warnings.append(
                f"{row.tag} stands already as {twin}, at the same place and time: if it was logged twice, "
                "take one back with: leadline withdraw."
            )
        cast_on = self._modules[row.tag].cast_on
        if cast_on is not None and placement.placed_at.date() < cast_on:
            warnings.append(
                f"{row.tag} was cast on {cast_on}, after it was placed: check the tag and the date."
            )
        return replace(placement, warnings=tuple(warnings))

    def _unknown(self, tag: str) -> NotFoundError:
        if self._near_tags is None:
            self._near_tags = NearTags(module.tag for module in self._register.modules())
        near = self._near_tags.near(tag)
        hint = f"Did you mean {', '.join(near)}? " if near else ""
        what = f"No module has the tag {tag!r}."
        return NotFoundError(
            what, remedy=f"{hint}If it is a new module, give its type, or add it with: leadline module add."
        )

    def write(
        self,
        placements: Sequence[Placement],
        *,
        actor: str,
        kind: str = "placement.logged",
        extra: Mapping[str, Any] | None = None,
    ) -> list[Logged]:
        """Judge placements among everything that stands and append them."""
        if not placements:
            return []
        used = {placement.tag for placement in placements}
        modules = [
            Draft(kind="module.added", actor=actor, body=module_body(module))
            for module in self._new_modules
            if module.tag in used
        ]
        findings = self._judged(placements)
        drafts = [
            Draft(
                kind=kind,
                actor=actor,
                body=placement_body(placement)
                | {"findings": [f.as_json() for f in found], "verdict": whole_verdict(found).word}
                | dict(extra or {}),
            )
            for placement, found in zip(placements, findings, strict=True)
        ]
        entries = self._register.append([*modules, *drafts])[len(modules) :]
        return [
            Logged(
                placement_id=entry.reference,
                placement=placement,
                findings=found,
                verdict=whole_verdict(found),
            )
            for entry, placement, found in zip(entries, placements, findings, strict=True)
        ]

    def judged(self, placements: Sequence[Placement]) -> list[Logged]:
        """Judge placements as they would be, and write nothing."""
        if not placements:
            return []
        return [
            Logged(placement_id="", placement=placement, findings=found, verdict=whole_verdict(found))
            for placement, found in zip(placements, self._judged(placements), strict=True)
        ]

    def _judged(self, placements: Sequence[Placement]) -> list[tuple[Finding, ...]]:
        found: list[tuple[Finding, ...]] = [()] * len(placements)
        columns = table_of(list(placements), self._modules, self._types)
        standing, _ = last_known(self._register, self.standing)
        every = Surroundings(standing.joined(columns))
        versions: dict[tuple[str, date], tuple[Permit, list[int]]] = {}
        for row, placement in enumerate(placements):
            permit = self.permit_at(placement.permit, placement.placed_at)
            versions.setdefault((permit.number, permit.begins_on), (permit, []))[1].append(row)
        asked = [(permit, [len(self.standing) + row for row in rows]) for permit, rows in versions.values()]
        judged = judge(gather(self._register, every, asked))
        for (_, rows), of_permit in zip(versions.values(), judged, strict=True):
            for place, row in enumerate(rows):
                found[row] = tuple(f.line(place, placements[row].tag) for f in of_permit)
        return found
