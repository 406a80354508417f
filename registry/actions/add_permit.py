"""Transcribe a permit: every area brought home, every condition known to a rule."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import shapely
from shapely import MultiPolygon, Polygon

from registry.actions.bring_shapes_home import bring_home, stated_frame
from registry.errors import ConflictError, FrameError, GeometryError, PermitError, QuantityError
from registry.measure.area_shape import checked_shape, shape_from_corners
from registry.measure.datum import ResolvedFrame, resolve
from registry.measure.edges import geodesic_circle
from registry.ports import Register, Shapes
from registry.records.body import permit_body
from registry.records.entry import Draft
from registry.records.permit import Area, Condition, Permit, Reporting
from registry.records.permit_draft import AreaDraft, PermitDraft
from registry.records.programme import Programme
from registry.records.written_position import WrittenPosition
from registry.rules.catalogue import checked_condition

__all__ = ["ReadPosition", "ReadShapes", "add_permit", "transcribe_permit"]

ReadPosition = Callable[[str], WrittenPosition]
ReadShapes = Callable[[str, str | None], Shapes]


def add_permit(
    register: Register,
    draft: PermitDraft,
    *,
    read_position: ReadPosition,
    read_shapes: ReadShapes,
    actor: str,
    write: bool = True,
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
    write : bool
        False to be told what it would say without writing.

    Raises
    ------
    ConflictError
        If a permit of this number is recorded.
    PermitError, FrameError, GeometryError, PositionTextError
        If an area or a condition cannot be used; the message names it.
    """
    permit = transcribe_permit(
        draft, register.programme(), read_position=read_position, read_shapes=read_shapes
    )
    with register.writing() if write else register.reading():
        if any(known.number == permit.number for known in register.permits()):
            what = f"Permit {permit.number} is recorded already."
            remedy = "See it: leadline permit show NUMBER. Where it was changed: leadline permit amend."
            raise ConflictError(what, remedy=remedy)
        if write:
            register.append([Draft(kind="permit.added", actor=actor, body=permit_body(permit))])
    return permit


def transcribe_permit(
    draft: PermitDraft,
    programme: Programme,
    *,
    read_position: ReadPosition,
    read_shapes: ReadShapes,
    in_force_from: date | None = None,
    amendment: str = "",
) -> Permit:
    """
    Give the permit that a file states, in the home frame; nothing is recorded.

    Parameters
    ----------
    draft : PermitDraft
        The permit as its file states it.
    programme : Programme
        Whose home frame it is.
    read_position, read_shapes : callable
        As for :func:`add_permit`.
    in_force_from : date, optional
        The first day of an amended version.
    amendment : str
        Why it was amended.

    Raises
    ------
    PermitError, FrameError, GeometryError, PositionTextError
        If an area, a condition or what is said of reports cannot be used; the message names it.
    """
    conditions = tuple(
        checked_condition(Condition(rule=c.rule, cite=c.cite, limits=c.limits, areas=c.areas))
        for c in draft.conditions
    )
    # Also where the permit was amended since: a corner that did not change stays where it was.
    start = datetime(draft.valid_from.year, draft.valid_from.month, draft.valid_from.day, tzinfo=UTC)
    areas = tuple(
        _area(area, programme, start, read_position=read_position, read_shapes=read_shapes)
        for area in draft.areas
    )
    return Permit(
        number=draft.number,
        authority=draft.authority,
        valid_from=draft.valid_from,
        valid_to=draft.valid_to,
        chart_datum=draft.chart_datum,
        areas=areas,
        conditions=conditions,
        holder=draft.holder,
        in_force_from=in_force_from,
        amendment=amendment,
        reporting=_reporting(draft.reporting),
    )


def _reporting(stated: Reporting) -> Reporting:
    """Give what is said of reports, its frame by its code."""
    if stated.frame is None:
        return stated
    try:
        return replace(stated, frame=resolve(stated.frame).code)
    except FrameError as error:
        raise FrameError(f"[reporting]: {error.what}", remedy=error.remedy) from error


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
            frame, epoch = stated_frame(where, draft.frame, shapes.frame), draft.epoch
            shape = _united(shapes, where)
        else:
            shape, frame, epoch = _from_text(draft, where, read_position)
        moved, epoch, operation = bring_home(shape, frame, epoch, start, programme)
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


def _from_text(
    draft: AreaDraft, where: str, read_position: ReadPosition
) -> tuple[Polygon | MultiPolygon, ResolvedFrame, float | None]:
    texts = [*draft.corners, *(corner for hole in draft.holes for corner in hole)]
    if draft.centre is not None:
        texts = [draft.centre]
    written = [read_position(text) for text in texts]
    inside = {w.frame for w in written if w.frame is not None}
    if len(inside) > 1:
        what = f"{where} names several frames in its corners: {', '.join(sorted(inside))}."
        raise PermitError(what, remedy="Give all corners in one frame.")
    frame = stated_frame(where, draft.frame, inside.pop() if inside else None)
    epoch = _stated_epoch(where, draft.epoch, {w.epoch for w in written if w.epoch is not None})
    points = [(w.lon_deg, w.lat_deg) for w in written]
    if draft.radius is not None:
        if draft.radius.value <= 0:
            what = f"{where} has a radius of {draft.radius.written}."
            raise QuantityError(what, remedy="Give a radius above zero with its unit.")
        return geodesic_circle(*points[0], draft.radius.value), frame, epoch
    outer, rest = points[: len(draft.corners)], points[len(draft.corners) :]
    holes = []
    for hole in draft.holes:
        holes.append(rest[: len(hole)])
        rest = rest[len(hole) :]
    return shape_from_corners(outer, holes), frame, epoch


def _stated_epoch(where: str, beside: float | None, inside: set[float]) -> float | None:
    """Give the one epoch that is stated beside the corners or in them; two that differ are an error."""
    epochs = inside if beside is None else inside | {beside}
    if len(epochs) > 1:
        told = ", ".join(f"{epoch:g}" for epoch in sorted(epochs))
        what = f"{where} states several epochs: {told}."
        raise PermitError(what, remedy="Give all corners at one epoch, or an area for each.")
    return epochs.pop() if epochs else None


def _united(shapes: Shapes, where: str) -> Polygon | MultiPolygon:
    """Take every polygon of a source as one area of several parts; parts must not overlap."""
    checked = [checked_shape(shape) for _, shape in shapes.shapes]
    parts: list[Polygon] = [part for shape in checked for part in getattr(shape, "geoms", [shape])]
    whole: Polygon | MultiPolygon = parts[0] if len(parts) == 1 else MultiPolygon(parts)
    if not whole.is_valid:
        what = f"{where}: its parts overlap ({shapely.is_valid_reason(whole)})."
        raise GeometryError(what, remedy="Give parts that do not overlap, or one area for each.")
    return whole
