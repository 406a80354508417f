"""The line from which distances to the shore are counted."""

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from registry.errors import InvalidRecordError

__all__ = ["Baseline"]

_LINES_AND_LAND = frozenset({"LineString", "MultiLineString", "Polygon", "MultiPolygon"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """One shape of a baseline that the programme supplies, as an authority published it."""

    baseline_id: str
    name: str
    #: Longitude, latitude in the home frame: a line, or a polygon whose inside is the side of the land.
    shape: BaseGeometry
    #: The frame in which its source states it, and the epoch used if that frame moves.
    frame: str
    epoch: float | None
    #: The file it came from, for the record.
    written: str
    #: The datum operation that brought it home.
    operation: str

    def __post_init__(self) -> None:
        """Refuse what is neither a line nor land."""
        if self.shape.geom_type not in _LINES_AND_LAND or self.shape.is_empty:
            what = f"Baseline {self.name!r} is {self.shape.geom_type}, neither a line nor a polygon."
            raise InvalidRecordError(what, remedy="Draw the baseline as a line, or the land as a polygon.")
