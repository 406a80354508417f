"""Transcribe a permit: every area and keep-out brought home, every condition known to a rule."""

from collections.abc import Callable
from datetime import UTC, datetime

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from registry.errors import ConflictError, FrameError, GeometryError, PermitError, QuantityError
from registry.measure.area_shape import checked_shape, shape_from_corners
from registry.measure.datum import ResolvedFrame, Transformed, decimal_year, resolve, transform
from registry.measure.edges import geodesic_circle
from registry.ports import Register, Shapes
from registry.records.body import keep_out_body, permit_body
from registry.records.entry import Draft
from registry.records.permit import Area, Condition, KeepOut, Permit
from registry.records.permit_draft import AreaDraft, PermitDraft
from registry.records.programme import Programme
from registry.records.quantity import Quantity
from registry.records.written_position import WrittenPosition
from registry.rules.catalogue import checked_condition

__all__ = ["add_keep_outs", "add_permit"]

ReadPosition = Callable[[str], WrittenPosition]
ReadShapes = Callable[[str, str | None], Shapes]


def add_permit(
    register: Register,
    draft: PermitDraft,
    *,
    read_position: ReadPosition,
    read_shapes: ReadShapes,
    actor: str,
) -> Permit:
    """
    Record a permit.

    Parameters
    ----------
    register : Register
        Where it goes.
    draft : PermitDraft
        The permit as its file states it.
    read_position : callable
        Reads a corner as written.
    read_shapes : callable
        Reads the shapes of a source file and layer that the permit names.
    actor : str
        Who transcribes it.

    Raises
    ------
    ConflictError
        If a permit of this number is recorded.
    PermitError, FrameError, GeometryError, PositionTextError
        If an area or a condition cannot be used; the message names it.
    """
    programme = register.programme()
    conditions = tuple(
        checked_condition(Condition(rule=c.rule, cite=c.cite, limits=c.limits)) for c in draft.conditions
    )
    start = datetime(draft.valid_from.year, draft.valid_from.month, draft.valid_from.day, tzinfo=UTC)
    areas = tuple(
        _area(area, programme, start, read_position=read_position, read_shapes=read_shapes)
        for area in draft.areas
    )
    permit = Permit(
        number=draft.number,
        authority=draft.authority,
        valid_from=draft.valid_from,
        valid_to=draft.valid_to,
        chart_datum=draft.chart_datum,
        areas=areas,
        conditions=conditions,
    )
    with register.writing():
        if any(known.number == permit.number for known in register.permits()):
            what = f"Permit {permit.number} is recorded already."
            raise ConflictError(what, remedy="See it with: leadline permit show NUMBER.")
        register.append([Draft(kind="permit.added", actor=actor, body=permit_body(permit))])
    return permit


def _area(
    draft: AreaDraft,
    programme: Programme,
    start: datetime,
    *,
    read_position: ReadPosition,
    read_shapes: ReadShapes,
) -> Area:
    where = f"Area {draft.area_id!r}"
    try:
        if draft.source is not None:
            shapes = read_shapes(draft.source, draft.layer)
            frame = _stated_frame(where, draft.frame, shapes.frame)
            shape = _united(shapes, where)
        else:
            shape, frame = _from_text(draft, where, read_position)
        moved, epoch, operation = _brought_home(shape, frame, draft.epoch, start, programme)
        return Area(
            area_id=draft.area_id,
            shape=checked_shape(moved),
            edges=draft.edges,
            frame=frame.code,
            epoch=epoch,
            written=draft.written,
            operation=operation,
        )
    except (FrameError, GeometryError) as error:
        raise type(error)(f"{where}: {error.what}", remedy=error.remedy) from error


_STATE_FRAME = 'Add frame = "EPSG:..." as the permit or the survey names its datum.'


def _stated_frame(
    where: str, beside: str | None, inside: str | None, *, remedy: str = _STATE_FRAME
) -> ResolvedFrame:
    """Give the one frame that is stated beside or inside a source; two that differ are an error."""
    if beside is None and inside is None:
        what = f"{where} states no frame."
        raise PermitError(what, remedy=remedy)
    if beside is not None and inside is not None:
        a, b = resolve(beside), resolve(inside)
        if a.base != b.base:
            what = f"{where} states {a.base_name}, but its source says {b.base_name}."
            raise PermitError(what, remedy="Find out which is true and state that one.")
    named = resolve(beside if beside is not None else str(inside))
    return resolve(named.base) if named.projected else named


def _from_text(
    draft: AreaDraft, where: str, read_position: ReadPosition
) -> tuple[Polygon | MultiPolygon, ResolvedFrame]:
    texts = [*draft.corners, *(corner for hole in draft.holes for corner in hole)]
    if draft.centre is not None:
        texts = [draft.centre]
    written = [read_position(text) for text in texts]
    inside = {w.frame for w in written if w.frame is not None}
    if len(inside) > 1:
        what = f"{where} names several frames in its corners: {', '.join(sorted(inside))}."
        raise PermitError(what, remedy="Give all corners in one frame.")
    frame = _stated_frame(where, draft.frame, inside.pop() if inside else None)
    points = [(w.lon_deg, w.lat_deg) for w in written]
    if draft.radius is not None:
        if draft.radius.value <= 0:
            what = f"{where} has a radius of {draft.radius.written}."
            raise QuantityError(what, remedy="Give a radius above zero with its unit.")
        return geodesic_circle(*points[0], draft.radius.value), frame
    outer, rest = points[: len(draft.corners)], points[len(draft.corners) :]
    holes = []
    for hole in draft.holes:
        holes.append(rest[: len(hole)])
        rest = rest[len(hole) :]
    return shape_from_corners(outer, holes), frame


def _united(shapes: Shapes, where: str) -> Polygon | MultiPolygon:
    """Take every polygon of a source as one area of several parts; parts must not overlap."""
    checked = [checked_shape(shape) for _, shape in shapes.shapes]
    parts: list[Polygon] = [part for shape in checked for part in getattr(shape, "geoms", [shape])]
    whole: Polygon | MultiPolygon = parts[0] if len(parts) == 1 else MultiPolygon(parts)
    if not whole.is_valid:
        what = f"{where}: its parts overlap ({shapely.is_valid_reason(whole)})."
        raise GeometryError(what, remedy="Give parts that do not overlap, or one area for each.")
    return whole


def _brought_home(
    shape: BaseGeometry, frame: ResolvedFrame, epoch: float | None, start: datetime, programme: Programme
) -> tuple[BaseGeometry, float | None, str]:
    """Transform every corner into the home frame; a moving frame at the stated epoch, else the start."""
    taken = ""
    if frame.dynamic and epoch is None:
        epoch = round(decimal_year(start), 4)
        taken = f"; no epoch was stated: that of {start.date().isoformat()} is taken"
    if not frame.dynamic and epoch is None:
        epoch = frame.epoch
    told: list[Transformed] = []

    def home(corners: np.ndarray) -> np.ndarray:
        moved = transform(
            corners[:, 0], corners[:, 1], source=frame.code, target=programme.frame, epoch=epoch
        )
        if moved.outside.any():
            what = f"It reaches outside the region of the home frame, {resolve(programme.frame).name}."
            raise FrameError(what, remedy="Check the signs and the frame; else another registry is needed.")
        told.append(moved)
        return np.column_stack([moved.lon_deg, moved.lat_deg])

    return shapely.transform(shape, home), epoch, told[0].operation + taken


def add_keep_outs(
    register: Register,
    shapes: Shapes,
    *,
    kind: str,
    setback: Quantity,
    frame: str | None,
    epoch: float | None,
    written: str,
    at: datetime,
    actor: str,
) -> tuple[KeepOut, ...]:
    """
    Record every shape of a source as a keep-out of one kind and setback.

    Raises
    ------
    PermitError
        If no frame is stated, or two that differ.
    FrameError
        If the frame cannot be brought home.
    GeometryError
        If there is no shape, or one from which nothing can be measured.
    """
    if not shapes.shapes:
        raise GeometryError("The source of the keep-out holds no shape.", remedy="Check file and layer.")
    programme = register.programme()
    remedy = "Name it with --frame CODE, as the survey or the chart names its datum."
    stated = _stated_frame("The keep-out", frame, shapes.frame, remedy=remedy)
    with register.writing():
        number = len(register.keep_outs())
        made = []
        for name, shape in shapes.shapes:
            number += 1
            _refuse_unmeasurable(name, shape)
            moved, used_epoch, operation = _brought_home(shape, stated, epoch, at, programme)
            made.append(
                KeepOut(
                    keep_out_id=f"keep-out-{number:04d}",
                    kind=kind,
                    name=name,
                    setback_m=setback.value,
                    shape=moved,
                    frame=stated.code,
                    epoch=used_epoch,
                    written=written,
                    operation=operation,
                )
            )
        register.append([Draft(kind="keepout.added", actor=actor, body=keep_out_body(k)) for k in made])
    return tuple(made)


def _refuse_unmeasurable(name: str, shape: BaseGeometry) -> None:
    """A shape that is empty or crosses itself would fail, or mislead, every later audit."""
    where = f"Keep-out {name!r}"
    if shape.is_empty or not np.isfinite(shapely.get_coordinates(shape)).all():
        what = f"{where} is empty or holds a coordinate that is no number."
        raise GeometryError(what, remedy="Remove the feature from the source, or give it its shape.")
    for part in shapely.get_parts(shape):
        if not part.is_valid:
            what = f"{where} cannot be used: {shapely.is_valid_reason(part)} (longitude, latitude)."
            raise GeometryError(what, remedy="Mend the polygon in the source.")
