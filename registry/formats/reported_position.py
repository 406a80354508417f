"""A position as an authority asks for it: in its notation, or on its grid, one text for each coordinate."""

from registry.formats.printed_notation import write_grid
from registry.formats.printed_position import write_dd, write_ddm, write_dms
from registry.measure.datum import ResolvedFrame
from registry.measure.digits import Notation, coordinate_decimals
from registry.records import permit

__all__ = ["write_reported"]


def write_reported(
    lat_deg: float, lon_deg: float, *, frame: ResolvedFrame, notation: permit.Notation, r95_m: float
) -> tuple[str, str]:
    """
    Write latitude and longitude, or northing and easting on a grid, with the digits that the radius supports.

    Parameters
    ----------
    lat_deg, lon_deg : float
        In the geographic frame of `frame`. Units: degrees.
    frame : ResolvedFrame
        What the authority asks for; a grid goes before the notation.
    notation : {"dd", "ddm", "dms"}
        How degrees are written.
    r95_m : float
        95 % radius. Units: m.

    Raises
    ------
    FrameError
        If the position lies far outside the grid.

    Examples
    --------
    >>> from registry.measure.datum import resolve
    >>> nad83 = resolve("EPSG:6318")
    >>> write_reported(34.0208333, -77.3351667, frame=nad83, notation="ddm", r95_m=3.0)
    ('34 01.2500 N', '077 20.1100 W')
    >>> write_reported(34.0208333, -77.3351667, frame=nad83, notation="dd", r95_m=3.0)
    ('34.020833 N', '77.335167 W')
    >>> write_reported(34.0208333, -77.3351667, frame=resolve("EPSG:6347"), notation="dd", r95_m=3.0)
    ('3766925.1', '284382.6')
    """
    if frame.projected:
        _, easting, northing = write_grid(lat_deg, lon_deg, grid=frame, r95_m=r95_m).split()
        return northing, easting
    write = {"dd": write_dd, "ddm": write_ddm, "dms": write_dms}[notation]
    parts = {"dd": Notation.DEGREES, "ddm": Notation.MINUTES, "dms": Notation.SECONDS}[notation]
    decimals = coordinate_decimals(parts, r95_m)
    words = write(lat_deg, lon_deg, decimals=decimals, style="plain").split()
    middle = len(words) // 2
    return " ".join(words[:middle]), " ".join(words[middle:])
