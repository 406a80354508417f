"""The public site of an invented reef as a folder, and a server for it on this machine."""

import contextlib
import threading
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer

from registry.documents.offline_site import render_site
from registry.formats.geojson import write_geojson
from registry.formats.gpx import write_gpx
from registry.formats.kml import write_kml
from registry.formats.module_list import write_module_list
from registry.storage.shipped import shipped_path
from tests.documents.map_sites import map_assets

ICONS = ("icon.svg", "icon-192.png", "icon-512.png")


def site_files(site, **settings):
    """Give every file of the folder by its path."""
    made = render_site(
        site,
        map_assets(),
        makers={
            "gpx": write_gpx,
            "kml": write_kml,
            "geojson": lambda alone: write_geojson(alone).encode(),
            "csv": write_module_list,
        },
        icons={name: shipped_path(name).read_bytes() for name in ICONS},
        **settings,
    )
    return {file.path: file.content for file in made}


def written(folder, site, **settings):
    """Write the folder to disk."""
    for path, content in site_files(site, **settings).items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    return folder


class _Quiet(SimpleHTTPRequestHandler):
    extensions_map = SimpleHTTPRequestHandler.extensions_map | {
        ".webmanifest": "application/manifest+json",
        ".js": "text/javascript",
    }

    def log_message(self, *_):
        """Say nothing."""


@contextlib.contextmanager
def served(folder):
    """Serve a folder on the loopback address; gives the address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
