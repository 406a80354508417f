"""Would the design wave push or tip the module? A screening, which is no certificate of an engineer."""

import numpy as np
from numpy.typing import NDArray

from registry.errors import PermitError
from registry.measure.decision import Verdict, at_least, u95_toward
from registry.measure.stability import (
    Coefficients,
    Resting,
    overturning_factor,
    sliding_factor,
    wave_forces,
)
from registry.measure.waves import BREAKING_SHARE, breaks, near_bed
from registry.records.finding import Findings, Phrases
from registry.records.permit import Condition
from registry.rules.cases import Asked, Cases, Rule
from registry.rules.wording import factor_text, length_text, limit_text

__all__ = ["STABILITY"]

SLIDING, OVERTURNING = "least_sliding_factor", "least_overturning_factor"
#: What every factor is worked out from, besides depth, dimensions and mass: nothing of it has a default.
WAVE = ("wave_height", "wave_period", "water_density")
PUSH = ("drag_coefficient", "inertia_coefficient", "lift_coefficient")
#: The wave itself, and the water, are something.
ABOVE_ZERO = (*WAVE, "edge_distance")
NO_CERTIFICATE = "a screening by linear wave theory, no certificate of an engineer"
#: A factor beyond this is as good as infinite; so far its doubt is reckoned.
ENDLESS = 1e6

Floats = NDArray[np.float64]


def check(cases: Cases, asked: Asked) -> Findings:
    """
    Judge one factor of safety under the design wave against the least that is asked.

    The factor is worked out at the depth and at both ends of its uncertainty. Where the wave would break at
    the shallow end, linear theory says nothing, and nothing is concluded.
    """
    (name,) = {SLIDING, OVERTURNING} & asked.names
    p = cases.placements
    least, height_m = _stated(asked, name), _stated(asked, "wave_height")
    level = asked.value("water_level")
    water_m = p.depth_m + (0.0 if level is None else level)
    body = _bodies(cases)
    shallow_m = water_m - p.depth_u95_m
    broken = breaks(height_m, np.where(np.isnan(shallow_m), water_m, shallow_m))
    at_depth = [
        _factor(asked, name, body, np.where(broken, np.nan, depth_m))
        for depth_m in (shallow_m, water_m, water_m + p.depth_u95_m)
    ]
    factor = at_depth[1]
    ends = np.minimum(np.stack(at_depth), ENDLESS)
    u95 = u95_toward(least, ends.min(axis=0), ends[1], ends.max(axis=0))
    verdict = at_least(factor, u95, least)
    elsewhere = _elsewhere(cases, asked)
    verdict[elsewhere] = Verdict.NOT_APPLICABLE
    factor, limit, u95 = (np.where(elsewhere, np.nan, each) for each in (factor, least, u95))

    def message(row: int) -> str:
        limits = asked.of(row).limits
        if elsewhere[row]:
            return f"Not asked of type {p.module_type[row]}, only of {', '.join(_types(asked))}."
        against = "sliding" if name == SLIDING else "overturning"
        wave = f"a wave of {limit_text(limits['wave_height'])} and {limits['wave_period'].written}"
        depth = f"a depth of {length_text(water_m[row], p.depth_u95_m[row])}"
        said = f"at least {limits[name].written} is asked: {NO_CERTIFICATE}."
        if broken[row]:
            over = f"higher than {BREAKING_SHARE:.0%} of the depth"
            return f"At {depth} {wave} may break, {over}, so that no factor can be told; {said}"
        if np.isnan(factor[row]):
            return f"{_unknown(cases, row)} is not known, nor the factor of safety against {against}; {said}"
        found = f"Factor of safety against {against} {factor_text(factor[row], u95[row])}"
        return f"{found}, under {wave} at {depth}; {said}"

    return Findings(
        rule=asked.rule,
        cite=asked.cite,
        unit="1",
        verdict=verdict,
        measured=factor,
        limit=limit,
        u95=u95,
        message=Phrases(len(cases), message),
    )


def examine(condition: Condition) -> None:
    """Refuse a wave that is none, water without mass, and an edge in the middle of the base."""
    for name in ABOVE_ZERO:
        stated = condition.limits.get(name)
        if stated is not None and not stated.value > 0:
            what = f"{name} = {stated.written!r} is not above zero."
            raise PermitError(what, remedy="Give what the permit or the engineer of the module says.")


def _stated(asked: Asked, name: str) -> Floats:
    value = asked.value(name)
    assert value is not None, name
    return value


def _bodies(cases: Cases) -> Resting:
    """Give each module as it rests; NaN where its type or its mass is not known."""
    types = list(cases.types.values())
    place = {each.type_id: row for row, each in enumerate(types)}
    row = np.array(
        [place.get(word, len(types)) for word in cases.placements.module_type.tolist()], dtype=np.intp
    )

    def of_type(name: str) -> Floats:
        return np.array([*(getattr(each, name) for each in types), np.nan], dtype=float)[row]

    mass_kg = cases.placements.mass_kg
    # Cast in one mould, modules displace the same water, whatever each was found to weigh.
    displaced_kg = of_type("mass_kg") - of_type("submerged_mass_kg")
    return Resting(
        mass_kg=np.maximum(mass_kg, displaced_kg),
        submerged_mass_kg=np.maximum(mass_kg - displaced_kg, 0.0),
        side_area_m2=of_type("side_area_m2"),
        plan_area_m2=of_type("plan_area_m2"),
    )


def _factor(asked: Asked, name: str, body: Resting, water_m: Floats) -> Floats:
    """Give the factor of safety of each module in water of some depth."""
    motion = near_bed(_stated(asked, "wave_height"), _stated(asked, "wave_period"), water_m)
    said = Coefficients(
        drag=_stated(asked, "drag_coefficient"),
        inertia=_stated(asked, "inertia_coefficient"),
        lift=_stated(asked, "lift_coefficient"),
        water_density_kgpm3=_stated(asked, "water_density"),
    )
    forces = wave_forces(body, said, motion)
    if name == SLIDING:
        return sliding_factor(forces, _stated(asked, "friction_coefficient"))
    return overturning_factor(forces, _stated(asked, "force_height"), _stated(asked, "edge_distance"))


def _types(asked: Asked) -> tuple[str, ...]:
    return tuple(word.strip() for word in (asked.text("types") or "").split(",") if word.strip())


def _elsewhere(cases: Cases, asked: Asked) -> NDArray[np.bool_]:
    """Tell which modules are of a type that the condition does not name; an unknown one may be."""
    meant = frozenset((*_types(asked), ""))
    types = cases.placements.module_type.tolist()
    if len(meant) == 1:
        return np.zeros(len(types), dtype=bool)
    return ~np.fromiter(map(meant.__contains__, types), bool, len(types))


def _unknown(cases: Cases, row: int) -> str:
    p = cases.placements
    if np.isnan(p.depth_m[row]):
        return "The depth"
    return "The mass" if p.module_type[row] in cases.types else "The type of this module"


STABILITY = Rule(
    rule_id="stability",
    sentence="The design wave would neither push the module along nor tip it, by a screening.",
    source="Linear wave theory (EM 1110-2-1100, Part II); drag, lift and inertia by Morison et al. 1950. "
    "A screening: no currents, scour, settlement or breaking waves, and no certificate of an engineer.",
    parameters={
        SLIDING: "ratio",
        OVERTURNING: "ratio",
        "wave_height": "length",
        "wave_period": "time",
        "water_density": "density",
        "water_level": "length",
        **dict.fromkeys((*PUSH, "friction_coefficient"), "ratio"),
        "force_height": "length",
        "edge_distance": "length",
        "types": "text",
    },
    needs_one_of=(SLIDING, OVERTURNING),
    needs_with={
        SLIDING: (*WAVE, *PUSH, "friction_coefficient"),
        OVERTURNING: (*WAVE, *PUSH, "force_height", "edge_distance"),
    },
    apart=(SLIDING, OVERTURNING),
    examine=examine,
    check=check,
)
