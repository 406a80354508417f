"""
The modules of a public site as a spreadsheet, for people and for plotters that import one.

UTF-8 with its mark, since spreadsheet programs take a file without it for another encoding; commas; a header
whose names carry the units.
"""

from registry.formats.csv_table import write_csv_table
from registry.records.public_site import PublicSite
from registry.records.public_wording import coordinate_decimals, module_properties, rounded_position

__all__ = ["COLUMNS", "write_module_list"]

COLUMNS = (
    *("tag", "memorial", "latitude_deg", "longitude_deg", "r95_m"),
    *("charted_depth_m", "depth_u95_m", "chart_datum", "relief_m"),
    *("placed_on", "area", "frame", "epoch"),
)


def write_module_list(site: PublicSite) -> bytes:
    """
    Write a row for each module, in the order of the site.

    Parameters
    ----------
    site : PublicSite
        What the public may see; WGS 84.

    Returns
    -------
    bytes
        CSV, the same bytes for the same site. Coordinates have the digits that R95 supports.
    """
    rows = []
    for module in site.modules:
        lon_deg, lat_deg = rounded_position(module)
        decimals = coordinate_decimals(module.r95_m)
        values = module_properties(module, site) | {
            "latitude_deg": f"{lat_deg:.{decimals}f}",
            "longitude_deg": f"{lon_deg:.{decimals}f}",
        }
        rows.append([values[name] for name in COLUMNS])
    return write_csv_table(COLUMNS, rows).encode("utf-8-sig", errors="replace")
