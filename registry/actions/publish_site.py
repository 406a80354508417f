"""Make the public view of a registry: WGS 84 of the day, names only with consent, no more than was chosen."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from registry.actions.area_corners import ReadPosition, outline_of
from registry.actions.choose_publication import chosen_publication
from registry.actions.gather_cases import local_days
from registry.actions.last_known import last_known
from registry.actions.tell_visitors import told_visitors
from registry.measure.boundary import signed_distance
from registry.measure.clearance import clearance_arrays
from registry.measure.datum import decimal_year, resolve, transform
from registry.measure.edges import densify
from registry.measure.rounded_place import rounded_places, rounding_reach_m
from registry.ports import Register
from registry.records.permit import Area, Permit
from registry.records.placement import PlacementTable
from registry.records.public_site import (
    PublicArea,
    PublicClearance,
    PublicCondition,
    PublicCorner,
    PublicDepths,
    PublicKeepOut,
    PublicModule,
    PublicSite,
)
from registry.records.publication import Publication
from registry.records.visitor_words import VisitorWords

__all__ = ["WGS84", "nearest_area", "publish_site", "to_wgs84"]

#: The realisation in which coordinates leave for a receiver: ITRF2020, the same as WGS 84 (G2296).
WGS84 = "EPSG:9990"
#: Edges are drawn as the permit means them, in pieces of at most this. Units: m.
EDGE_STEP_M = 2_000.0


def publish_site(
    register: Register,
    *,
    now: datetime,
    read_position: ReadPosition | None = None,
    asked: Publication | None = None,
) -> PublicSite:
    """
    Make the public view.

    Parameters
    ----------
    register : Register
        Read from.
    now : datetime.datetime
        Gives the epoch of the coordinates and the day of issue.
    read_position : callable, optional
        Reads a corner as the permit writes it. Without it areas come without their corners.
    asked : Publication, optional
        What is to be shown this once, where that is less than what the programme declared.

    Raises
    ------
    RequestError
        If more is asked for than the programme declared.
    """
    published = chosen_publication(register, asked)
    programme = register.programme()
    permits = register.permits()
    epoch = round(decimal_year(now), 2)
    table = _as_found(register)
    listed = {
        module.tag: module.memorial.name
        for module in register.modules()
        if module.memorial is not None and module.memorial.consent_listed
    }
    nearest = nearest_area(table, permits)
    days = local_days(table.placed_at_s, programme.zone).astype(object)
    groups = _by_area(table, nearest)
    told = told_visitors(register)
    return PublicSite(
        programme=programme.name,
        chart_datum=", ".join(sorted({permit.chart_datum for permit in permits})),
        epoch=epoch,
        issued_on=now.astimezone(ZoneInfo(programme.zone)).date(),
        areas=tuple(
            _area(
                permit,
                area,
                words=told.get(permit.number, told.get("")),
                built=_built(table, days, groups.get((permit.number, area.area_id), [])),
                home=programme.frame,
                epoch=epoch,
                read_position=read_position,
            )
            for permit in permits
            for area in permit.areas
        ),
        keep_outs=tuple(
            PublicKeepOut(
                name=keep_out.name,
                kind=keep_out.kind,
                setback_m=keep_out.setback_m,
                shape=to_wgs84(keep_out.shape, programme.frame, epoch),
            )
            for keep_out in register.keep_outs()
        ),
        modules=()
        if published.sites_only
        else _modules(
            table, nearest, listed, days, frame=programme.frame, epoch=epoch, step_m=published.rounded_m
        ),
        published=published,
    )


def _as_found(register: Register) -> PlacementTable:
    """Give every standing placement where it was last found; of what has moved there is no depth there."""
    table, moved = last_known(register, register.placements())
    depth = {name: np.where(moved, np.nan, getattr(table, name)) for name in ("depth_m", "depth_u95_m")}
    return replace(table, **depth)


def to_wgs84(shape: BaseGeometry, frame: str, epoch: float) -> BaseGeometry:
    """Transform a shape from the home frame to WGS 84 (G2296) at an epoch."""

    def out(corners: np.ndarray) -> np.ndarray:
        moved = transform(corners[:, 0], corners[:, 1], source=frame, target=WGS84, epoch=epoch)
        return np.column_stack([moved.lon_deg, moved.lat_deg])

    return shapely.transform(shape, out)


def nearest_area(table: PlacementTable, permits: Sequence[Permit]) -> list[str]:
    """Give, for each placement, the area of its own permit that holds it or lies nearest."""
    names = [""] * len(table)
    for permit in permits:
        rows = np.flatnonzero(table.permit == permit.number)
        if not len(rows):
            continue
        lon, lat = table.lon_deg[rows], table.lat_deg[rows]
        inside = np.stack([signed_distance(lon, lat, a.shape, a.edges).distance_m for a in permit.areas])
        for row, best in zip(rows.tolist(), inside.argmax(axis=0).tolist(), strict=True):
            names[row] = permit.areas[best].area_id
    return names


def _area(
    permit: Permit,
    area: Area,
    *,
    words: VisitorWords | None,
    built: Mapping[str, Any],
    home: str,
    epoch: float,
    read_position: ReadPosition | None,
) -> PublicArea:
    shape = to_wgs84(densify(area.shape, area.edges, EDGE_STEP_M), home, epoch)
    corners: tuple[PublicCorner, ...] = ()
    radius = ""
    if read_position is not None:
        outline = outline_of(area, home=home, target=WGS84, epoch=epoch, read_position=read_position)
        radius = outline.radius
        corners = tuple(
            PublicCorner(
                ring=corner.ring,
                number=corner.number,
                written=corner.written,
                lat_deg=corner.lat_deg,
                lon_deg=corner.lon_deg,
                resolution_m=max(corner.resolution_m, outline.accuracy_m),
            )
            for corner in outline.corners
        )
    return PublicArea(
        area_id=area.area_id,
        permit=permit.number,
        shape=shape,  # type: ignore[arg-type]
        authority=permit.authority,
        valid_from=permit.valid_from,
        valid_to=permit.valid_to,
        chart_datum=permit.chart_datum,
        stated_in=resolve(area.frame).name,
        corners=corners,
        radius=radius,
        conditions=tuple(
            PublicCondition(
                rule=condition.rule,
                limits=tuple((name, limit.written) for name, limit in condition.limits.items()),
                cite=condition.cite,
            )
            for condition in permit.conditions
            if not condition.areas or area.area_id in condition.areas
        ),
        rules=words.rules if words else "",
        young_reef=words.young_reef if words else "",
        **built,
    )


def _by_area(table: PlacementTable, nearest: Sequence[str]) -> dict[tuple[str, str], list[int]]:
    """Give the rows of what lies in or next to each area, by its permit and its name."""
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for row, where in enumerate(zip(table.permit.tolist(), nearest, strict=True)):
        groups[where].append(row)
    return groups


def _built(table: PlacementTable, days: NDArray[np.object_], rows: list[int]) -> dict[str, Any]:
    """Tell what lies in an area, all together; no number of it is one module's place."""
    if not rows:
        return {}
    placed = [days[row] for row in rows]
    return {
        "clearance": _least_clearance(table, rows),
        "module_count": len(rows),
        "depths": _depths(table, rows),
        "first_placed": min(placed),
        "last_placed": max(placed),
    }


def _least_clearance(table: PlacementTable, rows: list[int]) -> PublicClearance | None:
    """Give the least water over some modules, None where a depth is unknown."""
    clearance_m, u95_m = clearance_arrays(
        table.depth_m[rows], table.depth_u95_m[rows], table.height_m[rows], table.height_u95_m[rows]
    )
    if not (np.isfinite(clearance_m) & np.isfinite(u95_m)).all():
        return None
    least_m = float(clearance_m.min())
    # Another module, less well known, may reach higher than the one that seems the highest.
    return PublicClearance(value_m=least_m, u95_m=least_m - float((clearance_m - u95_m).min()))


def _depths(table: PlacementTable, rows: list[int]) -> PublicDepths | None:
    """Give the shoalest and the deepest seabed under some modules, None where no depth is known."""
    depth_m, u95_m = table.depth_m[rows], table.depth_u95_m[rows]
    if not np.isfinite(depth_m).any():
        return None
    least, greatest = int(np.nanargmin(depth_m)), int(np.nanargmax(depth_m))
    return PublicDepths(
        least_m=float(depth_m[least]),
        least_u95_m=_known(u95_m[least]),
        greatest_m=float(depth_m[greatest]),
        greatest_u95_m=_known(u95_m[greatest]),
        unmeasured=int(np.isnan(depth_m).sum()),
    )


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _modules(
    table: PlacementTable,
    areas: Sequence[str],
    listed: dict[str, str],
    days: NDArray[np.object_],
    *,
    frame: str,
    epoch: float,
    step_m: float | None,
) -> tuple[PublicModule, ...]:
    if not len(table):
        return ()
    out = transform(table.lon_deg, table.lat_deg, source=frame, target=WGS84, epoch=epoch, anywhere=True)
    lon_deg, lat_deg, r95_m = (out.lon_deg + 180.0) % 360.0 - 180.0, out.lat_deg, table.r95_m
    if step_m is not None:
        # What is shown is as far from the truth as the rounding may have moved it, and as that was doubtful.
        lon_deg, lat_deg = rounded_places(lon_deg, lat_deg, step_m)
        r95_m = r95_m + rounding_reach_m(step_m)
    return tuple(
        PublicModule(
            tag=str(table.tag[row]),
            name=listed.get(str(table.tag[row])),
            lat_deg=float(lat_deg[row]),
            lon_deg=float(lon_deg[row]),
            r95_m=float(r95_m[row]),
            charted_depth_m=_known(table.depth_m[row]),
            depth_u95_m=_known(table.depth_u95_m[row]),
            relief_m=_known(table.height_m[row]),
            placed_on=days[row],
            area_id=areas[row],
            permit=str(table.permit[row]),
        )
        for row in range(len(table))
    )
