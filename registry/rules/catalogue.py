"""Every rule, in print order, as data; and how a permit's conditions are matched to them."""

from collections.abc import Iterable
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
        If the rule is unknown, a parameter is unknown or of the wrong kind, or a needed one is missing.
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
    if rule.needs_one_of and not any(name in condition.limits for name in rule.needs_one_of):
        what = f"{where} states no limit."
        raise PermitError(what, remedy=f"Give {' or '.join(rule.needs_one_of)} with a unit.")
    return condition


def conditions_of(permit: Permit) -> tuple[Condition, ...]:
    """Give every condition that a permit sets, in print order, with those that go without saying."""
    stated = {condition.rule for condition in permit.conditions}
    implied = (
        Condition(rule=rule.rule_id, cite=IMPLIED_CITE[rule.rule_id])
        for rule in CATALOGUE
        if rule.implied and rule.rule_id not in stated
    )
    order = {rule.rule_id: place for place, rule in enumerate(CATALOGUE)}
    return tuple(sorted((*permit.conditions, *implied), key=lambda condition: order[condition.rule]))


def judge(cases: Cases, conditions: Iterable[Condition] | None = None) -> tuple[Findings, ...]:
    """Ask every rule that the permit makes apply; findings come in print order."""
    chosen = conditions_of(cases.permit) if conditions is None else conditions
    return tuple(rule_of(condition.rule).check(cases, condition) for condition in chosen)
