"""What the public may take away: the map and its pages, files for plotters, a list to print."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from registry.documents.map import MapAssets
    from registry.documents.offline_site import SiteFile
    from registry.documents.paper import Paper
    from registry.records.public_site import PublicSite

__all__ = ["Degrees", "map_assets", "public_file", "site_files"]

Degrees = Literal["dd", "ddm", "dms"]
#: Whose work the map carries.
LICENSED = ("leaflet", "supercluster", "world-atlas")
ICONS = ("icon.svg", "icon-192.png", "icon-512.png")


def public_file(
    form: str,
    site: "PublicSite",
    *,
    longest_name: int | None = None,
    notation: Degrees | None = None,
    paper: "Paper" = "a4",
) -> bytes:
    """
    Write a public site as one file.

    Parameters
    ----------
    form : str
        "gpx", "kml", "geojson", "csv" or "pdf".
    site : PublicSite
        What the public may see.
    longest_name : int, optional
        To how many letters names are cut (gpx, kml, csv, pdf).
    notation : str, optional
        Of positions (csv: decimal degrees unless given; pdf: degrees and minutes unless given).
    paper : str
        The sheet of the list that is printed.
    """
    return _WRITERS[form](site, longest_name, notation, paper)


def _gpx(site: "PublicSite", longest_name: int | None, *_: object) -> bytes:
    from registry.formats.gpx import write_gpx

    return write_gpx(site, longest_name=longest_name)


def _kml(site: "PublicSite", longest_name: int | None, *_: object) -> bytes:
    from registry.formats.kml import write_kml

    return write_kml(site, longest_name=longest_name)


def _geojson(site: "PublicSite", *_: object) -> bytes:
    from registry.formats.geojson import write_geojson

    return write_geojson(site).encode()


def _csv(site: "PublicSite", longest_name: int | None, notation: Degrees | None, _: object) -> bytes:
    from registry.formats.module_list import write_module_list, write_site_list

    if site.published.sites_only:
        return write_site_list(site, notation=notation or "dd")
    return write_module_list(site, notation=notation or "dd", longest_name=longest_name)


def _pdf(site: "PublicSite", longest_name: int | None, notation: Degrees | None, paper: "Paper") -> bytes:
    from registry.documents.reef_list import render_reef_list
    from registry.formats.reported_position import write_reported
    from registry.measure.datum import resolve
    from registry.storage.shipped import shipped_path

    frame, written = resolve("WGS 84"), notation or "ddm"

    def write_degrees(lat_deg: float, lon_deg: float, r95_m: float) -> tuple[str, str]:
        return write_reported(lat_deg, lon_deg, frame=frame, notation=written, r95_m=r95_m)

    return render_reef_list(
        site,
        shipped_path("fonts"),
        write_degrees=write_degrees,
        notation=written,
        longest_name=longest_name,
        paper=paper,
    )


_WRITERS: "dict[str, Callable[[PublicSite, int | None, Degrees | None, Paper], bytes]]" = {
    "gpx": _gpx,
    "kml": _kml,
    "geojson": _geojson,
    "csv": _csv,
    "pdf": _pdf,
}


def map_assets() -> "MapAssets":
    """Give what a map carries inside it."""
    from registry.documents.map import MapAssets
    from registry.storage.shipped import shipped_text

    return MapAssets(
        leaflet_js=shipped_text("vendor/leaflet.js"),
        leaflet_css=shipped_text("vendor/leaflet.css"),
        supercluster_js=shipped_text("vendor/supercluster.js"),
        coast=shipped_text("coast.geojson"),
        coast_world=shipped_text("coast_world.geojson"),
        licences="\n\n".join(shipped_text(f"vendor/{name}.LICENSE.txt") for name in LICENSED),
    )


def site_files(site: "PublicSite", *, language: str = "en") -> "tuple[SiteFile, ...]":
    """
    Make every file of the public site: the map, a page for each area, files for plotters, what keeps it.

    Parameters
    ----------
    site : PublicSite
        What the public may see, its areas with their corners.
    language : str
        Of readers whose browser runs no script.
    """
    from registry.documents.offline_site import FileMaker, render_site
    from registry.storage.shipped import shipped_path

    def maker(form: str) -> FileMaker:
        return lambda alone: public_file(form, alone)

    return render_site(
        site,
        map_assets(),
        makers={form: maker(form) for form in ("gpx", "kml", "geojson", "csv")},
        icons={name: shipped_path(name).read_bytes() for name in ICONS},
        language=language,
    )
