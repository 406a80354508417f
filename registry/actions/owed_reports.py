"""Reports after placing: the as-built report of each day, and the burial-at-sea report of each memorial."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from registry.actions.told_duties import PlacedDay, Told, placed_words
from registry.records.duty import Duty, DutyKind, DutyState
from registry.records.permit import Permit, in_force_on

__all__ = ["Remembered", "owed_as_built", "owed_burials"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remembered:
    """A module with a memorial and where the registry has it placed."""

    tag: str
    #: Permit and day of its first standing placement.
    permit: str
    day: date
    #: Its standing placements, oldest first; more than one where nobody knows yet which is true.
    placements: tuple[str, ...]


def owed_as_built(told: Told, versions: Sequence[Permit], placed: Sequence[PlacedDay]) -> Iterator[Duty]:
    """Give one report for each day of placing, as the version of the permit in force on that day asks."""
    for each in placed:
        version = in_force_on(versions, each.day)
        after = version.reporting.report_days_after
        if after is None:
            continue
        owed = Duty(
            duty_id=f"asbuilt-{version.number}-{each.day}",
            kind=DutyKind.AS_BUILT,
            permit=version.number,
            what=f"As-built report within {after} days of {each.day}",
            due_on=each.day + timedelta(after),
            state=DutyState.OPEN,
            cite=version.reporting.report_cite,
            evidence=(f"It goes to {version.authority}.", *placed_words([each])),
            from_day=each.day,
            to_day=each.day,
            placements=each.placements,
        )
        yield told.standing(owed)


def owed_burials(told: Told, permit: str, remembered: Sequence[Remembered]) -> Iterator[Duty]:
    """Give one report for each memorial placed, where the programme declares that it applies."""
    if not remembered:
        return
    declared = told.declaration(permit)
    if declared is None or declared.applies != "yes" or declared.days is None:
        yield _undecided(told, permit, len(remembered))
        return
    for each in remembered:
        evidence = [f"Placed on {each.day}.", f"The report applies (told by {declared.told})."]
        if len(each.placements) > 1:
            evidence.append(
                f"{each.tag} is recorded in {len(each.placements)} places: find out which is true."
            )
        owed = Duty(
            duty_id=f"burial-{each.tag}",
            kind=DutyKind.BURIAL,
            permit=permit,
            what=f"Burial-at-sea report for {each.tag} within {declared.days} days of {each.day}",
            due_on=each.day + timedelta(declared.days),
            state=DutyState.OPEN,
            cite=declared.cite,
            evidence=tuple(evidence),
            from_day=each.day,
            to_day=each.day,
            placements=each.placements,
        )
        yield told.standing(owed)


def _undecided(told: Told, permit: str, count: int) -> Duty:
    """Say that no report applies, or that the programme has not said whether one does."""
    declared = told.declaration(permit)
    settled = declared is not None and declared.applies == "no"
    if settled and declared is not None:
        said = f"The programme declares that it does not apply (told by {declared.told})."
    else:
        said = (
            "The programme has not declared whether it applies: leadline duties declare --burial-report ..."
        )
    return Duty(
        duty_id=f"burial-reports-{permit}",
        kind=DutyKind.BURIAL,
        permit=permit,
        what=f"Burial-at-sea reports for {count} memorial{'' if count == 1 else 's'} placed",
        due_on=None,
        state=DutyState.NOT_APPLICABLE if settled else DutyState.UNKNOWN,
        cite=declared.cite if declared is not None else "",
        evidence=(said,),
        undeclared=not settled,
    )
