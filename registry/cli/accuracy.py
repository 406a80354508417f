"""``leadline accuracy``: an independent check survey against the registry."""

import hashlib
from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import (
    json_option,
    length,
    open_for_reading,
    output_file,
    registry_option,
    use_grid_folder,
)
from registry.errors import LeadlineError, NotFoundError, RequestError

SHOWN = 20


@click.command("accuracy")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--frame", metavar="CODE", help="Frame of rows that name none, as EPSG:4326.")
@click.option("--when", metavar="INSTANT", help="When rows were observed that do not say; a day is enough.")
@click.option("--r95", metavar="LENGTH", help='95 % radius of the check survey, as "0.2 m".')
@click.option("--receiver", default="", metavar="CLASS", help="Instead of --r95: rtk, float, dgnss, ...")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE", help="Where the plot (SVG) goes.")
@click.option("--grids", metavar="DIR", type=click.Path(path_type=Path), help="Folder with grid files.")
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    file: Path,
    frame: str | None,
    when: str | None,
    r95: str | None,
    receiver: str,
    out: Path | None,
    grids: Path | None,
    as_json: bool,
) -> None:
    """
    Tell from an independent survey of some modules how good the recorded positions are.

    The spreadsheet has the columns tag, position (or lat and lon), when (or date) and, where known, r95 or
    receiver, frame, epoch. Nothing is written to the registry. Exit code: 0 sound; 3 fewer than twenty
    points, outliers, or stated radii that are too small; 1 a row could not be used.

    \b
    Example:
      leadline accuracy checks.csv --frame EPSG:4326 --receiver rtk --out accuracy.svg
    """
    from dataclasses import replace

    from registry.actions.assess_accuracy import assess_accuracy
    from registry.cli.rejects import keep_rejects, reject_file
    from registry.formats.check_survey import read_check_survey, read_time
    from registry.formats.csv_table import read_csv_table
    from registry.records.log_row import LogRow
    from registry.storage.files import decode_text, read_file, write_file

    if r95 and receiver:
        raise RequestError("Both --r95 and --receiver are given.", remedy="State one.")
    use_grid_folder(grids)
    content = read_file(file)
    decoded = decode_text(content, name=str(file))
    table = read_csv_table(decoded.text)
    register = open_for_reading(ctx)
    plot = output_file(ctx, out) if out else None
    if plot is not None and plot.resolve() == file.resolve():
        raise RequestError(f"{plot} is the check survey itself.", remedy="Choose another name with --out.")
    rejects = output_file(ctx, reject_file(file))
    zone = register.programme().zone
    source = {"file": file.name, "sha256": hashlib.sha256(content).hexdigest()}
    at = read_time(when, zone) if when else None
    lines = list(read_check_survey(table, zone=zone, source=source, when=at, frame=frame))
    radius = length(r95)
    readable = [
        (line, row if row.r95 or row.receiver else replace(row, r95=radius, receiver=receiver))
        for line, row in lines
        if isinstance(row, LogRow)
    ]
    rejected = [(line, str(row)) for line, row in lines if isinstance(row, LeadlineError)]
    if rejected and not readable:
        (number, reason), more = (rejected[0][0].number, rejected[0][1]), len(rejected) - 1
        what = f"No row of the check survey can be used. Row {number}: {reason}"
        raise NotFoundError(
            what, remedy=f"Mend that row{f' and {more} more' if more else ''}, and give it again."
        )
    assessment = assess_accuracy(register, [row for _, row in readable])
    rejected += [(readable[index][0], str(error)) for index, error in assessment.errors]
    rejected.sort(key=lambda pair: pair[0].number)
    kept_in = keep_rejects(rejects, table, rejected, taken=0) if rejected else None
    if plot:
        plot = write_file(plot, _plot(assessment, register.programme().name, file).encode())
    if as_json:
        print_json(
            _data(assessment)
            | {
                "rejected": [{"row": line.number, "reason": reason} for line, reason in rejected],
                "reject_file": str(kept_in) if kept_in else None,
                "plot": str(plot) if plot else None,
            }
        )
    else:
        _tell(assessment, decoded.note)
        if plot:
            click.echo(f"Wrote {plot}.")
        if rejected:
            rows = (
                "1 row; kept with its reason"
                if len(rejected) == 1
                else f"{len(rejected)} rows; kept with their reasons"
            )
            click.echo(f"Not used: {rows} in {kept_in}:")
            for line, reason in rejected[:SHOWN]:
                click.echo(f"  row {line.number}: {reason}")
    ctx.exit(1 if rejected else 0 if assessment.sound else 3)


def _plot(assessment: Any, programme: str, file: Path) -> str:
    from registry.documents.accuracy_plot import PlotPoint, draw_accuracy
    from registry.documents.accuracy_words import accuracy_figures

    return draw_accuracy(
        [
            PlotPoint(tag=p.tag, east_m=p.east_m, north_m=p.north_m, outlier=p.outlier)
            for p in assessment.points
        ],
        assessment.accuracy,
        title=f"Check survey of {programme}",
        lines=(
            f"{accuracy_figures(assessment.accuracy)}.",
            _order(assessment),
            f"Check positions from {file.name}. Not for navigation.",
        ),
    )


def _order(assessment: Any) -> str:
    from registry.documents.accuracy_words import order_sentence

    return order_sentence(assessment.accuracy, assessment.order, assessment.order_depth_m)


def _numbers(accuracy: Any) -> dict[str, Any]:
    return {
        "points": accuracy.count,
        "mean_east_m": accuracy.mean_east_m,
        "mean_north_m": accuracy.mean_north_m,
        "rmse_east_m": accuracy.rmse_east_m,
        "rmse_north_m": accuracy.rmse_north_m,
        "rmse_radial_m": accuracy.rmse_radial_m,
        "ratio": accuracy.ratio,
        "nssda_r95_m": accuracy.nssda_r95_m,
        "nssda_formula_holds": accuracy.formula_holds,
        "ellipse_r95_m": accuracy.ellipse_r95_m,
        "enough_points": accuracy.enough,
    }


def _data(assessment: Any) -> dict[str, Any]:
    return {
        "accuracy": _numbers(assessment.accuracy),
        "without_outliers": _numbers(assessment.without_outliers) if assessment.without_outliers else None,
        "s44_order": assessment.order or None,
        "s44_depth_m": assessment.order_depth_m,
        "radii_too_small": assessment.radii_too_small,
        "points": [
            {
                "tag": p.tag,
                "observed_in": p.reference,
                "east_m": p.east_m,
                "north_m": p.north_m,
                "distance_m": p.distance_m,
                "r95_m": p.r95_m,
                "check_r95_m": p.check_r95_m,
                "within": p.within,
                "outlier": p.outlier,
            }
            for p in assessment.points
        ],
        "notes": list(assessment.notes),
    }


def _tell(assessment: Any, note: str) -> None:
    from registry.documents.accuracy_words import accuracy_figures, accuracy_rows

    accuracy = assessment.accuracy
    within = sum(1 for p in assessment.points if p.within)
    many = "1 module" if accuracy.count == 1 else f"{accuracy.count} modules"
    click.echo(f"{many} checked; registry minus check:{f' {note}' if note else ''}")
    for name, value, more in accuracy_rows(accuracy):
        click.echo(f"  {name:<14}  {value}{f'  {more}' if more else ''}")
    click.echo(f"  Within stated radii: {within} of {accuracy.count}")
    if assessment.without_outliers:
        click.echo(f"  Without outliers ({assessment.without_outliers.count}): ", nl=False)
        click.echo(accuracy_figures(assessment.without_outliers))
    click.echo(_order(assessment))
    print_lines("Note", assessment.notes)
