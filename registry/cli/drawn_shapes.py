"""What the commands share that record shapes drawn elsewhere: their options, and how the source is read."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from registry.cli.options import EPOCH, registry_path

if TYPE_CHECKING:
    from registry.storage.layers import LayerShapes

__all__ = ["drawn_options", "read_drawn", "told_frame"]

F = TypeVar("F", bound=Callable[..., Any])


def drawn_options(function: F) -> F:
    """Accept what may be stated beside a source of shapes."""
    options = (
        click.option("--frame", metavar="CODE", help="Frame of the source, where the file states none."),
        click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of a moving frame."),
        click.option("--layer", metavar="NAME", help="Layer, where the file has several."),
        click.option(
            "--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files."
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def read_drawn(ctx: click.Context, source: Path, layer: str | None) -> "tuple[LayerShapes, str]":
    """
    Read the shapes of a source of any kind, and name the source with its digest for the record.

    Raises
    ------
    ConflictError
        If it is the registry itself.
    """
    from registry.errors import ConflictError
    from registry.storage.files import file_digest
    from registry.storage.layers import read_layer

    if source.resolve() == registry_path(ctx).resolve():
        raise ConflictError(f"{source} is the registry itself.", remedy="Name the file of the shapes.")
    shapes = read_layer(source, layer, polygons_only=False)
    return shapes, f"{source.name}, SHA-256 {file_digest(source)}"


def told_frame(frame: str, epoch: float | None, operation: str) -> str:
    """Say in which frame something was stated and how it was brought home."""
    at = f", epoch {epoch:g}" if epoch is not None else ""
    return f"stated in {frame}{at}; {operation}"
