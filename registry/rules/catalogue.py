"""Every rule, in print order, as data; and how a permit's conditions are matched to them."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from difflib import get_close_matches

import numpy as np

from registry.errors import PermitError
from registry.measure.decision import Verdict
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition, Permit
from registry.records.quantity import Quantity
from registry.rules.capacity import CAPACITY
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.clearance import CLEARANCE
from registry.rules.depth_band import DEPTH_BAND
from registry.rules.duplicate import DUPLICATE
from registry.rules.inside_area import INSIDE_AREA
from registry.rules.keep_out import KEEP_OUT
from registry.rules.module_type import MODULE_TYPE
from registry.rules.offshore_distance import OFFSHORE_DISTANCE
from registry.rules.position_quality import POSITION_QUALITY
from registry.rules.relief import RELIEF
from registry.rules.season import SEASON
from registry.rules.spacing import SPACING
from registry.rules.stability import STABILITY
from registry.rules.target_offset import TARGET_OFFSET
from registry.rules.validity import VALIDITY

__all__ = ["CATALOGUE", "checked_condition", "conditions_of", "judge", "rule_of"]

CATALOGUE: tuple[Rule, ...] = (
    INSIDE_AREA,
    KEEP_OUT,
    OFFSHORE_DISTANCE,
    SPACING,
    TARGET_OFFSET,
    DEPTH_BAND,
    CLEARANCE,
    RELIEF,
    STABILITY,
    CAPACITY,
    VALIDITY,
    SEASON,
    MODULE_TYPE,
    DUPLICATE,
    POSITION_QUALITY,
)

#: Dimensions whose values have a unit.
UNITED = frozenset(("length", "mass", "time", "density"))

#: Where a rule that is always asked gets its authority when the permit states no condition for it.
IMPLIED_CITE = {
    "inside-area": "Permit areas",
    "keep-out": "Keep-outs of the registry",
    "validity": "Permit dates",
    "duplicate": "Common practice, no source",
}


def rule_of(rule_id: str) -> Rule:
    """
    Give a rule by its identifier.

    Raises
    ------
    PermitError
        If there is no such rule; the message names the nearest ones.
    """
    for rule in CATALOGUE:
        if rule.rule_id == rule_id:
            return rule
    known = [rule.rule_id for rule in CATALOGUE]
    near = get_close_matches(rule_id, known, n=1)
    what = f"There is no rule {rule_id!r}."
    hint = f"Did you mean {near[0]!r}? " if near else ""
    raise PermitError(what, remedy=f"{hint}Known rules: {', '.join(known)}.")


def checked_condition(condition: Condition) -> Condition:
    """
    Give the condition back if its rule exists and can read what it states.

    Raises
    ------
    PermitError
        If the rule is unknown, a parameter is unknown, of the wrong kind or below zero, a needed one is
        missing, or no module could ever conform.
    """
    rule = rule_of(condition.rule)
    where = f"Condition {condition.rule!r} ({condition.cite})"
    for name, quantity in condition.limits.items():
        _refuse_unreadable(rule, where, name, quantity)
    least, greatest = condition.limits.get("least"), condition.limits.get("greatest")
    if least is not None and greatest is not None and greatest.value < least.value:
        what = f"{where} asks for at least {least.written} and at most {greatest.written}."
        raise PermitError(what, remedy="Check the two limits and their units: nothing can keep both.")
    _refuse_incomplete(rule, where, condition)
    if rule.examine is not None:
        try:
            rule.examine(condition)
        except PermitError as error:
            raise PermitError(f"{where}: {error.what}", remedy=error.remedy) from error
    return condition


def _refuse_unreadable(rule: Rule, where: str, name: str, quantity: Quantity) -> None:
    """Refuse a parameter that its rule cannot read."""
    expected = rule.parameters.get(name)
    if expected is None:
        known = ", ".join(rule.parameters) or "none"
        what = f"{where} states {name!r}, which this rule does not read."
        raise PermitError(what, remedy=f"It reads: {known}.")
    if quantity.dimension != expected:
        what = f"{where} states {name} = {quantity.written!r}, a {quantity.dimension}."
        raise PermitError(what, remedy=f"Give a {expected}.")
    if quantity.value < 0:
        what = f"{where} states {name} = {quantity.written!r}, which is below zero."
        raise PermitError(what, remedy="Give zero or more: a limit that is turned round allows too much.")
    words = rule.choices.get(name)
    if words is not None and quantity.written not in words:
        what = f"{where} states {name} = {quantity.written!r}."
        raise PermitError(what, remedy=f"Give one of {', '.join(words)}.")


def _refuse_incomplete(rule: Rule, where: str, condition: Condition) -> None:
    """Refuse a condition that states no limit, or not all that its limit is judged with."""
    if rule.needs_one_of and not any(name in condition.limits for name in rule.needs_one_of):
        united = any(rule.parameters[name] in UNITED for name in rule.needs_one_of)
        remedy = f"Give {' or '.join(rule.needs_one_of)}{' with a unit' if united else ''}."
        raise PermitError(f"{where} states no limit.", remedy=remedy)
    for name, needed in rule.needs_with.items():
        missing = [need for need in needed if need not in condition.limits]
        if name in condition.limits and missing:
            what = f"{where} states {name} without {', '.join(missing)}."
            raise PermitError(what, remedy="Nothing of it is ever assumed: ask who set the limit.")


def conditions_of(permit: Permit) -> tuple[Condition, ...]:
    """
    Give every condition that a permit sets, in print order, with those that go without saying.

    A condition whose limits are judged each by itself (a number and a mass, sliding and overturning) is given
    as one for each limit, with what it needs of all else that is stated.
    """
    stated = {condition.rule for condition in permit.conditions}
    implied = (
        Condition(rule=rule.rule_id, cite=IMPLIED_CITE[rule.rule_id])
        for rule in CATALOGUE
        if rule.implied and rule.rule_id not in stated
    )
    order = {rule.rule_id: place for place, rule in enumerate(CATALOGUE)}
    stated_apart = (each for condition in permit.conditions for each in _apart(condition))
    return tuple(sorted((*stated_apart, *implied), key=lambda condition: order[condition.rule]))


def _apart(condition: Condition) -> Iterator[Condition]:
    """Give each limit that is judged by itself with all but what only the others need."""
    rule = rule_of(condition.rule)
    stated = [name for name in rule.apart if name in condition.limits]
    if len(stated) < 2:
        yield condition
        return
    for name in stated:
        own = {name, *rule.needs_with.get(name, ())}
        others = {each for other in stated for each in (other, *rule.needs_with.get(other, ()))}
        limits = {each: limit for each, limit in condition.limits.items() if each not in others - own}
        yield replace(condition, limits=limits)


def judge(
    cases: Cases,
    conditions: Sequence[tuple[Condition, ...]] | None = None,
    *,
    told: Callable[[float], None] = lambda _share: None,
) -> list[tuple[Findings, ...]]:
    """
    Ask every rule that the permits make apply.

    Parameters
    ----------
    cases : Cases
        The placements of one permit or of many.
    conditions : sequence of tuple of Condition, optional
        What each permit of the cases asks; all that it sets if left out.
    told : callable
        Told after each question what share of all of them it was.

    Returns
    -------
    list of tuple of Findings
        For each permit of the cases, in order: one for each condition, in print order, with a row for each
        of its placements.

    Notes
    -----
    Permits that ask alike are asked together, so that thousands of small permits cost no more than one large
    one. What a rule says of a placement does not depend on which others are judged with it.
    """
    chosen = [conditions_of(permit) for permit in cases.permits] if conditions is None else conditions
    begin = np.searchsorted(cases.permit_row, np.arange(len(cases.permits) + 1))
    found: list[list[Findings | None]] = [[None] * len(asked) for asked in chosen]
    questions = _questions(chosen)
    for members in questions:
        which = [index for index, _ in members]
        asking = cases
        if len(members) < len(cases.permits):
            asking = cases.rows(np.concatenate([np.arange(begin[k], begin[k + 1]) for k in which]))
        condition_of = np.zeros(len(cases.permits), dtype=np.intp)
        condition_of[which] = np.arange(len(which))
        conditions_here = tuple(chosen[index][place] for index, place in members)
        asked = Asked(conditions=conditions_here, condition_row=condition_of[asking.permit_row])
        findings = _where_asked(asking, asked, rule_of(asked.rule).check(asking, asked))
        first = 0
        for (index, place), condition in zip(members, conditions_here, strict=True):
            count = int(begin[index + 1] - begin[index])
            found[index][place] = findings.part(first, first + count, cite=condition.cite)
            first += count
        told(1.0 / len(questions))
    return [tuple(each for each in of if each is not None) for of in found]


def _questions(conditions: Sequence[tuple[Condition, ...]]) -> list[list[tuple[int, int]]]:
    """Put together what may be asked at once: for each question its permits and the places of conditions."""
    alike: dict[tuple[object, ...], list[tuple[int, int]]] = {}
    for index, of_permit in enumerate(conditions):
        seen: Counter[tuple[object, ...]] = Counter()
        for place, condition in enumerate(of_permit):
            words = (
                (name, q.written if q.dimension == "text" else "") for name, q in condition.limits.items()
            )
            key = (condition.rule, *sorted(words))
            alike.setdefault((*key, seen[key]), []).append((index, place))
            seen[key] += 1
    return list(alike.values())


def _where_asked(cases: Cases, asked: Asked, findings: Findings) -> Findings:
    """Leave a condition that is for some areas only unasked in every other."""
    if not any(condition.areas for condition in asked.conditions):
        return findings
    applies = np.ones(len(cases), dtype=bool)
    for number, condition in enumerate(asked.conditions):
        if condition.areas:
            rows = np.flatnonzero(asked.condition_row == number)
            for row in rows[:1].tolist():
                holds = [area.area_id in condition.areas for area in cases.permit_of(row).areas]
                applies[rows] = np.array(holds)[cases.area_row[rows]]

    def message(row: int) -> str:
        if applies[row]:
            return findings.message[row]
        area = cases.permit_of(row).areas[cases.area_row[row]].area_id
        return f"Not asked in {area}, only in {', '.join(asked.of(row).areas)}."

    return replace(
        findings,
        verdict=np.where(applies, findings.verdict, Verdict.NOT_APPLICABLE).astype(np.int8),
        measured=np.where(applies, findings.measured, np.nan),
        limit=np.where(applies, findings.limit, np.nan),
        u95=np.where(applies, findings.u95, np.nan),
        message=Phrases(len(cases), message),
    )
