"""Is the authorised number and mass of modules kept?"""

import numpy as np

from registry.measure.decision import at_most
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Cases, Rule

__all__ = ["CAPACITY"]


def check(cases: Cases, condition: Condition) -> Findings:
    """Judge what lay on the seabed once each module did; those beyond the authorised number fail."""
    count = len(cases)
    number, mass = condition.limits.get("greatest_count"), condition.limits.get("greatest_mass")
    by_number = np.zeros(count, dtype=np.int8)
    by_mass = np.zeros(count, dtype=np.int8)
    if number:
        by_number = at_most(cases.count_so_far, 0.0, number.value)
    if mass:
        by_mass = at_most(cases.mass_so_far_kg, 0.0, mass.value)
    # One unit a finding: kilograms where the mass decides or stands alone, else modules.
    mass_decides = bool(mass) and (not number or bool((by_mass > by_number).any()))
    measured = cases.mass_so_far_kg if mass_decides else cases.count_so_far.astype(float)
    limit_value = mass.value if mass and mass_decides else (number.value if number else np.nan)

    def message(row: int) -> str:
        parts = []
        if number:
            parts.append(f"module {cases.count_so_far[row]} of {number.value:g} authorised")
        if mass:
            so_far = cases.mass_so_far_kg[row]
            text = "an unknown mass" if np.isnan(so_far) else f"{so_far:,.0f} kg"
            parts.append(f"{text} of {mass.value:,.0f} kg authorised")
        said = ", ".join(parts)
        return said[:1].upper() + said[1:] + "."

    return Findings(
        rule=condition.rule,
        cite=condition.cite,
        unit="kg" if mass_decides else "modules",
        verdict=np.maximum(by_number, by_mass).astype(np.int8),
        measured=measured,
        limit=np.full(count, limit_value),
        u95=np.where(np.isnan(measured), np.nan, 0.0),
        message=Phrases(count, message),
    )


CAPACITY = Rule(
    rule_id="capacity",
    sentence="No more modules, and no more mass, lie under the permit than it authorises.",
    source="Permit condition (types and quantities of material, 33 USC 2104(b)(1)).",
    parameters={"greatest_count": "count", "greatest_mass": "mass"},
    needs_one_of=("greatest_count", "greatest_mass"),
    check=check,
)
