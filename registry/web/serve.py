"""``leadline serve``: the pages and the HTTP interface, over one registry file."""

import json
import os
import socket
from pathlib import Path
from typing import Any

import click

from registry.errors import RequestError, UnavailableError
from registry.web.serve_live import listening_to, live_options, live_source

__all__ = ["command"]


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS", help="Where to listen.")
@click.option("--port", default=8417, show_default=True, type=click.IntRange(0, 65535), help="Which port.")
@click.option("--tls", is_flag=True, help="Serve under TLS with a certificate of this boat's own.")
@click.option("--boat", is_flag=True, help="Let crews on the local network come in by PIN.")
@click.option(
    "--behind-proxy",
    metavar="ADDRESS",
    help="A proxy before this program that ends TLS; its word for who calls is taken.",
)
@live_options
@click.option("--json", "as_json", is_flag=True, help="Say where it listens as one JSON document.")
@click.option("--registry", "named", metavar="PATH", help="The registry file.")
@click.pass_context
def command(
    ctx: click.Context,
    /,
    host: str,
    port: int,
    named: str | None,
    behind_proxy: str | None,
    *,
    tls: bool,
    boat: bool,
    as_json: bool,
    **receiver: Any,
) -> None:
    """
    Serve the registry to browsers: the boat's tablet, the office, the officer, families and the public.

    It listens on this machine alone unless told otherwise. The first account is made with leadline user add.

    \b
    Example:
      leadline serve --host 192.168.8.1 --boat --tls
      leadline serve --host 192.168.8.1 --boat --listen 192.168.8.20:10110 --receiver sbas --frame EPSG:4326
    """
    import uvicorn

    from registry.storage.clock import SystemClock
    from registry.storage.geopackage import open_register
    from registry.web.application import make_application
    from registry.web.settings import Settings

    known = named or ctx.find_root().meta.get("registry") or os.environ.get("LEADLINE_REGISTRY")
    registry = Path(known or "leadline.gpkg")
    clock = SystemClock()
    with open_register(registry, clock=clock, writable=False) as register:
        told: dict[str, Any] = {"programme": register.programme().name, "registry": str(registry)}
    live = live_source(registry, clock, **receiver)
    settings = Settings(
        registry=registry, clock=clock, secure=tls or bool(behind_proxy), boat=boat, live=live
    )
    listening = _listening(host, port)
    certificate: dict[str, Any] = {}
    if tls:
        from registry.storage.boat_certificate import boat_certificate

        made = boat_certificate(registry, host=host, clock=clock)
        certificate = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
        told |= {"certificate": str(made.certificate), "sha256": made.fingerprint}
    shown = f"[{host}]" if ":" in host else host
    told["address"] = f"{'https' if tls else 'http'}://{shown}:{listening.getsockname()[1]}/"
    if as_json:
        click.echo(json.dumps(told, ensure_ascii=False))
    else:
        click.echo(f"Serving {told['programme']} from {registry}.")
        if tls:
            click.echo(f"Certificate of this boat: {told['certificate']}\n  SHA-256 {told['sha256']}")
        click.echo(f"{told['address']} (Ctrl-C ends it)")
    config = uvicorn.Config(
        make_application(settings),
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=behind_proxy is not None,
        forwarded_allow_ips=behind_proxy or "127.0.0.1",
        timeout_graceful_shutdown=5,
        **certificate,
    )
    with listening_to(live):
        uvicorn.Server(config).run(sockets=[listening])


def _listening(host: str, port: int) -> socket.socket:
    """Take the port, so that one that is taken or an address of another machine is told before all else."""
    try:
        family, kind, *_, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        listening = socket.socket(family, kind)
    except (OSError, UnicodeError) as error:
        what = f"{host!r} is no address of this machine."
        raise RequestError(what, remedy="Give --host an address, as 127.0.0.1 or 192.168.8.1.") from error
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(address)
        listening.listen(128)
    except OSError as error:
        listening.close()
        what = f"Nothing can listen at {host} port {port}: {error.strerror}."
        remedy = "Give another --port (0 takes a free one) or --host, or end what listens there."
        raise UnavailableError(what, remedy=remedy) from error
    return listening
