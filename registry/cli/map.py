"""``leadline map``: the public map as one file."""

from pathlib import Path

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option

#: Whose work the page carries.
LICENSED = ("leaflet", "leaflet.markercluster", "world-atlas")


@click.command("map")
@click.option("--out", required=True, type=click.Path(path_type=Path), metavar="FILE.html", help="The file.")
@json_option
@registry_option
@click.pass_context
def command(ctx: click.Context, out: Path, as_json: bool) -> None:
    """
    Write the public map: one HTML file that opens from disk without any network.

    Names appear only where the family agreed to be listed.

    \b
    Example:
      leadline map --out reef.html
    """
    from registry.actions.publish_site import publish_site
    from registry.documents.map import MapAssets, render_map
    from registry.storage.files import write_file
    from registry.storage.shipped import shipped_text

    output_file(ctx, out)
    site = publish_site(open_for_reading(ctx), now=now())
    assets = MapAssets(
        leaflet_js=shipped_text("vendor/leaflet.js"),
        leaflet_css=shipped_text("vendor/leaflet.css"),
        cluster_js=shipped_text("vendor/leaflet.markercluster.js"),
        cluster_css=shipped_text("vendor/leaflet.markercluster.css"),
        coast=shipped_text("coast.geojson"),
        coast_world=shipped_text("coast_world.geojson"),
        licences="\n\n".join(shipped_text(f"vendor/{name}.LICENSE.txt") for name in LICENSED),
    )
    page = render_map(site, assets)
    path = write_file(out, page.encode())
    if as_json:
        print_json({"file": str(path), "modules": len(site.modules), "bytes": len(page.encode())})
        return
    click.echo(f"Wrote {path} with {len(site.modules)} modules ({len(page.encode()) / 1e6:.2f} MB).")
