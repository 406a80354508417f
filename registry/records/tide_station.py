"""A tide station: its harmonic constants, its datums, and how its predictions have to be made."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from registry.errors import InvalidRecordError, NotFoundError
from registry.measure.tide import HarmonicConstant

__all__ = ["TideStation"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TideStation:
    """
    What a harmonic prediction needs.

    Examples
    --------
    >>> station = TideStation(
    ...     name="Gannet Pier",
    ...     position="34 01.250 N 077 20.110 W",
    ...     source="invented",
    ...     chart_datum="MLLW",
    ...     datums={"MLLW": 0.20, "MSL": 0.86},
    ...     constants=(HarmonicConstant(name="M2", amplitude_m=0.61, phase_deg=9.0),),
    ... )
    >>> f"{station.z0_m('MLLW'):.2f}"
    '0.66'
    """

    name: str
    #: As written in the file.
    position: str
    #: Who published the constants, and when.
    source: str
    #: The datum that heights are given above unless another is asked for.
    chart_datum: str
    #: Years whose mean the datums are, as "1983-2001"; empty where it is not stated.
    datum_epoch: str = ""
    #: Height of each datum above the station's own zero; MSL is among them. Units: m.
    datums: Mapping[str, float] = field(default_factory=dict)
    constants: tuple[HarmonicConstant, ...] = ()
    #: Node factors by which the constants were derived.
    nodal: str = "schureman"
    #: What wind and air pressure add to or take from a prediction, at 95 %; None where not stated. Units: m.
    weather_u95_m: float | None = None
    #: Where that figure comes from.
    weather_source: str = ""

    def __post_init__(self) -> None:
        """Refuse a station that cannot be predicted from."""
        where = f"The tide station {self.name!r}"
        if not self.name.strip():
            raise InvalidRecordError("A tide station has no name.", remedy="Name it.")
        if self.nodal != "schureman":
            what = f"{where} has node factors by {self.nodal!r}."
            remedy = 'Only constants with nodal = "schureman" can be used: the schools may not be mixed.'
            raise InvalidRecordError(what, remedy=remedy)
        for datum in ("MSL", self.chart_datum):
            if datum not in self.datums:
                what = f"{where} does not say how high {datum} lies."
                raise InvalidRecordError(
                    what, remedy=f"Give {datum} above the station's zero among its datums."
                )
        if not all(math.isfinite(height) for height in self.datums.values()):
            raise InvalidRecordError(f"{where} has a datum of no height.", remedy="Give finite numbers.")
        names = [constant.name for constant in self.constants]
        if not names:
            raise InvalidRecordError(f"{where} has no constituents.", remedy="Give at least one.")
        if len(set(names)) != len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise InvalidRecordError(f"{where} has {twice} twice.", remedy="Keep one of them.")
        if self.weather_u95_m is not None and not (
            math.isfinite(self.weather_u95_m) and self.weather_u95_m > 0
        ):
            what = f"{where} states a weather part of {self.weather_u95_m} m."
            raise InvalidRecordError(
                what, remedy="Give more than zero, at 95 %: no prediction knows the wind."
            )
        object.__setattr__(self, "datums", MappingProxyType(dict(self.datums)))

    def z0_m(self, datum: str) -> float:
        """
        Give the height of mean sea level above a datum.

        Raises
        ------
        NotFoundError
            If the station does not know the datum.
        """
        if datum not in self.datums:
            what = f"The tide station {self.name!r} does not say how high {datum} lies."
            raise NotFoundError(what, remedy=f"Use one of {', '.join(self.datums)}.")
        return self.datums["MSL"] - self.datums[datum]
