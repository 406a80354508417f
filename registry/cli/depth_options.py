"""Depths off instruments and their tides, as options of a command, and those options read."""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from registry.cli.options import length

if TYPE_CHECKING:
    from registry.formats.noted_sounding import DepthFiles

__all__ = ["SAID", "depth_files", "depth_options", "sounding_of"]

#: What is said of an instrument, by the names of its options.
SAID = (
    "sounder_speed",
    "transducer",
    "set_draft",
    "draft",
    "water",
    "index_error",
    "gauge_setting",
    "above_water",
    "pressure",
    "air",
    "above_seabed",
    "chart_datum",
    "chart_zone",
)
_BESIDE = (
    "depth_when",
    "cast",
    "tide_u95",
    "tide_gauge",
    "tide_datum",
    "tide_zone",
    "tide_unit",
    "tide_station",
)


def depth_options(function: Any) -> Any:
    """Accept which instrument read a depth, what it needs, and where its tide comes from."""
    options = (
        click.option(
            "--depth-kind",
            metavar="KIND",
            help="What read --depth: echo, gauge, lead, pressure or chart. Its chain is then derived.",
        ),
        click.option("--depth-when", metavar="INSTANT", help="When it was read, if not at touch-down."),
        click.option("--sounder-speed", metavar="SPEED", help='echo: sound speed set in it, as "1500 m/s".'),
        click.option("--transducer", metavar="FROM", help="echo: it counts from transducer or waterline."),
        click.option("--set-draft", metavar="LENGTH", help="echo: draft keyed in, where from waterline."),
        click.option("--draft", metavar="LENGTH", help="echo: transducer below the waterline."),
        click.option("--water", metavar="T,S", help='echo: °C and salinity, as "18.5,35.1".'),
        click.option(
            "--cast",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="echo: instead of --water, a cast (CSV).",
        ),
        click.option("--gauge-setting", metavar="S", help="gauge: en13319, msw, fsw or fresh."),
        click.option("--index-error", metavar="LENGTH", help="echo, gauge: by how much it reads too deep."),
        click.option("--above-water", metavar="LENGTH", help="lead: height of the reading hand."),
        click.option("--pressure", metavar="P", help='pressure: as "30.2 dbar", instead of --depth.'),
        click.option("--air", metavar="P", help='pressure: the air in it, as "1013 hPa", or "zeroed".'),
        click.option("--above-seabed", metavar="LENGTH", help="pressure: height of the sensor."),
        click.option("--chart-datum", metavar="NAME", help="chart: datum of its soundings, as MLLW."),
        click.option("--chart-zone", metavar="ZOC", help="chart: A1, A2, B or C; else --depth-u95."),
        click.option("--tide-u95", metavar="LENGTH", help="Of a stated --tide, 95 %; else 0.3 m."),
        click.option(
            "--tide-gauge",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Instead of --tide: observed heights (CSV).",
        ),
        click.option("--tide-datum", metavar="NAME", help="Datum of that file, where it does not say."),
        click.option("--tide-zone", metavar="TZ", help="Zone of that file, where it does not say."),
        click.option("--tide-unit", metavar="UNIT", help="Unit of that file, where it does not say."),
        click.option(
            "--tide-station",
            metavar="FILE",
            type=click.Path(path_type=Path),
            help="Instead: predict by the constants of a station (TOML).",
        ),
    )
    for option in reversed(options):
        function = option(function)
    return function


def depth_files(line: Mapping[str, Any]) -> "DepthFiles":
    """
    Read the files that `depth_options` name.

    Raises
    ------
    LeadlineError
        If one cannot be read or understood.
    """
    from registry.formats.gauge_table import read_gauge_table
    from registry.formats.noted_sounding import DepthFiles
    from registry.formats.sound_cast import read_sound_cast
    from registry.formats.tide_station_file import read_tide_station
    from registry.storage.files import read_file

    files: dict[str, Any] = {}
    cast: Any = None
    tide: Any = None

    def content_of(path: Path, what: str) -> bytes:
        content = read_file(path)
        files[what] = {"file": path.name, "sha256": hashlib.sha256(content).hexdigest()}
        return content

    if line["tide_gauge"] and line["tide_station"]:
        raise click.UsageError("Give --tide-gauge or --tide-station, not both.")
    if not line["tide_gauge"]:
        for name in ("tide_datum", "tide_zone", "tide_unit"):
            if line[name]:
                raise click.UsageError(f"--{name.replace('_', '-')} goes with --tide-gauge.")
    if line["cast"]:
        profile = read_sound_cast(content_of(line["cast"], "cast"), source=line["cast"].name)
        files["cast"]["rows_left_out"] = len(profile.rejected)
        cast = profile.cast
    if line["tide_gauge"]:
        table = read_gauge_table(
            content_of(line["tide_gauge"], "tide gauge"),
            source=line["tide_gauge"].name,
            datum=line["tide_datum"],
            zone=line["tide_zone"],
            unit=line["tide_unit"],
        )
        files["tide gauge"]["rows_left_out"] = len(table.rejected)
        tide = table.readings
    elif line["tide_station"]:
        tide = read_tide_station(content_of(line["tide_station"], "tide station"))
    return DepthFiles(cast=cast, tide=tide, files=files)


def sounding_of(line: Mapping[str, Any], *, at: datetime | None, zone: str | None) -> Any:
    """
    Read the options of `depth_options`, with ``depth``, ``depth_u95`` and ``tide``, as a sounding.

    Parameters
    ----------
    line : mapping
        The options.
    at : datetime or None
        When the depth was read, where ``depth_when`` does not say; None where nothing tells.
    zone : str or None
        Of ``depth_when``.

    Returns
    -------
    Sounding or None
        None where no kind of instrument is named.

    Raises
    ------
    LeadlineError
        If something cannot be read.
    UsageError
        If an instrument is described without its kind.
    """
    if not line["depth_kind"]:
        given = [name for name in (*SAID, *_BESIDE) if line[name]]
        if given:
            option = f"--{given[0].replace('_', '-')}"
            raise click.UsageError(f"{option} goes with --depth-kind: say which instrument read the depth.")
        return None
    if line["depth_when"]:
        from registry.formats.written_instant import read_instant

        at = read_instant(line["depth_when"], zone)
    if at is None:
        raise click.UsageError("--depth-kind needs to know when the depth was read: give --depth-when.")
    from registry.formats.noted_sounding import sounding_from

    read = depth_files(line)
    for note in read.notes:
        click.echo(note, err=True)
    return sounding_from(
        line["depth_kind"],
        {name: line[name] for name in SAID if line[name]},
        read,
        depth=length(line["depth"]),
        u95=length(line["depth_u95"]),
        tide=length(line["tide"]),
        tide_u95=length(line["tide_u95"]),
        at=at,
    )
