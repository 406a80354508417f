"""
Whether waves could push or tip a module that rests on the seabed by its weight: a screening.

Drag is greatest under crest and trough, inertia a quarter period later, lift together with drag. With ``s``
the sine of the phase counted from the crest, a quarter of a wave (``0 <= s <= 1``) holds the worst instant::

    horizontal  F_H(s) = D (1 - s**2) + I s     D = C_D rho A u**2 / 2,  I = C_M rho V a
    lift        F_L(s) = L (1 - s**2)           L = C_L rho B u**2 / 2

so that both factors have their least value where a quadratic in ``s`` says: no phase is stepped over.

Sources
-------
Morison, O'Brien, Johnson and Schaaf 1950, drag and inertia on a body in waves (from memory). Sliding by
Coulomb friction under the submerged weight less lift. The least values are derived here.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from registry.errors import InvalidRecordError
from registry.measure.sea_pressure import STANDARD_GRAVITY
from registry.measure.waves import NearBed

__all__ = ["Coefficients", "Forces", "Resting", "overturning_factor", "sliding_factor", "wave_forces"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """A body that rests on the seabed; every field is a number or an array, and all broadcast together."""

    #: In air and in sea water. Units: kg.
    mass_kg: ArrayLike
    submerged_mass_kg: ArrayLike
    #: What a horizontal current meets, and what is seen from above. Units: m2.
    side_area_m2: ArrayLike
    plan_area_m2: ArrayLike


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficients:
    """What an engineer says of the body in moving water; numbers or arrays. There are no defaults."""

    #: Of the side area.
    drag: ArrayLike
    #: Of the volume of the body itself: 1 + added mass.
    inertia: ArrayLike
    #: Of the area in plan.
    lift: ArrayLike
    #: Units: kg/m3.
    water_density_kgpm3: ArrayLike

    def __post_init__(self) -> None:
        """Refuse what would push against the wave."""
        for name in ("drag", "inertia", "lift"):
            _refuse_below_zero(f"{name} coefficient", getattr(self, name))
        if np.any(np.asarray(self.water_density_kgpm3, dtype=float) <= 0.0):
            raise InvalidRecordError(
                "Water without mass pushes nothing.", remedy="Give its density in kg/m3."
            )


@dataclass(frozen=True, slots=True)
class Forces:
    """Submerged weight, and the greatest drag, inertia and lift of one wave, each at its own phase."""

    #: Units: N, all four.
    weight_n: Floats
    drag_n: Floats
    inertia_n: Floats
    lift_n: Floats

    @property
    def peak_horizontal_n(self) -> Floats:
        """Greatest horizontal force over the phase: never the sum of the two peaks, unless one is nothing."""
        return _peak(self.drag_n, self.inertia_n)


def wave_forces(body: Resting, coefficients: Coefficients, motion: NearBed) -> Forces:
    """
    Compute the forces of a wave on a body near the bed.

    Definition: ``D = C_D rho A u**2 / 2``, ``I = C_M rho V a``, ``L = C_L rho B u**2 / 2`` and
    ``W = g m_submerged``, where ``rho V = m - m_submerged``.

    Parameters
    ----------
    body, coefficients, motion
        Broadcast together. NaN where unknown.

    Returns
    -------
    Forces
        Units: N.

    Raises
    ------
    InvalidRecordError
        If a body weighs more in water than in air.

    Notes
    -----
    The water moves as it would without the body, over the whole height of it: fair for what is low against
    the depth. Left out: currents, wave groups, scour, settlement, liquefaction, neighbours, breaking waves.

    Examples
    --------
    A cubic metre of concrete under a wave of 4 m and 10 s in 20 m of water:

    >>> from registry.measure.waves import near_bed
    >>> cube = Resting(mass_kg=2400.0, submerged_mass_kg=1375.0, side_area_m2=1.0, plan_area_m2=1.0)
    >>> said = Coefficients(drag=1.05, inertia=1.67, lift=0.0, water_density_kgpm3=1025.0)
    >>> forces = wave_forces(cube, said, near_bed(4.0, 10.0, 20.0))
    >>> f"{forces.weight_n:.0f} {forces.drag_n:.0f} {forces.inertia_n:.0f} {forces.peak_horizontal_n:.0f} N"
    '13484 559 1096 1097 N'
    """
    mass, submerged = (np.asarray(m, dtype=float) for m in (body.mass_kg, body.submerged_mass_kg))
    if np.any(submerged > mass):
        what = "A body weighs more in water than in air."
        raise InvalidRecordError(what, remedy="Check the mass and the submerged mass of its type.")
    density = np.asarray(coefficients.water_density_kgpm3, dtype=float)
    dynamic_pa = density * np.asarray(motion.velocity_mps) ** 2 / 2.0
    drag = np.asarray(coefficients.drag) * np.asarray(body.side_area_m2, dtype=float) * dynamic_pa
    inertia = np.asarray(coefficients.inertia) * (mass - submerged) * np.asarray(motion.acceleration_mps2)
    lift = np.asarray(coefficients.lift) * np.asarray(body.plan_area_m2, dtype=float) * dynamic_pa
    weight = STANDARD_GRAVITY * submerged
    return Forces(*(each[()] for each in np.broadcast_arrays(weight, drag, inertia, lift)))


def sliding_factor(forces: Forces, friction: ArrayLike) -> Floats:
    """
    Find the least factor of safety against sliding over the phase of the wave.

    Definition: the least over the phase of ``mu (W - F_L) / F_H``.

    Parameters
    ----------
    forces : Forces
        Of one wave.
    friction : array_like
        Coefficient of friction between the base and this seabed.

    Returns
    -------
    numpy.ndarray
        1 where it just slides. Zero where the lift takes the whole weight, infinite where nothing pushes.

    Raises
    ------
    InvalidRecordError
        If the friction is below zero.

    Notes
    -----
    Where the derivative is zero, ``L I s**2 + 2 W D s - (W - L) I = 0``; it has one root that counts.

    Examples
    --------
    >>> forces = Forces(*(np.float64(n) for n in (13484.0, 559.0, 1096.0, 0.0)))
    >>> f"{sliding_factor(forces, 0.45):.1f}"
    '5.5'
    """
    _refuse_below_zero("coefficient of friction", friction)
    w, d, i, lift = forces.weight_n, forces.drag_n, forces.inertia_n, forces.lift_n
    held = np.maximum(w - lift, 0.0)
    root = np.sqrt((w * d) ** 2 + lift * i**2 * held)
    s = np.clip(_ratio(held * i, w * d + root, nothing=1.0), 0.0, 1.0)
    push = d * (1.0 - s * s) + i * s
    factor = _ratio(np.asarray(friction, dtype=float) * (w - lift * (1.0 - s * s)), push, nothing=np.inf)
    return np.asarray(np.where(w > lift, factor, np.where(np.isnan(factor), np.nan, 0.0)))[()]


def overturning_factor(forces: Forces, force_height_m: ArrayLike, edge_m: ArrayLike) -> Floats:
    """
    Find the least factor of safety against tipping over the edge of the base, over the phase of the wave.

    Definition: the least over the phase of ``W b / (F_H z + F_L b)``.

    Parameters
    ----------
    forces : Forces
        Of one wave.
    force_height_m : array_like
        Height above the seabed at which the horizontal force acts. Units: m.
    edge_m : array_like
        Distance in plan from the middle of the base to the edge about which it would tip. Units: m.

    Returns
    -------
    numpy.ndarray
        1 where it just tips; infinite where nothing tips it.

    Raises
    ------
    InvalidRecordError
        If a lever arm is below zero.

    Notes
    -----
    Lift counts as a load and not as weight lost: of the two customs the one that gives the smaller factor
    wherever the body stands.

    Examples
    --------
    >>> forces = Forces(*(np.float64(n) for n in (13484.0, 559.0, 1096.0, 0.0)))
    >>> f"{overturning_factor(forces, force_height_m=0.5, edge_m=0.5):.2f}"
    '12.30'
    """
    _refuse_below_zero("lever arm", force_height_m)
    _refuse_below_zero("lever arm", edge_m)
    z, b = np.asarray(force_height_m, dtype=float), np.asarray(edge_m, dtype=float)
    tipping = _peak(forces.drag_n * z + forces.lift_n * b, forces.inertia_n * z)
    return _ratio(forces.weight_n * b, tipping, nothing=np.inf)[()]


def _peak(in_phase: Floats, out_of_phase: Floats) -> Floats:
    """Give the greatest value of ``a (1 - s**2) + b s`` for ``s`` from 0 to 1; neither is below zero."""
    s = np.minimum(_ratio(out_of_phase, 2.0 * in_phase, nothing=1.0), 1.0)
    return np.asarray(in_phase * (1.0 - s * s) + out_of_phase * s)[()]


def _ratio(numerator: ArrayLike, denominator: ArrayLike, *, nothing: float) -> Floats:
    """Divide; where the denominator is zero give another value, and where either is unknown NaN."""
    n, d = np.broadcast_arrays(np.asarray(numerator, dtype=float), np.asarray(denominator, dtype=float))
    out = np.where(np.isnan(n) | np.isnan(d), np.nan, nothing)
    with np.errstate(over="ignore"):  # next to nothing pushes: as good as infinite
        return np.asarray(np.divide(n, d, out=out, where=d > 0.0))


def _refuse_below_zero(name: str, value: ArrayLike) -> None:
    if np.any(np.asarray(value, dtype=float) < 0.0):
        what = f"A {name} of {float(np.nanmin(np.asarray(value, dtype=float))):g} is below zero."
        raise InvalidRecordError(what, remedy="Give zero or more, as the module's engineer says.")
