"""Record the lines from which distances to the shore are counted, brought home from where they were drawn."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from registry.actions.bring_shapes_home import NAME_FRAME, bring_home, refuse_unmeasurable, stated_frame
from registry.errors import ConflictError, GeometryError, RequestError
from registry.ports import Register, Shapes
from registry.records.baseline import Baseline
from registry.records.body import baseline_body
from registry.records.entry import Draft

__all__ = ["add_baselines"]


def add_baselines(
    register: Register,
    shapes: Shapes,
    *,
    name: str,
    frame: str | None,
    epoch: float | None,
    written: str,
    at: datetime,
    actor: str,
    write: bool = True,
) -> tuple[Baseline, ...]:
    """
    Record every shape of a source as a baseline.

    Parameters
    ----------
    register : Register
        Where they go.
    shapes : Shapes
        Lines, or polygons whose inside is land.
    name : str
        What the authority calls the baseline; where the source has several shapes, each adds its own name.
    frame, epoch : optional
        Stated beside the source.
    written : str
        The source, for the record.
    at : datetime
        Whose epoch is taken for a moving frame where none is stated.
    actor : str
        Who records it.

    Raises
    ------
    RequestError
        If the name is empty.
    PermitError
        If no frame is stated, or two that differ.
    FrameError
        If the frame cannot be brought home.
    GeometryError
        If there is no shape, or one from which nothing can be measured.
    InvalidRecordError
        If a shape is neither a line nor a polygon.
    ConflictError
        If the same shape of the same file is recorded under this name.
    """
    if not name.strip():
        raise RequestError("The baseline has no name.", remedy='Name it, as --name "mean low water 2024".')
    if not shapes.shapes:
        raise GeometryError("The source of the baseline holds no shape.", remedy="Check file and layer.")
    programme = register.programme()
    stated = stated_frame("The baseline", frame, shapes.frame, remedy=NAME_FRAME)
    with register.writing() if write else register.reading():
        known = register.baselines()
        number = len(known)
        made = []
        for part, shape in shapes.shapes:
            number += 1
            called = name.strip() if len(shapes.shapes) == 1 else f"{name.strip()}: {part}"
            refuse_unmeasurable(f"Baseline {called!r}", shape)
            moved, used_epoch, operation = bring_home(shape, stated, epoch, at, programme)
            made.append(
                Baseline(
                    baseline_id=f"baseline-{number:04d}",
                    name=called,
                    shape=moved,
                    frame=stated.code,
                    epoch=used_epoch,
                    written=written,
                    operation=operation,
                )
            )
        for baseline in made:
            _refuse_twice(baseline, known)
        if write:
            register.append([Draft(kind="baseline.added", actor=actor, body=baseline_body(b)) for b in made])
    return tuple(made)


def _refuse_twice(baseline: Baseline, known: Sequence[Baseline]) -> None:
    """Refuse what is recorded to the letter: a file that was sent twice, or by two people."""
    for each in known:
        if replace(each, baseline_id=baseline.baseline_id) == baseline:
            what = f"The baseline {baseline.name} of this file is recorded already, as {each.baseline_id}."
            raise ConflictError(what, remedy="Nothing to do: distances are counted from it.")
