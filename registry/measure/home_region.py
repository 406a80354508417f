"""
Which plate-fixed frames a place may keep its coordinates in: the table of frames, asked by region.

A proposal, never a choice: regions are boxes and overlap along borders, so all that fit are given.
"""

from registry.measure.frames import FRAMES, Box, Frame, frame_of, in_box

__all__ = ["propose_home_frames"]

#: Where two frames overlap, the one that the neighbours' surveys are in.
#: Source: the land borders, roughly (judgement); the frames' own boxes are those of the EPSG dataset.
_AT_HOME: tuple[tuple[Box, str], ...] = (
    ((-130.0, 49.0, -52.0, 84.0), "EPSG:10414"),
    ((-66.9, 42.5, -52.0, 49.0), "EPSG:10414"),
)


def propose_home_frames(lon_deg: float, lat_deg: float) -> tuple[Frame, ...]:
    """
    Propose home frames for a programme that works at a place.

    Parameters
    ----------
    lon_deg, lat_deg : float
        Anywhere in the waters of the programme; a metre or a hundred does not matter. Units: degrees.

    Returns
    -------
    tuple of Frame
        Plate-fixed frames of a known epoch with an operation to ITRF2020, the usual one first. Empty where
        the table of frames holds none: then the programme must ask its survey office.

    Examples
    --------
    >>> [frame.name for frame in propose_home_frames(-77.3, 34.0)]
    ['NAD83(2011)']
    >>> propose_home_frames(-157.0, 21.0)[0].name, propose_home_frames(151.5, -34.0)[0].name
    ('NAD83(PA11)', 'GDA2020')
    >>> propose_home_frames(-63.0, 44.5)[0].name, propose_home_frames(0.0, -50.0)
    ('NAD83(CSRS)v8', ())
    """
    found = [row for row in FRAMES if _can_be_home(row) and _holds(row, lon_deg, lat_deg)]
    for box, code in _AT_HOME:
        row = frame_of(code)
        if row in found and bool(in_box(lon_deg, lat_deg, box)):
            found.remove(row)
            found.insert(0, row)
    return tuple(found)


def _can_be_home(row: Frame) -> bool:
    return row.plate_fixed and row.epoch is not None and bool(row.to_itrf2020)


def _holds(row: Frame, lon_deg: float, lat_deg: float) -> bool:
    elsewhere = any(bool(in_box(lon_deg, lat_deg, box)) for box, _ in row.elsewhere)
    return bool(in_box(lon_deg, lat_deg, row.box)) and not elsewhere
