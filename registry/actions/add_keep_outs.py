"""Record what modules must stay clear of, brought home from where it was drawn."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from registry.actions.bring_shapes_home import NAME_FRAME, bring_home, refuse_unmeasurable, stated_frame
from registry.errors import ConflictError, GeometryError
from registry.ports import Register, Shapes
from registry.records.body import keep_out_body
from registry.records.entry import Draft
from registry.records.permit import KeepOut
from registry.records.quantity import Quantity

__all__ = ["add_keep_outs"]


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
    write: bool = True,
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
    ConflictError
        If the same shape of the same file is recorded with this kind and setback.
    """
    if not shapes.shapes:
        raise GeometryError("The source of the keep-out holds no shape.", remedy="Check file and layer.")
    programme = register.programme()
    stated = stated_frame("The keep-out", frame, shapes.frame, remedy=NAME_FRAME)
    with register.writing() if write else register.reading():
        known = register.keep_outs()
        number = len(known)
        made = []
        for name, shape in shapes.shapes:
            number += 1
            refuse_unmeasurable(f"Keep-out {name!r}", shape)
            moved, used_epoch, operation = bring_home(shape, stated, epoch, at, programme)
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
        for keep_out in made:
            _refuse_twice(keep_out, known)
        if write:
            register.append([Draft(kind="keepout.added", actor=actor, body=keep_out_body(k)) for k in made])
    return tuple(made)


def _refuse_twice(keep_out: KeepOut, known: Sequence[KeepOut]) -> None:
    """Refuse what is recorded to the letter: a file that was sent twice, or by two people."""
    for each in known:
        if replace(each, keep_out_id=keep_out.keep_out_id) == keep_out:
            what = f"{keep_out.kind} {keep_out.name} of this file is recorded already, as {each.keep_out_id}."
            raise ConflictError(what, remedy="Nothing to do: it is judged by.")
