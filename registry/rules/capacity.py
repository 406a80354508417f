"""Is the authorised number and mass of modules kept?"""

import numpy as np

from registry.measure.decision import at_most
from registry.records.finding import Findings, Phrases
from registry.rules.cases import Asked, Cases, Rule

__all__ = ["CAPACITY"]


def check(cases: Cases, asked: Asked) -> Findings:
    """
    Judge what lay on the seabed once each module did; those beyond what is authorised fail.

    The condition states either a number or a mass: they share no unit, so each is a finding of its own.
    """
    (name,) = asked.names
    by_mass = name == "greatest_mass"
    authorised = asked.value(name)
    assert authorised is not None
    so_far = cases.mass_so_far_kg if by_mass else cases.count_so_far.astype(float)
    for number, condition in enumerate(asked.conditions):
        if condition.areas:
            own = asked.condition_row == number
            so_far = np.where(own, cases.so_far_in[condition.areas][by_mass], so_far)
    nothing = np.where(np.isnan(so_far), np.nan, 0.0)

    def message(row: int) -> str:
        areas = asked.of(row).areas
        there = f" in {' and '.join(areas)}" if areas else ""
        if not by_mass:
            return f"Module {so_far[row]:.0f} of {authorised[row]:.0f} authorised{there}."
        found = "An unknown mass" if np.isnan(so_far[row]) else f"{so_far[row]:,.0f} kg"
        return f"{found} of {authorised[row]:,.0f} kg authorised{there}."

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="kg" if by_mass else "modules",
        verdict=at_most(so_far, nothing, authorised),
        measured=so_far,
        limit=authorised,
        u95=nothing,
        message=Phrases(len(cases), message),
    )


CAPACITY = Rule(
    rule_id="capacity",
    sentence="No more modules, and no more mass, lie under the permit than it authorises.",
    source="Permit condition: types and quantities of material.",
    parameters={"greatest_count": "count", "greatest_mass": "mass"},
    needs_one_of=("greatest_count", "greatest_mass"),
    apart=("greatest_count", "greatest_mass"),
    check=check,
)
