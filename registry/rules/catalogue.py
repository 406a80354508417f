"""Every rule, in print order, as data; and how a permit's conditions are matched to them."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from difflib import get_close_matches

from registry.errors import PermitError
from registry.records.finding import Findings
from registry.records.permit import Condition, Permit
from registry.rules.capacity import CAPACITY
from registry.rules.cases import Cases, Rule
from registry.rules.clearance import CLEARANCE
from registry.rules.depth_band import DEPTH_BAND
from registry.rules.duplicate import DUPLICATE
from registry.rules.inside_area import INSIDE_AREA
from registry.rules.keep_out import KEEP_OUT
from registry.rules.module_type import MODULE_TYPE
from registry.rules.position_quality import POSITION_QUALITY
from registry.rules.relief import RELIEF
from registry.rules.spacing import SPACING
from registry.rules.validity import VALIDITY

__all__ = ["CATALOGUE", "checked_condition", "conditions_of", "judge", "rule_of"]

CATALOGUE: tuple[Rule, ...] = (
    INSIDE_AREA,
    KEEP_OUT,
    SPACING,
    DEPTH_BAND,
    CLEARANCE,
    RELIEF,
    CAPACITY,
    VALIDITY,
    MODULE_TYPE,
    DUPLICATE,
    POSITION_QUALITY,
)

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
    least, greatest = condition.limits.get("least"), condition.limits.get("greatest")
    if least is not None and greatest is not None and greatest.value < least.value:
        what = f"{where} asks for at least {least.written} and at most {greatest.written}."
        raise PermitError(what, remedy="Check the two limits and their units: nothing can keep both.")
    if rule.needs_one_of and not any(name in condition.limits for name in rule.needs_one_of):
        what = f"{where} states no limit."
        raise PermitError(what, remedy=f"Give {' or '.join(rule.needs_one_of)} with a unit.")
    return condition


def conditions_of(permit: Permit) -> tuple[Condition, ...]:
    """
    Give every condition that a permit sets, in print order, with those that go without saying.

    A condition whose limits have no unit in common (a number and a mass) is given as one for each limit.
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
    if not rule_of(condition.rule).apart:
        yield condition
        return
    for name, limit in condition.limits.items():
        yield replace(condition, limits={name: limit})


def judge(cases: Cases, conditions: Iterable[Condition] | None = None) -> tuple[Findings, ...]:
    """Ask every rule that the permit makes apply; findings come in print order."""
    chosen = conditions_of(cases.permit) if conditions is None else conditions
    return tuple(rule_of(condition.rule).check(cases, condition) for condition in chosen)
