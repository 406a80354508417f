"""Gather all that the rules may look at; reading ends here."""

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.ports import Register
from registry.records.module import Module, ModuleType
from registry.records.permit import KeepOut, Permit
from registry.records.placement import Placement, PlacementTable
from registry.rules.cases import Cases

__all__ = ["cases_of", "gather", "local_days", "table_of"]


def table_of(
    placements: list[Placement],
    modules: dict[str, Module],
    types: dict[str, ModuleType],
    *,
    identifiers: list[str] | None = None,
) -> PlacementTable:
    """Turn placements into columns, joined with what their modules are; an unknown module gives NaN."""

    def known(placement: Placement) -> tuple[Module | None, ModuleType | None]:
        module = modules.get(placement.tag)
        return module, types.get(module.type_id) if module else None

    joined = [known(placement) for placement in placements]

    def numbers(values: list[float | None]) -> NDArray[np.float64]:
        return np.array([np.nan if value is None else value for value in values], dtype=float)

    def words(values: list[str]) -> NDArray[np.object_]:
        column = np.empty(len(values), dtype=object)
        column[:] = values
        return column

    positions = [placement.home.position for placement in placements]
    return PlacementTable(
        placement_id=words(identifiers or [""] * len(placements)),
        tag=words([p.tag for p in placements]),
        permit=words([p.permit for p in placements]),
        module_type=words([m.type_id if m else "" for m, _ in joined]),
        memorial=words([m.memorial.name if m and m.memorial else "" for m, _ in joined]),
        lon_deg=numbers([p.lon_deg for p in positions]),
        lat_deg=numbers([p.lat_deg for p in positions]),
        r95_m=numbers([p.r95_m for p in positions]),
        depth_m=numbers([p.charted_depth_m for p in placements]),
        depth_u95_m=numbers([p.depth_u95_m for p in placements]),
        placed_at_s=numbers([p.placed_at.timestamp() for p in placements]),
        height_m=numbers([t.height_m if t else None for _, t in joined]),
        height_u95_m=numbers([t.height_u95_m if t else None for _, t in joined]),
        base_radius_m=numbers([t.base_radius_m if t else None for _, t in joined]),
        mass_kg=numbers([(m.mass_kg or (t.mass_kg if t else None)) if m else None for m, t in joined]),
    )


def local_days(placed_at_s: NDArray[np.float64], zone: str) -> NDArray[np.datetime64]:
    """
    Give the calendar day of instants in a zone.

    Examples
    --------
    Half past two in the morning UTC is still the day before in Carolina:

    >>> local_days(np.array([1781404200.0]), "America/New_York")
    array(['2026-06-13'], dtype='datetime64[D]')
    """
    info = ZoneInfo(zone)
    # The offset of a zone changes at most a few times a year: look it up once for each hour that occurs.
    hours, where = np.unique(np.floor(placed_at_s / 3600.0), return_inverse=True)
    offsets = np.array([_offset_s(hour * 3600.0, info) for hour in hours.tolist()], dtype=float)
    local = placed_at_s + (offsets[where] if len(hours) else 0.0)
    return np.floor(local / 86400.0).astype("int64").astype("datetime64[D]")


def _offset_s(instant_s: float, info: ZoneInfo) -> float:
    offset = datetime.fromtimestamp(instant_s, UTC).astimezone(info).utcoffset()
    return offset.total_seconds() if offset is not None else 0.0


def cases_of(
    *,
    permit: Permit,
    keep_outs: tuple[KeepOut, ...],
    standing: PlacementTable,
    judged: NDArray[np.intp],
    zone: str,
) -> Cases:
    """
    Make the cases of some of the standing placements.

    Parameters
    ----------
    permit, keep_outs
        What they are judged by.
    standing : PlacementTable
        Every standing placement that may matter, of any permit, the judged ones among them.
    judged : numpy.ndarray of int
        Their rows in `standing`; all belong to `permit`.
    zone : str
        The programme's zone.
    """
    placements = standing.rows(judged)
    of_permit = np.flatnonzero(standing.permit == permit.number)
    order = of_permit[np.lexsort((of_permit, standing.placed_at_s[of_permit]))]
    count = np.zeros(len(standing), dtype=np.int64)
    mass = np.zeros(len(standing))
    count[order] = np.arange(1, len(order) + 1)
    mass[order] = np.cumsum(standing.mass_kg[order])
    return Cases(
        permit=permit,
        keep_outs=keep_outs,
        placements=placements,
        others=standing,
        own_row=judged,
        placed_day=local_days(placements.placed_at_s, zone),
        count_so_far=count[judged],
        mass_so_far_kg=mass[judged],
        same_tag=_times(standing.tag)[judged],
        same_memorial=_times(standing.memorial)[judged],
    )


def _times(words: NDArray[np.object_]) -> NDArray[np.int64]:
    """Count how often each word occurs; the empty word counts as once."""
    if not len(words):
        return np.zeros(0, dtype=np.int64)
    text = words.astype(str)
    _, where, counts = np.unique(text, return_inverse=True, return_counts=True)
    return np.where(text == "", 1, counts[where]).astype(np.int64)


def gather(
    register: Register, permit: Permit, standing: PlacementTable, judged: Sequence[int] | NDArray[np.intp]
) -> Cases:
    """Gather some rows of a table of placements with what the registry says of their surroundings."""
    return cases_of(
        permit=permit,
        keep_outs=register.keep_outs(),
        standing=standing,
        judged=np.asarray(judged, dtype=np.intp),
        zone=register.programme().zone,
    )
