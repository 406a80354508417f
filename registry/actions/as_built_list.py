"""List what was built under a permit, in its own frame and notation, for its authority and for charts."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from registry.actions.area_corners import AreaOutline, OutlineCorner, ReadPosition, outline_of
from registry.actions.chart_attributes import Charted, chart_attributes
from registry.actions.gather_cases import local_days
from registry.actions.last_known import last_known
from registry.actions.reporting_form import ReportingForm, WritePosition
from registry.measure.boundary import signed_distance
from registry.measure.clearance import clearance_arrays
from registry.measure.datum import resolve, transform
from registry.measure.decision import Verdict, at_most
from registry.measure.uncertainty import combine
from registry.ports import Register
from registry.records.as_built import (
    AreaAsBuilt,
    AsBuiltList,
    Corner,
    LeastClearance,
    Material,
    ModuleAsBuilt,
    Used,
)
from registry.records.permit import Area, Condition, Permit, Reporting
from registry.records.placement import PlacementTable

__all__ = ["as_built_list"]

Floats = NDArray[np.float64]

#: A radius of which the last digit is a third has as many decimals as were written, but for rounding.
_AS_WRITTEN = 3.0 * (1.0 + 1e-6)
#: How the operation between a frame and itself is called.
_SAME_FRAME = "none: same frame"


def as_built_list(
    register: Register,
    number: str,
    *,
    now: datetime,
    read_position: ReadPosition,
    write_position: WritePosition,
    as_of: datetime | None = None,
    reporting: Reporting | None = None,
) -> AsBuiltList:
    """
    List the areas of a permit and every module under it.

    Parameters
    ----------
    register : Register
        Read from; nothing is written.
    number : str
        Of the permit; the version in force is taken.
    now : datetime
        Gives the day of the list and, where the permit's frame moves and states no epoch, the epoch.
    read_position : callable
        Reads a corner as the permit writes it.
    write_position : callable
        Writes a position in the notation that the permit asks for.
    as_of : datetime, optional
        The instant as of which the register shows the registry, if not now.
    reporting : Reporting, optional
        The form for somebody who wants to be told otherwise than the permit says, as a chart office.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    FrameError, MissingGridError
        If its frame cannot be used.

    Notes
    -----
    A module stands where it was last found. One outside every area is listed with the nearest, marked, and
    counts toward no area's clearance; it counts toward what is used, since it lies under the permit.
    """
    with register.reading():
        permit, programme = register.permit(number), register.programme()
        permit = permit if reporting is None else replace(permit, reporting=reporting)
        table, moved = last_known(register, register.placements(permit=number))
        types = {each.type_id: each.note for each in register.module_types()}
        head = register.head()
        form = ReportingForm(permit, now, write_position)
        outlines = [
            outline_of(
                area,
                home=programme.frame,
                target=form.frame.base,
                epoch=form.epoch,
                read_position=read_position,
            )
            for area in permit.areas
        ]
        built = _Built(table, moved, permit, local_days(table.placed_at_s, programme.zone))
        areas = tuple(
            _area(register, built, index, form=form, outline=outline, types=types)
            for index, outline in enumerate(outlines)
        )
    modules, operation, software = _modules(built, form, programme.frame)
    return AsBuiltList(
        programme=programme.name,
        permit=permit,
        frame=form.frame.code,
        frame_name=form.frame.name,
        epoch=form.epoch,
        coordinate_names=form.names,
        notation=permit.reporting.notation,
        form=form.words,
        operation=operation,
        software=software,
        made_on=now.astimezone(ZoneInfo(programme.zone)).date(),
        as_of=as_of,
        zone=programme.zone,
        journal_head=head,
        areas=areas,
        modules=modules,
        used=_used(built),
        notes=_notes(built),
    )


class _Built:
    """The modules under a permit, each with its area and the water over it."""

    def __init__(
        self, table: PlacementTable, moved: NDArray[np.bool_], permit: Permit, days: NDArray[np.datetime64]
    ) -> None:
        self.table, self.moved, self.permit, self.days = table, moved, permit, days.astype(object)
        self.clearance_m, self.clearance_u95_m = clearance_arrays(
            table.depth_m, table.depth_u95_m, table.height_m, table.height_u95_m
        )
        inside_m = np.array(
            [
                signed_distance(table.lon_deg, table.lat_deg, area.shape, area.edges).distance_m
                for area in permit.areas
            ]
        ).reshape(len(permit.areas), len(table))
        #: Whether each area holds each module, shape (areas, n): areas may overlap.
        self.holds = inside_m >= 0
        self.nearest = inside_m.argmax(axis=0)
        self.inside = np.asarray(self.holds.any(axis=0))

    def rows_in(self, index: int) -> NDArray[np.intp]:
        """Give the rows of the modules inside an area."""
        return np.flatnonzero(self.holds[index])


def _modules(built: _Built, form: ReportingForm, home: str) -> tuple[tuple[ModuleAsBuilt, ...], str, str]:
    """Bring every module from the home frame to that of the list."""
    table = built.table
    moved = transform(
        table.lon_deg,
        table.lat_deg,
        source=home,
        target=form.frame.base,
        epoch=form.moving_epoch,
        anywhere=True,
    )
    lon_deg = (moved.lon_deg + 180.0) % 360.0 - 180.0
    r95_m = combine(table.r95_m, moved.accuracy_m)
    ids = [area.area_id for area in built.permit.areas]
    modules = tuple(
        ModuleAsBuilt(
            tag=str(table.tag[row]),
            placement_id=str(table.placement_id[row]),
            module_type=str(table.module_type[row]),
            area_id=ids[built.nearest[row]],
            inside=bool(built.inside[row]),
            lat_deg=float(moved.lat_deg[row]),
            lon_deg=float(lon_deg[row]),
            r95_m=float(r95_m[row]),
            text=form.text(float(moved.lat_deg[row]), float(lon_deg[row]), float(r95_m[row])),
            depth_m=float(table.depth_m[row]),
            depth_u95_m=float(table.depth_u95_m[row]),
            height_m=float(table.height_m[row]),
            height_u95_m=float(table.height_u95_m[row]),
            clearance_m=float(built.clearance_m[row]),
            clearance_u95_m=float(built.clearance_u95_m[row]),
            mass_kg=float(table.mass_kg[row]),
            placed_on=built.days[row],
            moved=bool(built.moved[row]),
        )
        for row in range(len(table))
    )
    return modules, moved.operation, moved.proj_version


def _area(
    register: Register,
    built: _Built,
    index: int,
    *,
    form: ReportingForm,
    outline: AreaOutline,
    types: dict[str, str],
) -> AreaAsBuilt:
    area, rows = built.permit.areas[index], built.rows_in(index)
    table = built.table
    clearance = _least_clearance(built, rows)
    unmeasured = int(np.isnan(built.clearance_m[rows]).sum())
    depths, heights = table.depth_m[rows], table.height_m[rows]
    last = _day(built.days, rows, last=True)
    return AreaAsBuilt(
        area_id=area.area_id,
        stated_in=_stated_in(area),
        edges=area.edges,
        radius=outline.radius,
        source=outline.source,
        corners=tuple(
            Corner(
                ring=corner.ring,
                number=corner.number,
                written=corner.written,
                lat_deg=corner.lat_deg,
                lon_deg=corner.lon_deg,
                text=form.text(corner.lat_deg, corner.lon_deg, _digits_radius_m(corner, outline)),
            )
            for corner in outline.corners
        ),
        operation=outline.operation,
        count=len(rows),
        mass_kg=_sum(table.mass_kg[rows]),
        first_placed=_day(built.days, rows, last=False),
        last_placed=last,
        clearance=clearance,
        unmeasured=unmeasured,
        authorised_clearance=_authorised_clearance(built.permit, area),
        materials=_materials(table, rows, types),
        chart=chart_attributes(
            Charted(
                area_id=area.area_id,
                count=len(rows),
                clearance=clearance,
                unmeasured=unmeasured,
                least_depth_m=float(np.nanmin(depths)) if np.isfinite(depths).any() else np.nan,
                greatest_height_m=float(heights.max()) if len(rows) else np.nan,
                chart_datum=built.permit.chart_datum,
                instrument=_instrument(register, table, rows, clearance),
                last_placed=last,
                corners_within_m=max(
                    (max(corner.resolution_m, outline.accuracy_m) for corner in outline.corners),
                    default=np.nan,
                ),
            )
        ),
    )


def _digits_radius_m(corner: OutlineCorner, outline: AreaOutline) -> float:
    """
    Give the radius from which the digits of a corner follow.

    In the permit's own frame they are those that were written. In another, half the last of them: rounded to
    the same digit, a shift of datum by less than that digit would be lost.
    """
    carried = corner.written and outline.operation != _SAME_FRAME
    return max(corner.resolution_m * (0.5 if carried else _AS_WRITTEN), outline.accuracy_m)


def _stated_in(area: Area) -> str:
    found = resolve(area.frame)
    epoch = f", epoch {area.epoch:g}" if area.epoch is not None else ""
    return f"{found.name} ({found.code}{epoch})"


def _least_clearance(built: _Built, rows: NDArray[np.intp]) -> LeastClearance | None:
    clearance_m, u95_m = built.clearance_m[rows], built.clearance_u95_m[rows]
    if not len(rows) or not np.isfinite(clearance_m).all() or not np.isfinite(u95_m).all():
        return None
    least = int(clearance_m.argmin())
    value_m = float(clearance_m[least])
    # Another module, less well known, may reach higher than the one that seems the highest.
    lowest_m = float((clearance_m - u95_m).min())
    return LeastClearance(value_m=value_m, u95_m=value_m - lowest_m, tag=str(built.table.tag[rows[least]]))


def _instrument(
    register: Register, table: PlacementTable, rows: NDArray[np.intp], clearance: LeastClearance | None
) -> str:
    """Name what read the depth at the least clearance; empty where only its value was stated."""
    if clearance is None:
        return ""
    row = next(row for row in rows.tolist() if table.tag[row] == clearance.tag)
    derived = register.placement(str(table.placement_id[row])).depth or {}
    return str(derived.get("inputs", {}).get("reading", {}).get("instrument", ""))


def _day(days: NDArray[np.object_], rows: NDArray[np.intp], *, last: bool) -> date | None:
    chosen = days[rows].tolist()
    return (max(chosen) if last else min(chosen)) if chosen else None


def _sum(masses_kg: Floats) -> float | None:
    total = float(masses_kg.sum())
    return total if np.isfinite(total) else None


def _materials(table: PlacementTable, rows: NDArray[np.intp], types: dict[str, str]) -> tuple[Material, ...]:
    found = []
    for name in sorted(set(table.module_type[rows].tolist())):
        those = rows[table.module_type[rows] == name]
        height_m = float(table.height_m[those[0]])
        found.append(
            Material(
                type_id=name,
                note=types.get(name, ""),
                count=len(those),
                mass_kg=_sum(table.mass_kg[those]),
                height_m=height_m if np.isfinite(height_m) else None,
            )
        )
    return tuple(found)


def _applies(condition: Condition, area_id: str) -> bool:
    return not condition.areas or area_id in condition.areas


def _authorised_clearance(permit: Permit, area: Area) -> str:
    return "; ".join(
        f"{condition.limits['least'].written} ({condition.cite})"
        for condition in permit.conditions
        if condition.rule == "clearance" and "least" in condition.limits and _applies(condition, area.area_id)
    )


def _used(built: _Built) -> tuple[Used, ...]:
    """Hold count and mass against every limit that the permit states; where it states none, tell them."""
    ids = [area.area_id for area in built.permit.areas]
    found = []
    stated = [
        (name, condition)
        for condition in built.permit.conditions
        if condition.rule == "capacity"
        for name in condition.limits
    ]
    for what, name in (("modules", "greatest_count"), ("mass", "greatest_mass")):
        limits: list[Condition | None] = [condition for key, condition in stated if key == name]
        for condition in limits or [None]:
            areas = condition.areas if condition else ()
            rows = np.ones(len(built.table), dtype=bool)
            if areas:
                chosen = [ids.index(area) for area in areas]
                # What lies in no area counts toward the nearest.
                rows = built.holds[chosen].any(axis=0) | (~built.inside & np.isin(built.nearest, chosen))
            masses = built.table.mass_kg[rows]
            unknown = int(np.isnan(masses).sum()) if what == "mass" else 0
            used = float(np.nansum(masses)) if what == "mass" else float(rows.sum())
            limit = condition.limits[name] if condition else None
            found.append(
                Used(
                    what=what,
                    used=used,
                    unknown=unknown,
                    authorised=limit.value if limit else None,
                    written=limit.written if limit else "",
                    cite=condition.cite if condition else "",
                    areas=areas,
                    verdict=_kept(used, unknown, limit.value) if limit else Verdict.NOT_APPLICABLE,
                )
            )
    return tuple(found)


def _kept(used: float, unknown: int, authorised: float) -> Verdict:
    """Judge what is used; what is unknown may only add to it."""
    verdict = Verdict(int(at_most(used, 0.0, authorised)))
    return Verdict.INCONCLUSIVE if unknown and verdict == Verdict.CONFORMING else verdict


def _notes(built: _Built) -> tuple[str, ...]:
    table, notes = built.table, []
    outside = table.tag[~built.inside].tolist()
    if outside:
        notes.append(
            f"Outside every area of the permit: {_named(outside)}. They are listed with the nearest area, "
            "and count toward no area's clearance."
        )
    both = table.tag[built.holds.sum(axis=0) > 1].tolist()
    if both:
        notes.append(f"In more than one area, and counted in each: {_named(both)}.")
    found = table.tag[built.moved].tolist()
    if found:
        notes.append(f"Found moved by a resurvey, and listed where they were found: {_named(found)}.")
    deep = table.tag[np.isnan(table.depth_m)].tolist()
    if deep:
        notes.append(f"No depth was recorded for: {_named(deep)}.")
    tags, times = np.unique(table.tag.astype(str), return_counts=True)
    twice = tags[times > 1].tolist()
    if twice:
        notes.append(f"Recorded in several places, and listed and counted in each: {_named(twice)}.")
    return tuple(notes)


def _named(tags: list[str], most: int = 12) -> str:
    return ", ".join(sorted(tags)[:most]) + (f" and {len(tags) - most} more" if len(tags) > most else "")
