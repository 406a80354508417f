"""Gather what lies around an intended place: as much of the sea as its findings depend on, and no more."""

from datetime import UTC, datetime
from functools import cached_property

import numpy as np

from registry.actions.gather_cases import gather
from registry.actions.last_known import found_moved, with_moved
from registry.measure.geodesic import inverse
from registry.ports import Register
from registry.records.permit import Condition, Permit
from registry.records.placement import PlacementTable, in_order_of_time
from registry.rules.cases import Cases
from registry.rules.spacing import sight_m

__all__ = ["NEIGHBOURS_TOLD", "REACH_M", "Around"]

#: How far neighbours are looked for, and how many are told. Units: m.
REACH_M = 2_000.0
NEIGHBOURS_TOLD = 5
#: They are sought so near at first, and so many times farther as long as they are too few. Units: m.
_FIRST_M, _WIDER = 30.0, 3.0
#: Fixes less sure than this are few and sought by themselves, so that sure ones need not be sought far away.
_SURE_M = 10.0
#: What floating point may lose of a reach. Units: m.
_MARGIN_M = 0.1


class Around:
    """
    The surroundings of one intended placement.

    Parameters
    ----------
    register : Register
        Read from.
    permit : Permit
        By which it is judged.
    new : PlacementTable
        The placement, one row.
    planned : bool
        Whether its tag is that of a module, which may stand somewhere already.
    """

    def __init__(self, register: Register, permit: Permit, new: PlacementTable, *, planned: bool) -> None:
        self._register, self._permit, self._new = register, permit, new
        self._planned = planned
        self._lon_deg, self._lat_deg = float(new.lon_deg[0]), float(new.lat_deg[0])

    def cases(self, *, whole: bool = False) -> Cases:
        """
        Give the case, last of all that lies around.

        Parameters
        ----------
        whole : bool
            With all within sight and all of its permit, as a search for another place needs; else only what
            has a say in its findings, and the nearest neighbours.
        """
        around = self._whole if whole or self._asks_of_far() else self._near()
        return gather(
            self._register,
            around.joined(self._new),
            [(self._permit, [len(around)])],
            so_far=self._so_far() if self._limits("capacity") else None,
        )

    def depths_m(self) -> list[float]:
        """Give the depths that are known within sight of the place."""
        table = self._whole.rows(np.isfinite(self._whole.depth_m))
        near: list[float] = table.depth_m[self._distance_m(table) <= self._sight_m].tolist()
        return near

    @cached_property
    def _moved(self) -> PlacementTable:
        return found_moved(self._register)

    @cached_property
    def _sight_m(self) -> float:
        """How far neighbours are looked for: as far as the rule of spacing names them. Units: m."""
        least = (each.limits["least"].value for each in self._limits("spacing") if "least" in each.limits)
        return max(REACH_M, float(sight_m(max(least, default=0.0))))

    @cached_property
    def _whole(self) -> PlacementTable:
        seen = self._register.placements_near(
            lon_deg=self._lon_deg,
            lat_deg=self._lat_deg,
            reach_m=self._sight_m,
            permit=self._permit.number,
        )
        return with_moved(in_order_of_time((seen, self._namesakes())), self._moved)

    def _near(self) -> PlacementTable:
        """Give all that may be too near, and so many neighbours as are told, where there are as many."""
        lon_deg, lat_deg, sight_m = self._lon_deg, self._lat_deg, self._sight_m
        reach_m, near = min(max(self._unsettled_m(), _FIRST_M), sight_m) / _WIDER, PlacementTable()
        while reach_m < sight_m and self._resting_within(near, reach_m) < NEIGHBOURS_TOLD:
            reach_m = min(_WIDER * reach_m, sight_m)
            near = self._register.placements_near(lon_deg=lon_deg, lat_deg=lat_deg, reach_m=reach_m)
        unsure = self._register.placements_near(
            lon_deg=lon_deg,
            lat_deg=lat_deg,
            reach_m=sight_m,
            permit=self._permit.number,
            less_sure_than_m=_SURE_M,
        )
        return with_moved(in_order_of_time((near, unsure, self._namesakes())), self._moved)

    def _resting_within(self, near: PlacementTable, reach_m: float) -> int:
        """Count the neighbours of another tag that lie where they were placed, within reach; few are none."""
        if len(near) < NEIGHBOURS_TOLD:
            return 0
        stays = near.tag != self._new.tag[0]
        if len(self._moved):
            stays &= ~np.isin(near.tag, self._moved.tag)
        return int(np.count_nonzero(stays & (self._distance_m(near) <= reach_m)))

    def _distance_m(self, table: PlacementTable) -> np.ndarray:
        return inverse(self._lon_deg, self._lat_deg, table.lon_deg, table.lat_deg)[0]

    def _namesakes(self) -> PlacementTable:
        """Give the placements of the same tag, wherever they are."""
        if not self._planned:
            return PlacementTable()
        return self._register.placements_tagged([str(self._new.tag[0])])

    def _unsettled_m(self) -> float:
        """Tell how far away a neighbour of a sure fix may be and still too near for all that is known."""
        limits = [limit.value for each in self._limits("spacing") for limit in each.limits.values()]
        radius_m = max((each.base_radius_m for each in self._register.module_types()), default=0.0)
        doubt_m = float(np.hypot(np.nan_to_num(self._new.r95_m[0]), _SURE_M))
        return max(limits, default=0.0) + 2.0 * radius_m + doubt_m + _MARGIN_M

    def _asks_of_far(self) -> bool:
        """Tell whether a condition depends on what lies out of sight, or on where all of the permit lie."""
        return (
            self._unsettled_m() >= self._sight_m
            or any("greatest" in each.limits for each in self._limits("spacing"))
            or any(each.areas for each in self._limits("capacity"))
        )

    def _so_far(self) -> tuple[np.ndarray, np.ndarray]:
        until = datetime.fromtimestamp(float(self._new.placed_at_s[0]), UTC)
        count, mass_kg = self._register.placed_under(self._permit.number, until=until)
        return np.array([count + 1]), np.array([mass_kg]) + self._new.mass_kg

    def _limits(self, rule: str) -> list[Condition]:
        return [condition for condition in self._permit.conditions if condition.rule == rule]
