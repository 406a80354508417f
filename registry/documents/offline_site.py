"""
The public site as a folder that any web host serves and that readers may keep for use without a network.

The map is its first page; every area has a page of its own, with files for plotters beside it.
"""

import hashlib
import json
import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from html import escape
from pathlib import PurePosixPath

from registry.documents.area_page import render_area
from registry.documents.map import MapAssets, Served, render_map
from registry.documents.public_page import own_file
from registry.records.public_site import PublicModule, PublicSite

__all__ = ["NAMES", "FileMaker", "SiteFile", "area_pages", "render_site"]

#: All that stands at the top of the folder.
NAMES = (
    "index.html",
    "areas",
    "files",
    "manifest.webmanifest",
    "sw.js",
    "icon.svg",
    "icon-192.png",
    "icon-512.png",
)
#: What a reader's device is asked to keep; larger files for plotters are left to the network. Units: bytes.
KEPT_BYTES = 25_000_000

#: Writes a site in the format of one ending: GPX, KML, GeoJSON, CSV.
FileMaker = Callable[[PublicSite], bytes]


@dataclass(frozen=True, slots=True)
class SiteFile:
    """One file of the folder: where it stands in it, and its bytes."""

    path: str
    content: bytes


def render_site(
    site: PublicSite,
    assets: MapAssets,
    *,
    makers: Mapping[str, FileMaker],
    icons: Mapping[str, bytes],
    language: str = "en",
) -> tuple[SiteFile, ...]:
    """
    Make every file of the public site.

    Parameters
    ----------
    site : PublicSite
        What the public may see.
    assets : MapAssets
        What the map carries inside it.
    makers : mapping of str to FileMaker
        By ending, as "gpx", what writes such a file.
    icons : mapping of str to bytes
        The icons at the top of the folder, by name.
    language : str
        Of readers whose browser runs no script.

    Returns
    -------
    tuple of SiteFile
        The same site gives the same bytes; the service worker comes last, and bears their digest.
    """
    slugs = _slugs(site)
    under: dict[tuple[str, str], list[PublicModule]] = defaultdict(list)
    for module in site.modules:
        under[module.area_id, module.permit].append(module)
    files = [_downloads(site, "reef", makers)]
    pages = []
    for number, (area, slug) in enumerate(zip(site.areas, slugs, strict=True)):
        modules = tuple(under[area.area_id, area.permit])
        alone = replace(site, areas=(area,), modules=modules)
        made = _downloads(alone, slug, makers)
        files.append(made)
        page = render_area(
            site,
            number,
            modules=modules,
            downloads=[(f"../{file.path}", _called(file)) for file in made],
            head=_head(site, "../"),
            language=language,
        )
        pages.append(SiteFile(f"areas/{slug}.html", page.encode()))
    served = Served(
        pages=tuple(page.path for page in pages),
        downloads=tuple((file.path, _called(file)) for file in files[0]),
        head=_head(site, ""),
    )
    index = render_map(site, assets, language=language, served=served)
    whole = [
        SiteFile("index.html", index.encode()),
        *pages,
        SiteFile("manifest.webmanifest", _manifest(site, language)),
        *(SiteFile(name, content) for name, content in icons.items()),
        *(file for made in files for file in made),
    ]
    return (*whole, SiteFile("sw.js", _worker(whole)))


def area_pages(site: PublicSite) -> tuple[str, ...]:
    """Give the path in the folder of the page of each area, in the order of the areas."""
    return tuple(f"areas/{slug}.html" for slug in _slugs(site))


def _slugs(site: PublicSite) -> list[str]:
    """Name the page of each area: letters of no script but plain ones, never a path, none twice."""
    taken: set[str] = set()
    slugs = []
    for area in site.areas:
        plain = unicodedata.normalize("NFKD", area.area_id).encode("ascii", "ignore").decode().lower()
        base = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or "area"
        slug, count = base, 1
        while slug in taken or slug == "reef":
            count += 1
            slug = f"{base}-{count}"
        taken.add(slug)
        slugs.append(slug)
    return slugs


def _downloads(site: PublicSite, name: str, makers: Mapping[str, FileMaker]) -> list[SiteFile]:
    return [SiteFile(f"files/{name}.{ending}", make(site)) for ending, make in makers.items()]


def _called(file: SiteFile) -> str:
    return f"download-{PurePosixPath(file.path).suffix.removeprefix('.')}"


def _head(site: PublicSite, root: str) -> str:
    return (
        f'<link rel="icon" href="{root}icon.svg" type="image/svg+xml">\n'
        f'<link rel="apple-touch-icon" href="{root}icon-192.png">\n'
        '<meta name="theme-color" content="#0b3a53">\n'
        f'<meta name="application-name" content="{escape(site.programme)}">'
    )


def _manifest(site: PublicSite, language: str) -> bytes:
    """Give the web application manifest, by which a browser offers to install the map."""
    manifest = {
        "name": site.programme,
        "short_name": site.programme[:24],
        "lang": language,
        "dir": "auto",
        "id": "./",
        "start_url": "./index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#fdfcf8",
        "theme_color": "#0b3a53",
        "icons": [
            {"src": "icon.svg", "type": "image/svg+xml", "sizes": "any"},
            {"src": "icon-192.png", "type": "image/png", "sizes": "192x192"},
            {"src": "icon-512.png", "type": "image/png", "sizes": "512x512", "purpose": "any maskable"},
        ],
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=1) + "\n").encode("utf-8", "replace")


def _worker(files: list[SiteFile]) -> bytes:
    """Give the service worker of this issue: any changed byte of the folder gives it another name."""
    digest = hashlib.sha256()
    for file in files:
        digest.update(f"{file.path} {hashlib.sha256(file.content).hexdigest()}\n".encode())
    kept, room = ["./"], KEPT_BYTES
    for file in files:
        if not file.path.startswith("files/") or len(file.content) <= room:
            kept.append(file.path)
            room -= len(file.content)
    text = own_file("sw.js").replace("<!--issue-->", f"reef {digest.hexdigest()[:16]}")
    return text.replace("<!--files-->", json.dumps(kept)).encode()
