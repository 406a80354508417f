"""The size of a plate as people write it: two sides and one unit."""

import re

from registry.errors import QuantityError
from registry.formats.plain_text import plain_text
from registry.records.plaque import PlateSize

__all__ = ["read_plate_size"]

_SIZE = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*[x×*]\s*([0-9]+(?:[.,][0-9]+)?)\s*(mm|cm|in)", re.IGNORECASE)
#: Units: mm. An international inch.
_MM = {"mm": 1.0, "cm": 10.0, "in": 25.4}


def read_plate_size(text: str) -> PlateSize:
    """
    Read a plate's width and height.

    Raises
    ------
    QuantityError
        If it is not two numbers and a unit.
    InvalidRecordError
        If no plaque has such sides.

    Examples
    --------
    >>> read_plate_size("150x100mm")
    PlateSize(width_mm=150.0, height_mm=100.0)
    >>> read_plate_size("6 × 4 in").width_mm
    152.39999999999998
    """
    found = _SIZE.fullmatch(plain_text(text))
    if found is None:
        what = f"{text!r} is no size of a plaque."
        raise QuantityError(what, remedy="Write width, height and unit (mm, cm or in), as 150x100mm.")
    width, height = (float(side.replace(",", ".")) for side in found.group(1, 2))
    mm = _MM[found[3].lower()]
    return PlateSize(width_mm=width * mm, height_mm=height * mm)
