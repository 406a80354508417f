"""A position as somebody wrote it: the words, and what they say of frame, epoch and doubt."""

import math
from dataclasses import dataclass
from typing import Literal

from registry.errors import InvalidRecordError

__all__ = ["MINUTES_AS_DECIMALS", "Notation", "WrittenAngle", "WrittenPosition"]

Notation = Literal["dd", "ddm", "dms", "iso6709", "geo", "wkt", "geojson", "nmea", "utm", "mgrs", "grid"]


#: The warning that only the distance to the permit area can settle.
MINUTES_AS_DECIMALS = (
    "Both decimal parts are below .60: minutes may have been typed behind the degrees' decimal point."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenAngle:
    """
    A latitude or a longitude digit by digit, as it was typed.

    The decimal mark is a point. A field that was not written is empty; only the last written one has
    decimals.

    Examples
    --------
    >>> angle = WrittenAngle(degrees="078", minutes="12.456", hemisphere="W")
    >>> round(angle.value_deg, 9), angle.resolution_deg * 60e3
    (-78.2076, 1.0)
    >>> WrittenAngle(sign="-", degrees="0", minutes="30.0").value_deg
    -0.5
    """

    #: "+", "-" or "".
    sign: str = ""
    degrees: str
    minutes: str = ""
    seconds: str = ""
    #: "N", "S", "E", "W" or "".
    hemisphere: str = ""

    @property
    def notation(self) -> Literal["dd", "ddm", "dms"]:
        """Decimal degrees, degrees and decimal minutes, or degrees, minutes and seconds."""
        if self.seconds:
            return "dms"
        return "ddm" if self.minutes else "dd"

    @property
    def last(self) -> str:
        """The field that carries the decimals."""
        return self.seconds or self.minutes or self.degrees

    @property
    def decimals(self) -> int:
        """How many digits stand behind the point."""
        return len(self.last.partition(".")[2])

    @property
    def value_deg(self) -> float:
        """
        The angle, the sign or the letter taken over the whole of it. Units: degrees.

        East longitudes from 180 to 360 come out as west ones.
        """
        if self.seconds:
            value = (int(self.degrees) * 3600 + int(self.minutes) * 60 + float(self.seconds)) / 3600
        elif self.minutes:
            value = (int(self.degrees) * 60 + float(self.minutes)) / 60
        else:
            value = float(self.degrees)
        if self.sign == "-" or self.hemisphere in ("S", "W"):
            return -value + 0.0  # never the float -0.0
        return value - 360 if 180 < value <= 360 and self.hemisphere == "E" else value

    @property
    def resolution_deg(self) -> float:
        """Size of one unit of the last written digit. Units: degrees."""
        unit = 3600.0 if self.seconds else 60.0 if self.minutes else 1.0
        return float(10.0**-self.decimals / unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenPosition:
    """What one text says, without anything that it does not say."""

    #: Verbatim.
    text: str
    #: In `frame` where the text names one. Units: degrees, north and east positive.
    lat_deg: float
    lon_deg: float
    notation: Notation
    #: Geographic frame that the text itself names, as "EPSG:6318"; None where it does not say.
    frame: str | None = None
    #: Epoch that the text names. Units: decimal year.
    epoch: float | None = None
    #: Doubt that the text itself states (the `u` of a geo URI). Units: m.
    stated_r95_m: float | None = None
    #: Size of one unit of the last written digit. Units: degrees.
    resolution_lat_deg: float
    resolution_lon_deg: float
    #: Doubt to be added because of how it was written: a grid square, an unknown datum. Units: m.
    extra_r95_m: float = 0.0
    #: True where the text says that nobody knows the datum.
    datum_unknown: bool = False
    #: What a person should look at, one sentence each.
    warnings: tuple[str, ...] = ()
    #: Latitude and longitude digit by digit; None for grid coordinates.
    angles: tuple[WrittenAngle, WrittenAngle] | None = None
    #: Code of the projected grid, as "EPSG:32617"; `frame` is then its base. None for angles.
    grid: str | None = None
    #: Grid coordinates in the unit of the grid, as written; None for angles.
    easting: float | None = None
    northing: float | None = None

    def __post_init__(self) -> None:
        """Refuse numbers that are no place."""
        if not (math.isfinite(self.lat_deg) and math.isfinite(self.lon_deg)):
            what = f"“{self.text}” gives no finite latitude and longitude."
            raise InvalidRecordError(what, remedy="Give latitude and longitude in degrees.")
        if not (abs(self.lat_deg) <= 90 and abs(self.lon_deg) <= 180):
            what = f"“{self.text}” gives latitude {self.lat_deg}, longitude {self.lon_deg}."
            raise InvalidRecordError(what, remedy="Give latitude to 90 and longitude to 180 degrees.")
