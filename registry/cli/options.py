"""Options that several commands share, and the texts in them read as what they mean."""

import getpass
import math
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from registry.errors import UnreadableFileError
from registry.records.quantity import Quantity

__all__ = [
    "EPOCH",
    "SECONDS",
    "actor_name",
    "actor_option",
    "json_option",
    "keep_registry",
    "length",
    "now",
    "open_accounts",
    "open_families",
    "open_for_reading",
    "open_for_writing",
    "output_file",
    "position_options",
    "programme_zone",
    "registry_option",
    "registry_path",
    "use_grid_folder",
]

F = TypeVar("F", bound=Callable[..., Any])
DEFAULT_REGISTRY = "leadline.gpkg"


def keep_registry(ctx: click.Context, value: str | None) -> None:
    """Keep which registry was named; an empty name is a slip of a script, not the default."""
    if value is not None:
        if not value.strip():
            raise click.BadParameter("It is empty; name the registry file.", ctx, param_hint="--registry")
        ctx.find_root().meta["registry"] = value


def registry_option(function: F) -> F:
    """Accept ``--registry PATH`` after the subcommand too."""

    def keep(ctx: click.Context, _param: click.Parameter, value: str | None) -> None:
        keep_registry(ctx, value)

    return click.option(
        "--registry",
        metavar="PATH",
        expose_value=False,
        callback=keep,
        help="The registry file; else $LEADLINE_REGISTRY, else leadline.gpkg.",
    )(function)


def json_option(function: F) -> F:
    """Accept ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON document and nothing else.")(
        function
    )


def actor_option(function: F) -> F:
    """Accept ``--actor NAME``."""
    return click.option(
        "--actor", metavar="NAME", help="Who does this; else $LEADLINE_ACTOR, else the account's name."
    )(function)


class _Epoch(click.ParamType[float]):
    """A decimal year; frames say which years they know."""

    name = "year"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read it, and refuse what is no number."""
        try:
            year = float(value)
        except ValueError:
            year = math.nan
        if not math.isfinite(year):
            self.fail(f"{value!r} is no decimal year, as 2026.5.", param, ctx)
        return year


EPOCH = _Epoch()


_TIME_UNITS = {"": 1.0, "s": 1.0, "sec": 1.0, "min": 60.0}


class _Seconds(click.ParamType[float]):
    """A length of time, as 120, 120s or 2 min."""

    name = "seconds"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read it, and refuse what is none."""
        if isinstance(value, float):
            return value
        text = str(value).strip().lower()
        number = text.rstrip("abcdefghijklmnopqrstuvwxyz")
        try:
            seconds = float(number) * _TIME_UNITS[text[len(number) :]]
        except (ValueError, KeyError):
            seconds = math.nan
        if not (math.isfinite(seconds) and seconds >= 0):
            self.fail(f"{value!r} is no number of seconds, as 120s or 2min.", param, ctx)
        return seconds


SECONDS = _Seconds()


def actor_name(actor: str | None) -> str:
    """Tell who acts, for the journal."""
    if named := actor or os.environ.get("LEADLINE_ACTOR"):
        return named
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"


def position_options(function: F) -> F:
    """Accept what may be stated beside a written position."""
    options = (
        click.option("--frame", metavar="CODE", help='Frame of the position, as EPSG:4326 or "NAD83(2011)".'),
        click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of the coordinates, as 2026.5."),
        click.option("--r95", metavar="LENGTH", help='95 % radius of the position, as "2 m".'),
        click.option(
            "--receiver",
            metavar="CLASS",
            default="",
            help="Instead of --r95: autonomous, sbas, dgnss, float, rtk or unknown.",
        ),
        click.option("--depth-u95", metavar="LENGTH", help='95 % uncertainty of the depth, as "0.5 m".'),
        click.option(
            "--tide", metavar="LENGTH", help="Height of the water above chart datum, to be taken off."
        ),
        click.option(
            "--grids",
            metavar="DIR",
            type=click.Path(path_type=Path),
            help="Folder with grid files for old datums such as NAD27.",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def use_grid_folder(folder: Path | None) -> None:
    """Let datum operations find their grid files in a folder."""
    if folder is None:
        return
    if not folder.is_dir():
        raise UnreadableFileError(f"There is no folder {folder}.", remedy="Check --grids.")
    from registry.measure.datum import use_grids

    use_grids(str(folder))


def length(text: str | None) -> Quantity | None:
    """Read a length with its unit, or give None where none was given."""
    if text is None:
        return None
    from registry.formats.written_quantity import read_length

    return read_length(text)


def registry_path(ctx: click.Context) -> Path:
    """Tell which registry is meant."""
    named = ctx.find_root().meta.get("registry") or os.environ.get("LEADLINE_REGISTRY")
    return Path(named or DEFAULT_REGISTRY)


def open_for_reading(ctx: click.Context) -> Any:
    """Open the registry for reading, until the command ends."""
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register

    return ctx.with_resource(open_register(registry_path(ctx), clock=SystemClock(), writable=False))


def open_for_writing(ctx: click.Context) -> Any:
    """Open the registry for writing, until the command ends."""
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register

    return ctx.with_resource(open_register(registry_path(ctx), clock=SystemClock()))


def open_families(ctx: click.Context, register: Any) -> Any:
    """Open the file, beside the registry, that holds contacts of families; there need be none yet."""
    from registry.storage.family_file import FamilyFile, family_file_of

    return FamilyFile(family_file_of(registry_path(ctx)), origin=register.origin)


def open_accounts(ctx: click.Context, *, make: bool = False) -> Any:
    """Open the file, beside the registry, that holds accounts, tokens and links; there need be none yet."""
    from registry.storage.account_file import open_accounts as opened

    return opened(registry_path(ctx), make=make)


def programme_zone(ctx: click.Context) -> str:
    """Tell in which zone the programme's days begin and end."""
    zone: str = open_for_reading(ctx).programme().zone
    return zone


def output_file(ctx: click.Context, path: Path) -> Path:
    """
    Give back where an output goes, unless that would write over a registry: this one or any other.

    Raises
    ------
    ConflictError
        If it would.
    UnwritableError
        If it is a folder.
    """
    from registry.errors import ConflictError, LeadlineError, NewerRegistryError, UnwritableError
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register

    if path.is_dir():
        raise UnwritableError(f"{path} is a folder, not a file.", remedy="Give the name of a file in it.")
    own = registry_path(ctx).resolve()
    beside = ("", "-wal", "-shm", ".families", ".accounts", ".accounts-journal")
    if path.resolve() in [own.with_name(f"{own.name}{ending}") for ending in beside]:
        raise ConflictError(f"{path} is the registry itself.", remedy="Choose another name for the output.")
    if path.exists():
        try:
            open_register(path, clock=SystemClock(), writable=False).close()
        except NewerRegistryError:
            pass
        except LeadlineError:
            return path
        what = f"{path} is a registry; nothing was written over it."
        raise ConflictError(what, remedy="Choose another name for the output.")
    return path


def now() -> datetime:
    """Give the present instant."""
    from registry.storage.clock import SystemClock

    return SystemClock().now()
