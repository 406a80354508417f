"""``leadline new``: a new registry."""

import click

from registry.cli.answer import print_json, print_lines
from registry.cli.options import actor_name, actor_option, json_option, registry_option, registry_path


@click.command("new")
@click.option("--programme", required=True, metavar="NAME", help="Name of the programme, as on its papers.")
@click.option("--frame", metavar="CODE", help="Plate-fixed home frame, as EPSG:6318.")
@click.option("--near", metavar="TEXT", help="Where it works: proposes home frames, and makes nothing.")
@click.option("--zone", default="UTC", show_default=True, metavar="TZ", help="IANA zone of the programme.")
@actor_option
@json_option
@registry_option
@click.pass_context
def command(
    ctx: click.Context,
    /,
    programme: str,
    frame: str | None,
    near: str | None,
    zone: str,
    actor: str | None,
    as_json: bool,
) -> None:
    """
    Make a new registry, its signing key and the module types that ship with Leadline.

    The key lies outside the registry, in $LEADLINE_KEYS or ~/.config/leadline/keys: back it up apart.

    \b
    Example:
      leadline new --programme "Marram Coast Memorial Reefs" --frame EPSG:6318 --zone America/New_York
    """
    import base64

    from registry.actions.open_programme import add_module_types, checked_programme
    from registry.errors import ConflictError, UnwritableError
    from registry.formats.module_table import read_module_types
    from registry.measure.datum import resolve
    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import create_registry
    from registry.storage.keys import create_key, key_folder
    from registry.storage.shipped import shipped_text

    if frame is None:
        if near is None:
            what = "Give the home frame with --frame, or --near TEXT to have some proposed."
            raise click.UsageError(what, ctx)
        ctx.exit(_propose(near, as_json=as_json))
    if near is not None:
        raise click.UsageError("--near only proposes frames: leave it out where --frame is given.", ctx)
    path = registry_path(ctx)
    if path.exists():
        raise ConflictError(f"{path} exists already.", remedy="Choose another name with --registry PATH.")
    if not path.absolute().parent.is_dir():
        what = f"There is no folder {path.absolute().parent} to make the registry in."
        raise UnwritableError(what, remedy="Make the folder first, or choose another.")
    # Checked before a key is made, so that a slip leaves nothing behind.
    checked_programme(name=programme, frame=frame, zone=zone, key_id="", public_key="")
    key = create_key()
    record = checked_programme(
        name=programme,
        frame=frame,
        zone=zone,
        key_id=key.key_id,
        public_key=base64.urlsafe_b64encode(key.public_key).rstrip(b"=").decode(),
    )
    who = actor_name(actor)
    types = read_module_types(shipped_text("module_types.csv"))
    register = ctx.with_resource(create_registry(path, record, actor=who, clock=SystemClock()))
    add_module_types(register, types, actor=who)
    if as_json:
        print_json(
            {
                "registry": str(path),
                "programme": record.name,
                "frame": record.frame,
                "zone": record.zone,
                "key": key.key_id,
                "key_folder": str(key_folder()),
            }
        )
        return
    click.echo(f"Made {path} for {record.name}.")
    click.echo(f"  Home frame  {resolve(record.frame).name} ({record.frame}), epoch {record.frame_epoch:g}")
    click.echo(f"  Zone        {record.zone}")
    click.echo(f"  Signing key {key_folder()}/{key.key_id}.pem  (keep a copy in a safe place)")
    print_lines("Note", key.notes)
    click.echo("Next: leadline permit add PERMIT.toml")


def _propose(near: str, *, as_json: bool) -> int:
    """Tell which home frames serve a place; choosing one is for a person, once and for decades."""
    from registry.errors import NotFoundError, RequestError
    from registry.formats.written_position import read_position
    from registry.measure.home_region import propose_home_frames

    place = read_position(near)
    found = propose_home_frames(place.lon_deg, place.lat_deg)
    if not found:
        what = f"No home frame is known here for “{near.strip()}”."
        raise NotFoundError(what, remedy="Ask the survey office of the country, and give --frame.")
    if as_json:
        told = [{"frame": row.code, "name": row.name, "epoch": row.epoch} for row in found]
        print_json({"error": "No home frame was chosen.", "readings": [], "proposals": told})
    else:
        click.echo(f"Home frames for {near.strip()}, the usual one first; nothing was made:")
        for row in found:
            click.echo(f"  --frame {row.code:<11} {row.name}, epoch {row.epoch:g}")
    return RequestError.exit_code
