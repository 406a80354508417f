"""``leadline serve``: the pages and the HTTP interface, over one registry file."""

import os
from pathlib import Path
from typing import Any

import click

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
) -> None:
    """
    Serve the registry to browsers: the boat's tablet, the office, the officer, families and the public.

    It listens on this machine alone unless told otherwise. The first account is made with leadline user add.

    \b
    Example:
      leadline serve --host 192.168.8.1 --boat --tls
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
        click.echo(f"Serving {register.programme().name} from {registry}.")
    settings = Settings(registry=registry, clock=clock, secure=tls or bool(behind_proxy), boat=boat)
    certificate: dict[str, Any] = {}
    if tls:
        from registry.storage.boat_certificate import boat_certificate

        made = boat_certificate(registry, host=host, clock=clock)
        certificate = {"ssl_certfile": str(made.certificate), "ssl_keyfile": str(made.key)}
        click.echo(f"Certificate of this boat: {made.certificate}")
        click.echo(f"  SHA-256 {made.fingerprint}")
    click.echo(f"{'https' if tls else 'http'}://{host}:{port}/ (Ctrl-C ends it)")
    uvicorn.run(
        make_application(settings),
        host=host,
        port=port,
        log_level="warning",
        server_header=False,
        proxy_headers=behind_proxy is not None,
        forwarded_allow_ips=behind_proxy or "127.0.0.1",
        timeout_graceful_shutdown=5,
        **certificate,
    )
