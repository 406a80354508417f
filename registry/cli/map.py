"""``leadline map``: the public map as one file, or with a page for each area as a folder for a web host."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from registry.cli.answer import print_json
from registry.cli.options import json_option, now, open_for_reading, output_file, registry_option
from registry.cli.publication_options import asked_publication, publication_options
from registry.desk.certificate_page import holds_status_page

if TYPE_CHECKING:
    from registry.documents.offline_site import SiteFile


@click.command("map")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE.html",
    help="The file; with --site, the folder.",
)
@click.option("--site", "as_site", is_flag=True, help="Write a folder for a web host, a page for each area.")
@click.option(
    "--language", default="en", metavar="TAG", help="Where a browser runs no script: en, es, fr, de, vi."
)
@publication_options
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    *,
    out: Path,
    as_site: bool,
    language: str,
    sites_only: bool,
    rounded: str | None,
    as_json: bool,
) -> None:
    """
    Write the public map: one HTML file that opens from disk without any network.

    With --site it becomes a folder of static files for any web host: the map, a page for each permit area
    with its facts and files for plotters, and what lets a phone keep all of it for use without a network.
    The folder appears whole, or the older one stays. Readers choose among English, Spanish, French, German
    and Vietnamese in the page. What leadline visitors tells stands on the page of each area.

    Names appear only where the family agreed to be listed. --sites-only and --rounded show less than the
    programme declared (leadline publication), this once; more is refused.

    \b
    Example:
      leadline map --out reef.html
      leadline map --site --out public
    """
    from registry.actions.publish_site import publish_site
    from registry.desk.public_files import map_assets, site_files
    from registry.documents.map import render_map
    from registry.documents.map_words import LANGUAGES
    from registry.formats.written_position import read_position
    from registry.storage.files import write_file

    if language not in LANGUAGES:
        what = f"There is no map in the language {language!r}; there is {', '.join(LANGUAGES)}."
        raise click.BadParameter(what, ctx, param_hint="--language")
    if not as_site:
        output_file(ctx, out)
    site = publish_site(
        open_for_reading(ctx),
        now=now(),
        read_position=read_position if as_site else None,
        asked=asked_publication(sites_only=sites_only, rounded=rounded),
    )
    if as_site:
        files = site_files(site, language=language)
        _write_folder(out, files)
        size = sum(len(file.content) for file in files)
        if as_json:
            told = {"folder": str(out), "files": [file.path for file in files], "modules": len(site.modules)}
            print_json(told | {"areas": len(site.areas), "bytes": size})
            return
        click.echo(
            f"Wrote {out} with {len(site.modules)} modules in {len(site.areas)} areas"
            f" ({len(files)} files, {size / 1e6:.2f} MB)."
        )
        if site.published.words:
            click.echo(site.published.words)
        click.echo("Serve it by https, so that phones may keep it for use without a network.")
        return
    if site.published.words and not as_json:
        click.echo(site.published.words)
    page = render_map(site, map_assets(), language=language)
    path = write_file(out, page.encode())
    if as_json:
        print_json({"file": str(path), "modules": len(site.modules), "bytes": len(page.encode())})
        return
    click.echo(f"Wrote {path} with {len(site.modules)} modules ({len(page.encode()) / 1e6:.2f} MB).")


def _write_folder(out: Path, files: "tuple[SiteFile, ...]") -> None:
    from registry.documents.offline_site import NAMES
    from registry.errors import UnwritableError
    from registry.storage.files import write_file
    from registry.storage.new_folder import new_folder

    front = out / "index.html"
    if holds_status_page(front):
        what = f"{front} is the page of a published list of certificates."
        raise UnwritableError(what, remedy="Name a folder of its own for the map.")
    taken = [name for name in NAMES if (out / name).exists()]
    if taken and "sw.js" not in taken:
        # A folder of somebody's own that bears such a name is not to be replaced by ours.
        what = f"{out} holds {taken[0]}, which is of no earlier site."
        raise UnwritableError(what, remedy="Name a new folder, or that of an earlier site.")
    with new_folder(out, names=NAMES) as draft:
        for folder in sorted({str(Path(file.path).parent) for file in files} - {"."}):
            (draft / folder).mkdir()
        for file in files:
            write_file(draft / file.path, file.content)
