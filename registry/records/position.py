"""A place on the ellipsoid with the frame, epoch and doubt that make it mean something."""

import math
from dataclasses import dataclass

from registry.errors import InvalidRecordError

__all__ = ["HomePosition", "Position"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Geographic coordinates in a named frame."""

    #: Units: degrees, north positive.
    lat_deg: float
    #: Units: degrees, east positive, -180 to below 180.
    lon_deg: float
    #: Code of the frame, as "EPSG:6318".
    frame: str
    #: Epoch of the coordinates, None where a frame needs none. Units: decimal year.
    epoch: float | None
    #: Radius within which the true position lies with 95 % probability. Units: m.
    r95_m: float

    def __post_init__(self) -> None:
        """Refuse numbers that are no place."""
        if not (math.isfinite(self.lat_deg) and math.isfinite(self.lon_deg) and abs(self.lat_deg) <= 90):
            what = f"{self.lat_deg}, {self.lon_deg} is not a latitude and a longitude."
            raise InvalidRecordError(what, remedy="Give latitude from -90 to 90 and longitude in degrees.")
        if not (math.isfinite(self.r95_m) and self.r95_m >= 0):
            what = f"R95 of {self.r95_m} m is not a radius."
            raise InvalidRecordError(what, remedy="Give a 95 % radius of zero or more, with its unit.")


@dataclass(frozen=True, slots=True, kw_only=True)
class HomePosition:
    """A position in the registry's home frame, and how it was got from the one that was observed."""

    position: Position
    #: The datum operation used, with its EPSG identifiers.
    operation: str
    #: What the operation itself may add to the doubt. Units: m.
    accuracy_m: float
    #: Versions of PROJ and of its EPSG data.
    software: str
