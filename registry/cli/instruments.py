"""The logs, gauges and casts of a day, joined with the rows of its spreadsheet."""

import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from registry.cli.depth_options import SAID, depth_files
from registry.cli.options import length
from registry.cli.survey_options import Logs, read_logs, surveyed_position

__all__ = ["instruments_of"]

#: A row of a slate is one short stop: fewer fixes than these are a slip of time or zone, not a position.
#: Common practice, no source.
LEAST_FIXES = 5
_CLOCK = re.compile(r"[0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?")
#: What only a survey of one module has.
_OF_ONE = ("start", "end", "event", "mark", "range_", "bearing", "near", "acoustic", "buoy_line", "current")
_UNSTATED = ("mark_r95", "range_u95", "variation", "roll", "pitch")


def instruments_of(line: Mapping[str, Any], *, folder: Path, zone: str) -> Any:
    """
    Read the options of a day, and make what joins them with a row.

    Parameters
    ----------
    line : mapping
        The options of `day_options` and `depth_options`, with "receiver".
    folder : Path
        Of the spreadsheet: where the logs lie that its rows name.
    zone : str
        Of times that state none.

    Raises
    ------
    LeadlineError
        If a file cannot be read or understood.
    UsageError
        If options do not go together.
    """
    from registry.formats.log_instruments import Instruments

    if line["depth_when"]:
        raise click.UsageError("--depth-when is for one module: the rows say when.")
    if line["receiver"] and not line["files"]:
        raise click.UsageError("--receiver goes with --fixes; rows name their own in a column receiver.")
    depths = _Depths(line)
    fixes = _Fixes(line, folder, zone)
    return Instruments(
        position_of=fixes.position_of,
        day_log=bool(line["files"]),
        sounding_of=depths.sounding_of,
        depth_kind=line["depth_kind"] or "",
    )


class _Depths:
    def __init__(self, line: Mapping[str, Any]) -> None:
        self._line = line
        self._files = depth_files(line)
        for note in self._files.notes:
            click.echo(note, err=True)

    def sounding_of(
        self, kind: str, say: Mapping[str, str], depth: Any, u95: Any, tide: Any, at: datetime
    ) -> Any:
        from registry.formats.noted_sounding import sounding_from
        from registry.formats.written_depth import DEPTH_KINDS

        # What the day's options say of other instruments is none of this row's.
        own = DEPTH_KINDS.get(kind, ())
        said = {name: say.get(name) or self._line[name] or "" for name in SAID if name in own}
        tide_u95 = length(self._line["tide_u95"]) if tide is not None else None
        return sounding_from(
            kind,
            {name: text for name, text in said.items() if text},
            self._files.of_kind(kind),
            depth=depth,
            u95=u95,
            tide=tide,
            tide_u95=tide_u95,
            at=at,
        )


class _Fixes:
    def __init__(self, line: Mapping[str, Any], folder: Path, zone: str) -> None:
        self._line, self._folder, self._zone = line, folder, zone
        self._logs: dict[str, Logs] = {}
        if line["files"]:
            self._logs[""] = read_logs(line["files"], line["day"])

    def position_of(self, say: Mapping[str, str], placed_at: datetime) -> Any:
        from registry.errors import RequestError

        frame = say.get("frame")
        if not frame:
            what = "Nothing tells the datum that the receiver was set to."
            raise RequestError(what, remedy="Give --frame, or a column frame.")
        receiver = say.get("receiver") or self._line["receiver"]
        if not receiver:
            what = "Nothing tells how good the receiver of the log is."
            raise RequestError(what, remedy="Give --receiver CLASS, or a column receiver.")
        own = {
            "receiver": receiver,
            "start": self._dated(say.get("from"), placed_at),
            "end": self._dated(say.get("to"), placed_at),
            "event": say.get("event") or None,
            "depth": say.get("depth") if self._line["fall_speed"] else None,
        }
        return surveyed_position(
            at=placed_at,
            logs=self._log(say.get("fixes", "")),
            least_fixes=LEAST_FIXES,
            frame=frame,
            epoch=None,
            zone=self._zone,
            **(dict(self._line) | dict.fromkeys((*_OF_ONE, *_UNSTATED)) | {"ranges": ()} | own),
        )

    def _log(self, name: str) -> Logs:
        from registry.errors import RequestError

        if name not in self._logs:
            if Path(name).name != name or name in (".", ".."):
                what = f"“{name}” is no name of a file beside the spreadsheet."
                raise RequestError(what, remedy="Put the log in the folder of the spreadsheet.")
            self._logs[name] = read_logs([self._folder / name], self._line["day"])
        return self._logs[name]

    def _dated(self, text: str | None, placed_at: datetime) -> str | None:
        """Give a time of day the date of touch-down."""
        if text and _CLOCK.fullmatch(text.strip()):
            return f"{placed_at.astimezone(ZoneInfo(self._zone)):%Y-%m-%d}T{text.strip():0>5}"
        return text or None
