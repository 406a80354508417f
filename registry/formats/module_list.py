"""
The modules of a public site as a spreadsheet, or its sites, for people and for plotters that import one.

UTF-8 with its mark, since spreadsheet programs take a file without it for another encoding; commas; a header
whose names carry the units. Decimal degrees are signed numbers; the other notations carry their hemisphere.
"""

from collections.abc import Mapping
from types import MappingProxyType

from registry.formats.csv_table import write_csv_table
from registry.formats.reported_position import write_reported
from registry.measure.datum import resolve
from registry.measure.site_circle import site_circle
from registry.records.permit import Notation
from registry.records.public_site import PublicSite
from registry.records.public_wording import (
    FRAME,
    area_properties,
    coordinate_decimals,
    module_names,
    module_properties,
    rounded_position,
    rounded_u95,
    shown_sites,
)

__all__ = ["COORDINATES", "module_columns", "write_module_list", "write_site_list"]

#: What the columns of a position are called.
COORDINATES: Mapping[Notation, tuple[str, str]] = MappingProxyType(
    {
        "dd": ("latitude_deg", "longitude_deg"),
        "ddm": ("latitude_deg_min", "longitude_deg_min"),
        "dms": ("latitude_deg_min_sec", "longitude_deg_min_sec"),
    }
)
#: What a position that is stated without doubt is taken for, when it comes to digits. Units: m.
_LEAST_R95_M = 0.01


def module_columns(notation: Notation = "dd") -> tuple[str, ...]:
    """Give the header of a list of modules."""
    return (
        *("name", *COORDINATES[notation], "r95_m", "tag", "memorial"),
        *("charted_depth_m", "depth_u95_m", "chart_datum", "relief_m"),
        *("placed_on", "area", "frame", "epoch"),
    )


def write_module_list(
    site: PublicSite, *, notation: Notation = "dd", longest_name: int | None = None
) -> bytes:
    """
    Write a row for each module, in the order of the site.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.
    notation : {"dd", "ddm", "dms"}
        How coordinates are written.
    longest_name : int, optional
        Cut the names in the first column to this many characters, no two alike.

    Returns
    -------
    bytes
        CSV, the same bytes for the same site. Coordinates have the digits that R95 supports.

    Raises
    ------
    RequestError
        If names cannot be told apart within `longest_name` characters.
    """
    header = module_columns(notation)
    rows = []
    for module, name in zip(site.modules, module_names(site, longest_name), strict=True):
        lon_deg, lat_deg = rounded_position(module)
        if notation == "dd":
            decimals = coordinate_decimals(module.r95_m)
            written = (f"{lat_deg:.{decimals}f}", f"{lon_deg:.{decimals}f}")
        else:
            # From the position itself: what was rounded for one notation is not rounded again for another.
            written = _written(module.lat_deg, module.lon_deg, notation, module.r95_m)
        values = module_properties(module, site) | {"name": name}
        values |= dict(zip(COORDINATES[notation], written, strict=True))
        rows.append([values[column] for column in header])
    return write_csv_table(header, rows).encode("utf-8-sig", errors="replace")


def write_site_list(site: PublicSite, *, notation: Notation = "dd") -> bytes:
    """
    Write a row for each site that has modules, with a point in its middle and how far the area reaches.

    Parameters
    ----------
    site : PublicSite
        What the public may see, where it publishes sites alone.
    notation : {"dd", "ddm", "dms"}
        How coordinates are written.
    """
    where = {"frame": FRAME, "epoch": round(site.epoch, 1)}
    rows = []
    for area in shown_sites(site):
        circle = site_circle(area.shape)
        if notation == "dd":
            written = (f"{circle.lat_deg:.{circle.decimals}f}", f"{circle.lon_deg:.{circle.decimals}f}")
        else:
            written = _written(circle.lat_deg, circle.lon_deg, notation, circle.radius_m / 10.0)
        values = area_properties(area, site) | where | {"name": area.area_id}
        values |= dict(zip(COORDINATES[notation], written, strict=True))
        values["whole_area_within_m"] = f"{rounded_u95(circle.radius_m):g}"
        rows.append(values)
    header = (
        *("name", *COORDINATES[notation], "whole_area_within_m", "modules"),
        *("least_depth_m", "greatest_depth_m", "least_clearance_m", "least_clearance_u95_m", "chart_datum"),
        *("first_placed", "last_placed", "permit", "frame", "epoch"),
    )
    cells = [[row[column] for column in header] for row in rows]
    return write_csv_table(header, cells).encode("utf-8-sig", errors="replace")


def _written(lat_deg: float, lon_deg: float, notation: Notation, r95_m: float) -> tuple[str, str]:
    frame = resolve("WGS 84")
    return write_reported(lat_deg, lon_deg, frame=frame, notation=notation, r95_m=max(r95_m, _LEAST_R95_M))
