"""``leadline export``: files for plotters, phones and desktop GIS."""

from pathlib import Path
from typing import Any

import click

from registry.cli.options import now, open_for_reading, registry_option

FORMATS = ("gpx", "kml", "geojson", "csv", "gpkg", "shp")


@click.command("export")
@click.option("--format", "form", required=True, type=click.Choice(FORMATS), help="What to write.")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The file.")
@registry_option
@click.pass_context
def command(ctx: click.Context, form: str, out: Path) -> None:
    """
    Write what the public may see, in WGS 84 at the epoch of today: GPX 1.1, KML, RFC 7946 GeoJSON, CSV,
    GeoPackage, or Shapefile (zipped).

    \b
    Example:
      leadline export --format gpx --out reef.gpx
    """
    from registry.actions.publish_site import publish_site
    from registry.cli.options import registry_path
    from registry.errors import ConflictError

    if out.resolve() == registry_path(ctx).resolve():
        raise ConflictError(f"{out} is the registry itself.", remedy="Choose another name with --out.")
    site = publish_site(open_for_reading(ctx), now=now())
    path = _write(form, site, out)
    click.echo(f"Wrote {path}: {len(site.modules)} modules, WGS 84 (ITRF2020), epoch {site.epoch:.1f}.")
    click.echo("Not for navigation: use official charts and notices.")


def _write(form: str, site: Any, out: Path) -> Path:
    from registry.storage.files import write_file

    if form in {"gpkg", "shp"}:
        from registry.storage.exports import write_layers

        suffix = ".gpkg" if form == "gpkg" else ".zip"
        target = out if out.suffix.lower() == suffix else out.with_name(out.name + suffix)
        write_layers(site, target)
        return target
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
