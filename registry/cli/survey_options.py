"""What a survey of one module brings ashore, as options of a command, and those options read."""

import hashlib
import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from registry.cli.options import SECONDS, length

__all__ = [
    "Logs",
    "day_options",
    "read_logs",
    "survey_given",
    "survey_of",
    "survey_options",
    "surveyed_position",
]

_PIECE = 1 << 20


def day_options(function: Any) -> Any:
    """Accept the receiver's log of a day and what holds for all that was set that day."""
    return _accepting(
        function,
        click.option(
            "--fixes",
            "files",
            metavar="FILE",
            multiple=True,
            type=click.Path(path_type=Path),
            help="Receiver log (NMEA 0183), plain or gzip; may be repeated.",
        ),
        click.option(
            "--around",
            type=SECONDS,
            metavar="SECONDS",
            help="How far before and after touch-down or the mark, as 120s; else 60.",
        ),
        click.option("--day", metavar="DATE", help="UTC day of a log that never says one, as 2026-06-14."),
        click.option(
            "--lever",
            metavar="X,Y,Z",
            help="Antenna to hook: forward, to starboard, down, in metres.",
        ),
        click.option("--lever-u95", metavar="LENGTH", help="Of each offset, 95 %; else 0.2 m."),
        click.option("--heading", type=float, metavar="DEG", help="True heading; else HDT of the log."),
        click.option("--heading-u95", type=float, metavar="DEG", help="Of the heading, 95 %; else 3."),
        click.option(
            "--attitude-u95",
            type=float,
            metavar="DEG",
            help="Of roll and pitch; else 2, or 5 where not noted.",
        ),
        click.option(
            "--fall-speed", metavar="SPEED", help='It was let go at the surface and fell, as "2 m/s".'
        ),
    )


def survey_options(function: Any) -> Any:
    """Accept what a survey of one module may bring ashore, but for ``--receiver`` and ``--depth``."""
    function = _accepting(
        function,
        click.option("--from", "start", metavar="INSTANT", help="First instant, as 2026-06-14T10:32-04:00."),
        click.option("--to", "end", metavar="INSTANT", help="Last instant."),
        click.option("--event", metavar="NAME", help="Instead: around the event mark (EVE) of this name."),
        click.option("--roll", type=float, metavar="DEG", help="Starboard down is positive."),
        click.option("--pitch", type=float, metavar="DEG", help="Bow up is positive."),
        click.option("--mark", metavar="TEXT", help="Instead of fixes: a known mark, in any notation."),
        click.option("--mark-r95", metavar="LENGTH", help="95 % radius of the marks' own coordinates."),
        click.option("--range", "range_", metavar="LENGTH", help="Horizontal range from the mark."),
        click.option("--bearing", metavar="TEXT", help='From the mark, as "118.5 true" or "127 magnetic".'),
        click.option(
            "--variation",
            type=float,
            metavar="DEG",
            help="Magnetic variation, east positive; else by the model.",
        ),
        click.option(
            "--range-from",
            "ranges",
            metavar="TEXT=LENGTH",
            multiple=True,
            help="Instead: a mark and the range to it; two or three of these.",
        ),
        click.option("--range-u95", metavar="LENGTH", help="Of every range, 95 %; else 0.5 m."),
        click.option("--near", metavar="TEXT", help="Roughly where, to tell two answers apart."),
        click.option(
            "--acoustic",
            metavar="TEXT",
            help='Slant range, bearing and depression, as "20 m, 30 relative, 60".',
        ),
        click.option(
            "--buoy-line", metavar="LENGTH", help="The fix is of a buoy on this much line to the module."
        ),
        click.option("--current", metavar="TEXT", help='As "0.5 m/s toward 120" (true).'),
    )
    return day_options(function)


def _accepting(function: Any, *options: Any) -> Any:
    for option in reversed(options):
        function = option(function)
    return function


def survey_given(line: Mapping[str, Any]) -> bool:
    """Tell whether anything of `survey_options` was given."""
    names = {option.name for option in _declared()}
    return any(line.get(name) not in (None, (), "") for name in names)


def _declared() -> Sequence[click.Parameter]:
    def nothing() -> None: ...

    survey_options(nothing)
    declared: Sequence[click.Parameter] = nothing.__click_params__  # type: ignore[attr-defined]
    return declared


@dataclass(slots=True, kw_only=True)
class Logs:
    """Receiver logs, read once for however many modules."""

    files: tuple[Any, ...]
    contents: Sequence[bytes]
    log: Any
    day: str
    _unpacked: dict[int, bytes] = field(default_factory=dict)

    def unpacked(self, number: int) -> bytes:
        """Give the bytes of one log, unpacked once if it is packed."""
        from registry.formats.nmea_framing import unpacked

        if number not in self._unpacked:
            self._unpacked[number] = b"".join(unpacked([self.contents[number]], []))
        return self._unpacked[number]


def surveyed_position(
    *, at: datetime | None = None, logs: Logs | None = None, least_fixes: int = 1, **line: Any
) -> Any:
    """Derive the position of a survey, and keep it with all that it was derived from."""
    from registry.actions.derive_survey import derive_survey
    from registry.records.surveyed_position import SurveyedPosition

    survey = survey_of(at=at, logs=logs, **line)
    return SurveyedPosition(survey=survey, derivation=derive_survey(survey, least_fixes=least_fixes))


def survey_of(
    *,
    frame: str,
    epoch: float | None,
    zone: str | None,
    at: datetime | None = None,
    logs: Logs | None = None,
    depth_elsewhere: bool = False,
    **line: Any,
) -> Any:
    """
    Read the options of `survey_options` as a survey.

    Parameters
    ----------
    frame, epoch, zone
        Of every coordinate in it, and of times that state none.
    at : datetime, optional
        Touch-down: fixes are taken around it where no window and no mark is given.
    logs : Logs, optional
        Where they were read already.
    depth_elsewhere : bool
        True where ``--depth`` has another use beside the descent.
    **line
        The options, with "receiver" and "depth".

    Raises
    ------
    RequestError
        If one of them cannot be read, or they do not go together.
    """
    from registry.formats.written_motion import read_current, read_speed
    from registry.records.survey import Buoy, Descent, Survey

    depth = length(line["depth"])
    if (line["buoy_line"] or line["fall_speed"]) and depth is None:
        raise click.UsageError("--buoy-line and --fall-speed need --depth.")
    if depth is not None and not (depth_elsewhere or line["buoy_line"] or line["fall_speed"]):
        raise click.UsageError("--depth goes with --buoy-line or --fall-speed.")
    line_length, near = length(line["buoy_line"]), None
    if line["near"] is not None:
        point = _point(line["near"], frame, 0.0, "")
        near = (point.lon_deg, point.lat_deg)
    if line["files"] and logs is None:
        logs = read_logs(line["files"], line["day"])
    return Survey(
        frame=frame,
        epoch=epoch,
        logged=_logged(logs, zone=zone, at=at, **line) if logs is not None else None,
        sighting=_sighting(frame, line),
        ranges=_ranges(frame, line),
        near=near,
        lever=_lever(line),
        acoustic=_acoustic(line["acoustic"]),
        buoy=Buoy(depth_m=depth.value, line_m=line_length.value) if depth and line_length else None,
        descent=Descent(depth_m=depth.value, fall_speed_mps=read_speed(line["fall_speed"]))
        if depth and line["fall_speed"]
        else None,
        current=read_current(line["current"]) if line["current"] else None,
        variation_east_deg=line["variation"],
    )


def read_logs(files: Sequence[Path], day_text: str | None) -> Logs:
    """
    Read receiver logs whole.

    Raises
    ------
    UnreadableFileError
        If one cannot be read, or there is no whole sentence in them.
    TimeTextError
        If the day cannot be read.
    """
    from registry.errors import UnreadableFileError
    from registry.formats.nmea_log import read_nmea_logs
    from registry.formats.written_instant import read_day
    from registry.records.survey import LogFile
    from registry.storage.files import read_file

    contents = [read_file(path) for path in files]
    day = read_day(day_text) if day_text else None
    with click.progressbar(
        length=sum(len(content) for content in contents),
        label="Reading the log",
        file=sys.stderr,
        hidden=not sys.stderr.isatty(),
    ) as bar:
        log = read_nmea_logs([_pieces(content, bar) for content in contents], day=day)
    if not log.account.sentences:
        names = ", ".join(str(path) for path in files)
        what = f"{names}: no sentence with a correct checksum, {log.account.bad_checksums} with a wrong one."
        raise UnreadableFileError(what, remedy="Give the receiver's own log, as it was recorded.")
    known = tuple(
        LogFile(name=path.name, sha256=hashlib.sha256(content).hexdigest())
        for path, content in zip(files, contents, strict=True)
    )
    return Logs(files=known, contents=contents, log=log, day=day.isoformat() if day else "")


def _logged(logs: Logs, *, zone: str | None, at: datetime | None, **line: Any) -> Any:
    from registry.formats.fix_window import AROUND_S, fixes_in, window_around, window_between
    from registry.formats.written_instant import read_instant

    if not line["receiver"]:
        raise click.UsageError(
            "--fixes needs --receiver CLASS: a log does not tell how good its receiver is."
        )
    around_s = AROUND_S if line["around"] is None else line["around"]
    if line["event"] and (line["start"] or line["end"]):
        raise click.UsageError("Give --event, or --from and --to, not both.")
    start_s, end_s = (
        read_instant(text, zone).timestamp() if text else None for text in (line["start"], line["end"])
    )
    if line["event"]:
        middle_s = _event_s(logs.log.events, line["event"])
        window = window_around(middle_s, around_s=around_s, called=f"the mark {line['event']}")
    elif start_s is None and end_s is None and at is not None:
        window = window_around(at.timestamp(), around_s=around_s, called="touch-down")
    else:
        window = window_between(start_s, end_s)
    return fixes_in(
        window,
        logs.log,
        receiver=line["receiver"],
        files=logs.files,
        unpacked=logs.unpacked,
        day=logs.day,
    )


def _pieces(content: bytes, bar: Any) -> Iterator[bytes]:
    for start in range(0, len(content), _PIECE):
        piece = content[start : start + _PIECE]
        yield piece
        bar.update(len(piece))


def _event_s(events: Sequence[Any], tag: str) -> float:
    from registry.errors import NotFoundError, RequestError

    mine = [event for event in events if event.tag == tag]
    if not mine:
        known = ", ".join(sorted({event.tag for event in events})) or "none"
        raise NotFoundError(f"The log has no event mark {tag}.", remedy=f"Marks in it: {known}.")
    if len(mine) > 1:
        what = f"The log has {len(mine)} event marks {tag}."
        raise RequestError(what, remedy="Give --from and --to instead.")
    at = float(mine[0].time_s)
    if math.isnan(at):
        raise RequestError(f"Nothing tells the day of the event mark {tag}.", remedy="Give --day.")
    return at


def _lever(line: dict[str, Any]) -> Any:
    from registry.formats.written_lever import read_lever_arm

    if line["lever"] is None:
        return None
    return read_lever_arm(
        line["lever"],
        u95=line["lever_u95"],
        heading_deg=line["heading"],
        heading_u95_deg=line["heading_u95"],
        roll_deg=line["roll"],
        pitch_deg=line["pitch"],
        attitude_u95_deg=line["attitude_u95"],
    )


def _sighting(frame: str, line: dict[str, Any]) -> Any:
    from registry.formats.written_motion import read_bearing
    from registry.records.survey import Sighting

    given = [line["mark"], line["range_"], line["bearing"]]
    if not any(given):
        return None
    if not all(given):
        raise click.UsageError("--mark, --range and --bearing go together.")
    distance, doubt = length(line["range_"]), length(line["range_u95"])
    assert distance is not None
    mark = _point(line["mark"], frame, _mark_r95_m(line), "the mark")
    stated = {"range_u95_m": doubt.value} if doubt else {}
    return Sighting(mark=mark, range_m=distance.value, bearing=read_bearing(line["bearing"]), **stated)


def _ranges(frame: str, line: dict[str, Any]) -> tuple[Any, ...]:
    from registry.formats.written_quantity import read_length
    from registry.records.survey import MarkRange

    doubt = length(line["range_u95"])
    stated = {"range_u95_m": doubt.value} if doubt else {}
    ranges = []
    for number, text in enumerate(line["ranges"], start=1):
        where, separator, far = text.rpartition("=")
        if not separator:
            raise click.UsageError(f'“{text}”: write --range-from as "34 01.250 N 077 20.110 W = 23.7 m".')
        mark = _point(where, frame, _mark_r95_m(line), f"mark {number}")
        ranges.append(MarkRange(mark=mark, range_m=read_length(far).value, **stated))
    return tuple(ranges)


def _mark_r95_m(line: dict[str, Any]) -> float:
    stated = length(line["mark_r95"])
    if stated is None:
        raise click.UsageError("A mark needs --mark-r95: how well its own coordinates are known.")
    return float(stated.value)


def _point(text: str, frame: str, r95_m: float, name: str) -> Any:
    from registry.errors import FrameError
    from registry.formats.written_position import read_position
    from registry.measure.datum import resolve
    from registry.records.survey import FixedPoint

    written = read_position(text)
    if written.frame is not None and resolve(written.frame).base != resolve(frame).base:
        what = f"“{text.strip()}” is in {resolve(written.frame).name}, the survey in {resolve(frame).name}."
        raise FrameError(what, remedy="Give every coordinate of a survey in one frame.")
    return FixedPoint(
        lon_deg=written.lon_deg, lat_deg=written.lat_deg, r95_m=r95_m, name=name, written=written
    )


def _acoustic(text: str | None) -> Any:
    from registry.formats.written_motion import read_bearing
    from registry.formats.written_quantity import read_length
    from registry.records.survey import AcousticFix

    if text is None:
        return None
    parts = text.split(",")
    try:
        slant, bearing, depression = parts[0], parts[1], float(parts[2])
    except (IndexError, ValueError):
        parts = []
    if len(parts) != 3:
        raise click.UsageError(
            '--acoustic takes slant range, bearing, depression, as "20 m, 30 relative, 60".'
        )
    return AcousticFix(
        slant_m=read_length(slant).value, bearing=read_bearing(bearing), depression_deg=depression
    )
