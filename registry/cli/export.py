"""``leadline export``: files for plotters, phones and desktop GIS, and a list to print."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option
from registry.cli.publication_options import asked_publication, publication_options
from registry.errors import RequestError

if TYPE_CHECKING:
    from registry.desk.public_files import Degrees
    from registry.documents.paper import Paper

FORMATS = ("gpx", "kml", "geojson", "csv", "pdf", "gpkg", "shp")
#: Which formats an option is for: in the others it would change nothing.
FOR = {
    "--longest-name": ("gpx", "kml", "csv", "pdf"),
    "--notation": ("csv", "pdf"),
    "--paper": ("pdf",),
}


@click.command("export")
@click.option("--format", "form", required=True, type=click.Choice(FORMATS), help="What to write.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The file.")
@click.option(
    "--longest-name",
    type=click.IntRange(min=1),
    metavar="N",
    help="Cut names to what a plotter shows, no two alike (gpx, kml, csv, pdf).",
)
@click.option(
    "--notation",
    type=click.Choice(["dd", "ddm", "dms"]),
    help="Of positions (csv: dd unless given; pdf: ddm unless given).",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="The sheet (pdf: a4 unless given).")
@publication_options
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    form: str,
    out: Path,
    longest_name: int | None,
    notation: str | None,
    paper: str | None,
    sites_only: bool,
    rounded: str | None,
    as_json: bool,
) -> None:
    """
    Write what the public may see, in WGS 84 at the epoch of today, each position with its R95: GPX 1.1 with
    waypoints and a route for each site, KML, RFC 7946 GeoJSON, CSV, a list to print (PDF), GeoPackage, or
    Shapefile (zipped).

    Names of memorials appear only where the family agreed. --sites-only and --rounded show less than the
    programme declared (leadline publication), this once; more is refused.

    \b
    Example:
      leadline export --format gpx --longest-name 10 --out reef.gpx
      leadline export --format csv --notation ddm --out reef.csv
      leadline export --format pdf --paper letter --out reef.pdf
    """
    from registry.actions.publish_site import publish_site

    given = {"--longest-name": longest_name, "--notation": notation, "--paper": paper}
    for option, value in given.items():
        if value is not None and form not in FOR[option]:
            what = f"{option} changes nothing in {form}."
            raise RequestError(what, remedy=f"Leave it out; it is for {', '.join(FOR[option])}.")
    asked = asked_publication(sites_only=sites_only, rounded=rounded)
    target = output_file(ctx, _with_suffix(form, output_file(ctx, out)))
    site = publish_site(open_for_reading(ctx), now=now(), asked=asked)
    path = _write(form, site, target, longest_name, notation, paper)
    sites = sum(1 for area in site.areas if area.module_count)
    if as_json:
        print_json(
            {
                "file": str(path),
                "format": form,
                "modules": len(site.modules),
                "sites": sites,
                "sites_only": site.published.sites_only,
                "rounded_m": site.published.rounded_m,
                "frame": "WGS 84 (ITRF2020)",
                "epoch": site.epoch,
            }
        )
        return
    shown = _counted(sites, "site") if site.published.sites_only else _counted(len(site.modules), "module")
    click.echo(f"Wrote {path}: {shown}, WGS 84 (ITRF2020), epoch {site.epoch:.1f}.")
    if site.published.words:
        click.echo(site.published.words)
    click.echo("Not for navigation: use official charts and notices.")


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _with_suffix(form: str, out: Path) -> Path:
    """Give a layered file the ending that its format is known by."""
    suffix = {"gpkg": ".gpkg", "shp": ".zip"}.get(form, "")
    return out if out.suffix.lower() == suffix or not suffix else out.with_name(out.name + suffix)


def _write(
    form: str, site: Any, out: Path, longest_name: int | None, notation: str | None, paper: str | None
) -> Path:
    if form in {"gpkg", "shp"}:
        from registry.storage.exports import write_layers

        write_layers(site, out)
        return out
    from registry.desk.public_files import public_file
    from registry.storage.files import write_file

    content = public_file(
        form,
        site,
        longest_name=longest_name,
        notation=cast("Degrees | None", notation),
        paper=cast("Paper", paper or "a4"),
    )
    return write_file(out, content)
