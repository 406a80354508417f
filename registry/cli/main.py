"""The command itself: its subcommands by name, and every error told in one or two lines."""

import importlib
import io
import json
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from difflib import get_close_matches
from typing import Any

import click

from registry import __version__
from registry.cli.options import keep_registry
from registry.cli.stopping import EXIT_STOPPED, STOPPED, stoppable
from registry.errors import AmbiguousPositionError, LeadlineError, RequestError, UnavailableError

__all__ = ["COMMANDS", "leadline", "run"]

#: What a shell expects of a command whose reader went away (head, a pager that was left): its verdict was not
#: all read.
EXIT_UNREAD = 141
#: An error quotes no more than this of what was typed.
LONGEST_LINE = 1_000
#: Command to the file that holds it; loaded only when it is asked for, so that the rest costs nothing.
COMMANDS = {
    "new": "registry.cli.new",
    "permit": "registry.cli.permit",
    "keepout": "registry.cli.keepout",
    "baseline": "registry.cli.baseline",
    "target": "registry.cli.target",
    "module": "registry.cli.module",
    "check": "registry.cli.check",
    "place": "registry.cli.place",
    "correct": "registry.cli.correct",
    "withdraw": "registry.cli.withdraw",
    "resurvey": "registry.cli.resurvey",
    "survey": "registry.cli.survey",
    "tide": "registry.cli.tide",
    "intake": "registry.cli.intake",
    "audit": "registry.cli.audit",
    "duties": "registry.cli.duties",
    "asbuilt": "registry.cli.asbuilt",
    "chartoffice": "registry.cli.chartoffice",
    "sample": "registry.cli.sample",
    "accuracy": "registry.cli.accuracy",
    "where": "registry.cli.where",
    "convert": "registry.cli.convert",
    "certificate": "registry.cli.certificate",
    "certificates": "registry.cli.certificates",
    "plaque": "registry.cli.plaque",
    "authenticate": "registry.cli.authenticate",
    "family": "registry.cli.family",
    "custody": "registry.cli.custody",
    "visit": "registry.cli.visit",
    "visitors": "registry.cli.visitors",
    "publication": "registry.cli.publication",
    "map": "registry.cli.map",
    "export": "registry.cli.export",
    "journal": "registry.cli.journal",
    "bundle": "registry.cli.bundle",
    "backup": "registry.cli.backup",
    "serve": "registry.web.serve",
    "user": "registry.cli.user",
    "boat": "registry.cli.boat",
    "token": "registry.cli.token",
    "completion": "registry.cli.completion",
}


class _Lazy(click.Group):
    """A group whose commands live in files of their own."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names in the order of a working day."""
        del ctx
        return list(COMMANDS)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, and name the nearest one where there is none."""
        near = get_close_matches(args[0], COMMANDS, n=1) if args and args[0] not in COMMANDS else []
        if near and not args[0].startswith("-"):
            what = f"There is no command {args[0]!r}."
            raise RequestError(what, remedy=f"Did you mean: leadline {near[0]}?")
        return super().resolve_command(ctx, args)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[cmd_name]).command
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="leadline")
@click.option(
    "--registry",
    "registry_path",
    metavar="PATH",
    help="The registry file.",
    expose_value=False,
    callback=lambda ctx, _param, value: keep_registry(ctx, value),
)
def leadline() -> None:
    """
    Keep the registry of record of a memorial reef programme.

    The registry is --registry PATH, else $LEADLINE_REGISTRY, else leadline.gpkg in this folder.

    \b
    Exit codes: 0 done and conforming · 1 something is nonconforming or was rejected ·
    2 the request was wrong · 3 nothing worse than inconclusive · 4 a file is damaged or out of reach.

    \b
    Example:
      leadline new --programme "Marram Coast Memorial Reefs" --frame EPSG:6318 --zone America/New_York
    """


def run(arguments: Sequence[str] | None = None) -> int:
    """
    Run one command and give its exit code; no traceback reaches the person who typed it.

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after ``leadline``; by default the process's own arguments.
    """
    typed = list(sys.argv[1:] if arguments is None else arguments)
    with stoppable() as stop:
        try:
            code = _run(typed, as_json="--json" in typed, stopped=lambda: stop.asked)
        except (KeyboardInterrupt, click.exceptions.Abort):
            click.echo(STOPPED, err=True)
            code = EXIT_STOPPED
    return code if isinstance(code, int) else 0


def _run(typed: list[str], *, as_json: bool, stopped: Callable[[], bool]) -> Any:
    """Run a command; an error that only follows from Ctrl-C counts as that."""
    try:
        # Paths may hold names that the terminal's own encoding cannot show; never fail for that.
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(encoding="utf-8", errors="backslashreplace")
        return leadline.main(args=typed, prog_name="leadline", standalone_mode=False)
    except click.exceptions.Abort:
        raise
    except Exception as error:
        if stopped():
            raise KeyboardInterrupt from error
        return _tell_any(error, as_json=as_json)
    except SystemExit:
        if "_LEADLINE_COMPLETE" in os.environ:
            raise
        # The only other way in which click leaves: the pipe that it wrote to was closed.
        return EXIT_UNREAD


def _tell_any(error: Exception, *, as_json: bool) -> int:
    """Tell of an error; the last fence before a traceback."""
    if isinstance(error, LeadlineError):
        return _tell(error, as_json=as_json)
    if isinstance(error, click.ClickException):
        return _tell_click(error, as_json=as_json)
    if os.environ.get("LEADLINE_TRACEBACK"):
        raise error
    return _tell_unforeseen(error, as_json=as_json)


def _tell_unforeseen(error: Exception, *, as_json: bool) -> int:
    """Tell of a machine at its limit, or of a fault of Leadline itself."""
    if isinstance(error, UnicodeEncodeError):
        shown = ascii(error.object[error.start : error.end])
        what = f"What was typed, or the name of a file, holds {shown}, which is no text in UTF-8."
        return _tell(RequestError(what, remedy="Type it again, or rename the file."), as_json=as_json)
    if isinstance(error, MemoryError):
        what, remedy = "This machine has not enough memory for that.", "Close other programs and try again."
    elif isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        what, remedy = f"{where}{error.strerror or error}.", "Check the disk, the folder and its rights."
    else:
        told = " ".join(f"{type(error).__name__}: {error}".split())
        what = f"Leadline itself failed ({told}). Nothing half-done was kept."
        remedy = "Set LEADLINE_TRACEBACK=1 to see where, and report it."
    return _tell(UnavailableError(what, remedy=remedy), as_json=as_json)


def _tell(error: LeadlineError, *, as_json: bool) -> int:
    if as_json:
        answer: dict[str, Any] = {"error": error.what, "remedy": error.remedy}
        if error.exit_code == RequestError.exit_code:
            answer["readings"] = list(getattr(error, "readings", ()))
        _answer(answer)
    click.echo(f"Error: {_on_one_line(error.what)}", err=True)
    remedy = error.remedy
    if isinstance(error, AmbiguousPositionError) and error.readings:
        remedy = f"{remedy} It could mean: {' | '.join(error.readings)}".strip()
    if remedy:
        click.echo(f"Remedy: {_on_one_line(remedy)}", err=True)
    return error.exit_code


def _answer(document: dict[str, Any]) -> None:
    """Tell of an error in JSON as well; where nothing can be written there, the words beside it must do."""
    with suppress(OSError):
        click.echo(json.dumps(document, ensure_ascii=False))


def _on_one_line(text: str) -> str:
    """Make what was typed harmless to a terminal: no line end, control or turn of direction acts."""
    plain = "".join(c if c.isprintable() or c.isspace() else ascii(c)[1:-1] for c in text)
    joined = " ".join(plain.split())
    return joined if len(joined) <= LONGEST_LINE else f"{joined[:LONGEST_LINE]} …"


def _tell_click(error: click.ClickException, *, as_json: bool) -> int:
    message = _on_one_line(error.format_message())
    context = getattr(error, "ctx", None)
    if as_json:
        _answer({"error": message, "readings": []})
    click.echo(f"Error: {message}", err=True)
    if context is not None:
        click.echo(f"Remedy: see {context.command_path} --help", err=True)
    return RequestError.exit_code
