"""What an amendment changed: two versions of a permit compared, in words."""

from collections.abc import Iterator, Sequence
from dataclasses import fields
from datetime import date
from itertools import pairwise

from registry.records.permit import Area, Condition, Permit, Reporting

__all__ = ["condition_words", "holder_changes", "permit_changes"]

#: What is called so by whoever reads the paper.
_OF_PERMIT = {
    "authority": "authority",
    "holder": "holder",
    "valid_from": "valid from",
    "valid_to": "valid to",
    "chart_datum": "chart datum",
}
_OF_AREA = {"edges": "edges", "frame": "frame", "epoch": "epoch"}


def permit_changes(before: Permit, after: Permit) -> tuple[str, ...]:
    """
    Tell what differs between two versions of one permit.

    Parameters
    ----------
    before, after : Permit
        The version that was in force, and the one that took its place.

    Returns
    -------
    tuple of str
        One phrase for each difference, in the order of the paper; empty where both say the same. When the
        versions begin and why are not differences.
    """
    return (
        *_fields(_OF_PERMIT, before, after),
        *_areas(before.areas, after.areas),
        *_conditions(before.conditions, after.conditions),
        *_fields(_reported(), before.reporting, after.reporting),
    )


def holder_changes(versions: Sequence[Permit]) -> tuple[tuple[date, str], ...]:
    """Give from which day on a permit has had another holder, and whom; versions oldest in force first."""
    return tuple(
        (after.begins_on, after.holder)
        for before, after in pairwise(versions)
        if after.holder != before.holder
    )


def condition_words(condition: Condition) -> str:
    """
    Say a condition in one line: its limits as written, the areas it is limited to, its source.

    Examples
    --------
    >>> from registry.records.quantity import Quantity
    >>> deep = Quantity(value=15.24, dimension="length", written="50 ft")
    >>> condition_words(Condition(rule="clearance", cite="SC 2", limits={"least": deep}, areas=("north",)))
    'least 50 ft in north [SC 2]'
    """
    # What is asked goes before what it is judged with.
    asked = {"least": 0, "greatest": 1}
    ordered = sorted(condition.limits, key=lambda name: asked.get(name.split("_")[0], 2))
    limits = ", ".join(f"{name.replace('_', ' ')} {condition.limits[name].written}" for name in ordered)
    where = f" in {', '.join(condition.areas)}" if condition.areas else ""
    return f"{limits or 'as it stands'}{where} [{condition.cite}]"


def _reported() -> dict[str, str]:
    return {field.name: f"reporting, {field.name.replace('_', ' ')}" for field in fields(Reporting)}


def _fields(names: dict[str, str], before: object, after: object, head: str = "") -> Iterator[str]:
    for name, called in names.items():
        was, now = getattr(before, name), getattr(after, name)
        if was != now:
            yield f"{head}{called}: {_said(was)} -> {_said(now)}"


def _said(value: object) -> str:
    return "not stated" if value is None or value == "" else str(value)


def _areas(before: Sequence[Area], after: Sequence[Area]) -> Iterator[str]:
    was, now = ({area.area_id: area for area in areas} for areas in (before, after))
    for area_id, area in now.items():
        if area_id not in was:
            yield f"area {area_id}: added"
            continue
        head = f"area {area_id}, "
        if not area.shape.equals(was[area_id].shape):
            yield f"{head}outline: drawn anew"
        yield from _fields(_OF_AREA, was[area_id], area, head)
    yield from (f"area {area_id}: taken away" for area_id in was if area_id not in now)


def _conditions(before: Sequence[Condition], after: Sequence[Condition]) -> Iterator[str]:
    """Pair what is left of each rule once the conditions that did not change are set aside."""
    gone = [condition for condition in before if condition not in after]
    for condition in after:
        if condition in before:
            continue
        old = _counterpart(condition, gone)
        if old is None:
            yield f"{condition.rule}: added, {condition_words(condition)}"
        else:
            gone.remove(old)
            yield f"{condition.rule}: {condition_words(old)} -> {condition_words(condition)}"
    yield from (f"{condition.rule}: taken away, {condition_words(condition)}" for condition in gone)


def _counterpart(condition: Condition, gone: Sequence[Condition]) -> Condition | None:
    """Find what a condition took the place of: of its rule, and rather of its clause and its areas."""
    same_rule = [old for old in gone if old.rule == condition.rule]
    return max(
        same_rule,
        key=lambda old: (old.cite == condition.cite, old.areas == condition.areas),
        default=None,
    )
