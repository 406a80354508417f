"""``leadline export``: files for plotters, phones and desktop GIS."""

from pathlib import Path
from typing import Any

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

FORMATS = ("gpx", "kml", "geojson", "csv", "gpkg", "shp")


@click.command("export")
@click.option("--format", "form", required=True, type=click.Choice(FORMATS), help="What to write.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The file.")
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, form: str, out: Path, as_json: bool) -> None:
    """
    Write what the public may see, in WGS 84 at the epoch of today: GPX 1.1, KML, RFC 7946 GeoJSON, CSV,
    GeoPackage, or Shapefile (zipped).

    \b
    Example:
      leadline export --format gpx --out reef.gpx
    """
    from registry.actions.publish_site import publish_site

    target = output_file(ctx, _with_suffix(form, output_file(ctx, out)))
    site = publish_site(open_for_reading(ctx), now=now())
    path = _write(form, site, target)
    if as_json:
        print_json(
            {
                "file": str(path),
                "format": form,
                "modules": len(site.modules),
                "frame": "WGS 84 (ITRF2020)",
                "epoch": site.epoch,
            }
        )
        return
    click.echo(f"Wrote {path}: {len(site.modules)} modules, WGS 84 (ITRF2020), epoch {site.epoch:.1f}.")
    click.echo("Not for navigation: use official charts and notices.")


def _with_suffix(form: str, out: Path) -> Path:
    """Give a layered file the ending that its format is known by."""
    suffix = {"gpkg": ".gpkg", "shp": ".zip"}.get(form, "")
    return out if out.suffix.lower() == suffix or not suffix else out.with_name(out.name + suffix)


def _write(form: str, site: Any, out: Path) -> Path:
    from registry.storage.files import write_file

    if form in {"gpkg", "shp"}:
        from registry.storage.exports import write_layers

        write_layers(site, out)
        return out
    if form == "gpx":
        from registry.formats.gpx import write_gpx

        return write_file(out, write_gpx(site))
    if form == "kml":
        from registry.formats.kml import write_kml

        return write_file(out, write_kml(site))
    if form == "geojson":
        from registry.formats.geojson import write_geojson

        return write_file(out, write_geojson(site).encode())
    from registry.formats.module_list import write_module_list

    return write_file(out, write_module_list(site))
