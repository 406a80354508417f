"""``leadline convert``: any written coordinate into any other."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import EPOCH, json_option, length, output_file, registry_option, use_grid_folder
from registry.errors import LeadlineError, RequestError

#: Names of :data:`registry.formats.printed_notation.NOTATIONS`, without loading it for ``--help``.
NOTATIONS = ("dd", "ddm", "dms", "utm", "mgrs", "iso6709", "geo")
COLUMNS = ("latitude_deg", "longitude_deg", "r95_m", "frame", "epoch", "operation", "accuracy_m", "warnings")


class _SignedText(click.Command):
    """A command whose argument may begin with a minus sign, as positions south of the equator do."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Put the signed argument where it cannot be taken for an option."""
        signed = [word for word in args if re.match(r"-[0-9]", word)]
        if len(signed) == 1 and "--" not in args:
            args = [word for word in args if word not in signed] + ["--", *signed]
        return super().parse_args(ctx, args)


@click.command("convert", cls=_SignedText)
@click.argument("text", required=False)
@click.option("--csv", "file", type=click.Path(path_type=Path), metavar="FILE", help="A spreadsheet instead.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="NAME",
    help="Column of the position; given twice, latitude and longitude.",
)
@click.option("--from", "source", metavar="FRAME", help="Frame of the text, where it does not say it itself.")
@click.option("--epoch", type=EPOCH, metavar="YEAR", help="Epoch of the coordinates given, as 2026.5.")
@click.option("--to", "target", required=True, metavar="FRAME", help="Frame or grid wanted, as EPSG:6318.")
@click.option("--to-epoch", type=EPOCH, metavar="YEAR", help="Epoch wanted, where the frame moves.")
@click.option("--on", "day", metavar="DAY", help="The same as a day, as 2026-06-14.")
@click.option(
    "--notation",
    type=click.Choice(NOTATIONS),
    help="How to write it; else as ddm, or the grid that is wanted.",
)
@click.option("--r95", metavar="LENGTH", help='95 % radius of the position, as "2 m", where it is known.')
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Where the spreadsheet goes.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    text: str | None,
    file: Path | None,
    columns: tuple[str, ...],
    source: str | None,
    epoch: float | None,
    target: str,
    to_epoch: float | None,
    day: str | None,
    notation: str | None,
    r95: str | None,
    grids: Path | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """
    Convert TEXT, or a column of a spreadsheet, into another frame, epoch, grid or notation.

    A mark on the sea floor is meant: it rides with its plate between epochs. The operation used is named.
    A spreadsheet gains columns and goes to FILE.converted.csv, or to --out; rows that cannot be converted go
    to FILE.rejected.csv with the reason, and the exit code is 1.

    \b
    Example:
      leadline convert "34 01.250 N 077 20.110 W" --from EPSG:4326 --epoch 2026.5 --to "NAD83(2011)"
      leadline convert "34.02083 -77.33517" --from EPSG:6318 --to EPSG:4326 --on 2056-06-14
      leadline convert "758658.4 3738167.9" --from EPSG:32617 --epoch 2026.5 --to EPSG:6543
      leadline convert "34.02083 -77.33517" --from EPSG:4326 --to EPSG:4326 --notation mgrs
      leadline convert --csv marks.csv --column lat --column lon --from EPSG:4269 --to EPSG:6318
    """
    from registry.actions.convert_position import Conversion, convert_position
    from registry.formats.written_position import read_position

    use_grid_folder(grids)
    stated_r95 = length(r95)
    asked = Conversion(
        source=source,
        epoch=epoch,
        target=target,
        to_epoch=_epoch_wanted(to_epoch, day),
        r95_m=stated_r95.value if stated_r95 else None,
    )
    in_grid = _grid_of(source)

    def convert(written: str) -> Any:
        # A bare pair of numbers on a grid that is named beside it.
        return convert_position(read_position(f"{in_grid} {written}" if in_grid else written), asked)

    if (text is None) == (file is None):
        raise RequestError("Give one position, or a spreadsheet with --csv.", remedy="See --help for both.")
    if text is not None:
        if columns or out:
            raise RequestError(
                "--column and --out belong to --csv.", remedy="Leave them out for one position."
            )
        converted = convert(text)
        if as_json:
            print_json(_data(converted, notation))
        else:
            _tell(converted, notation)
        return
    assert file is not None
    ctx.exit(_table(ctx, file, columns, out, convert, notation, as_json=as_json))


def _epoch_wanted(to_epoch: float | None, day: str | None) -> float | None:
    if day is None:
        return to_epoch
    if to_epoch is not None:
        raise RequestError("Both --to-epoch and --on are given.", remedy="Give one.")
    from registry.formats.written_instant import read_instant
    from registry.measure.datum import decimal_year

    # A day is enough: the ground moves a tenth of a millimetre in it.
    return round(decimal_year(read_instant(f"{day.strip()}T12:00Z", None)), 4)


def _grid_of(source: str | None) -> str:
    """Give the code of the grid that is named as the frame; empty where it is none."""
    if source is None:
        return ""
    from registry.measure.datum import resolve

    found = resolve(source)
    return found.code if found.projected else ""


def written_out(converted: Any, notation: str | None) -> str:
    """Write a converted position in the notation asked for, else on its grid, else as receivers show it."""
    from registry.formats.printed_notation import write_grid, write_in_notation

    place = converted.position
    if converted.grid is not None and notation is None:
        return write_grid(place.lat_deg, place.lon_deg, grid=converted.grid, r95_m=place.r95_m)
    return write_in_notation(
        place.lat_deg,
        place.lon_deg,
        notation=notation or "ddm",  # type: ignore[arg-type]
        r95_m=place.r95_m,
        frame=converted.target,
        say_radius=converted.radius_known,
    )


def _data(converted: Any, notation: str | None) -> dict[str, Any]:
    from registry.formats.advice_answer import position_answer
    from registry.measure.grid_coordinates import to_grid

    place = converted.position
    grid = None
    if converted.grid is not None:
        easting, northing = to_grid(place.lon_deg, place.lat_deg, converted.grid.code)
        grid = {
            "code": converted.grid.code,
            "name": converted.grid.name,
            "easting": float(easting),
            "northing": float(northing),
            "unit": converted.grid.axis_unit,
        }
    return {
        "text": written_out(converted, notation),
        # Null where nobody stated how good the fix was.
        "position": position_answer(place) | {"r95_m": place.r95_m if converted.radius_known else None},
        "writing_r95_m": place.r95_m,
        "frame_name": converted.target.name,
        "grid": grid,
        "from": {
            "text": converted.written.text,
            "lat": converted.written.lat_deg,
            "lon": converted.written.lon_deg,
            "frame": converted.source.code,
            "epoch": converted.source_epoch,
        },
        "operation": converted.operation,
        "accuracy_m": converted.accuracy_m,
        "software": converted.software,
        "shift": {"distance_m": converted.shift_m, "bearing_deg": converted.shift_bearing_deg},
        "warnings": list(converted.written.warnings),
        "basis": list(converted.basis),
    }


def _named(frame: Any, epoch: float | None) -> str:
    return f"{frame.name} ({frame.code})" + (f", epoch {epoch:g}" if epoch is not None else "")


def _tell(converted: Any, notation: str | None) -> None:
    from registry.measure.digits import metres_decimals, u95_rounded_up_m
    from registry.rules.wording import bearing_text, radius_text

    place = converted.position
    click.echo(written_out(converted, notation))
    grid = f", on {converted.grid.name} ({converted.grid.axis_unit})" if converted.grid else ""
    click.echo(f"  Frame      {_named(converted.target, place.epoch)}{grid}")
    click.echo(f"  From       {_named(converted.source, converted.source_epoch)}")
    click.echo(f"  Operation  {converted.operation}")
    if converted.accuracy_m > 0:
        decimals = metres_decimals(converted.accuracy_m)
        alone = f"{u95_rounded_up_m(converted.accuracy_m):.{decimals}f} m (95 %)"
        click.echo(f"  Accuracy   {alone} of the operation alone; {radius_text(place.r95_m)} in all")
    if converted.shift_m >= 0.0005:
        click.echo(
            f"  Shift      {converted.shift_m:.2f} m toward {bearing_text(converted.shift_bearing_deg)}"
        )
    print_lines("Warnings", converted.written.warnings)
    print_lines("How it was read", converted.basis)


def _table(
    ctx: click.Context,
    file: Path,
    columns: tuple[str, ...],
    out: Path | None,
    convert: Callable[[str], Any],
    notation: str | None,
    *,
    as_json: bool,
) -> int:
    """Convert a column, and give the exit code."""
    from registry.cli.intake import progress_bar
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.csv_table import Row, read_csv_table, write_csv_table
    from registry.storage.files import read_text, write_file

    decoded = read_text(file)
    table = read_csv_table(decoded.text)
    places = _places(table, columns)
    target = output_file(ctx, out or file.with_name(f"{file.name}.converted.csv"))
    if target.resolve() == file.resolve():
        raise RequestError(f"{target} is the file that is being converted.", remedy="Choose another --out.")
    rejects = output_file(ctx, reject_file(file))
    lines: list[list[object]] = []
    rejected: list[tuple[Row, str]] = []
    with progress_bar(table.text.count("\n"), f"Converting {file.name}") as progress:
        for row in table.rows():
            try:
                lines.append([*row.cells, *_cells(convert(_text_of(row, places)), notation)])
            except LeadlineError as error:
                if error.exit_code != RequestError.exit_code:
                    raise  # an absent grid fails every row alike
                rejected.append((row, str(error)))
            progress(1)
    new = [f"{name}_converted" if name in table.header else name for name in ("position", *COLUMNS)]
    path = write_file(target, write_csv_table([*table.written_header, *new], lines).encode("utf-8-sig"))
    kept_in = keep_rejects(rejects, table, rejected, taken=len(lines)) if rejected else None
    if as_json:
        print_json(
            {
                "file": str(path),
                "converted": len(lines),
                "rejected": [{"row": row.number, "reason": reason} for row, reason in rejected],
                "reject_file": str(kept_in) if kept_in else None,
            }
        )
    else:
        click.echo(f"Converted {len(lines)} rows: {path}.{f' {decoded.note}' if decoded.note else ''}")
        if kept_in:
            click.echo(f"Rejected {len(rejected)}; kept with their reasons in {kept_in}:")
            for row, reason in rejected[:20]:
                click.echo(f"  row {row.number}: {reason}")
            if len(rejected) > 20:
                click.echo(f"  … and {len(rejected) - 20} more.")
    return 1 if rejected else 0


def _places(table: Any, columns: tuple[str, ...]) -> list[int]:
    """Find the columns that were named, as typed or as normalised."""
    if not 1 <= len(columns) <= 2:
        what = f"{len(columns)} columns are named."
        raise RequestError(
            what, remedy="Name the column of the position with --column, or latitude and longitude."
        )
    places = []
    for name in columns:
        wanted = name.strip().casefold()
        found = [
            place
            for place, (typed, normal) in enumerate(zip(table.written_header, table.header, strict=True))
            if wanted in (typed.casefold(), normal)
        ]
        if not found:
            what = f"The spreadsheet has no column {name!r}; it has {', '.join(table.written_header)}."
            raise RequestError(what, remedy="Name one of these with --column.")
        places.append(found[0])
    return places


def _text_of(row: Any, places: list[int]) -> str:
    if row.problem is not None:
        raise RequestError(row.problem, remedy="Mend the row.")
    cells = [row.cells[place].strip() for place in places]
    if not all(cells):
        raise RequestError("The row has no position.", remedy="Fill it in.")
    return cells[0] if len(cells) == 1 else f"Lat {cells[0]} Lon {cells[1]}"


def _cells(converted: Any, notation: str | None) -> list[object]:
    from registry.measure.digits import Notation, coordinate_decimals, u95_rounded_up_m

    place = converted.position
    decimals = coordinate_decimals(Notation.DEGREES, place.r95_m)
    return [
        written_out(converted, notation),
        f"{place.lat_deg:.{decimals}f}",
        f"{place.lon_deg:.{decimals}f}",
        u95_rounded_up_m(place.r95_m) if converted.radius_known else None,
        place.frame,
        place.epoch,
        converted.operation,
        round(converted.accuracy_m, 3),
        " ".join(converted.written.warnings),
    ]
