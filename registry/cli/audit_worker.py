"""What a worker of a large audit does, maybe on another machine: read a part, and judge it."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from registry import __version__
from registry.actions.audit_parts import Part, Rest, judge_part, part_with_halo
from registry.errors import LeadlineError, RegistryError
from registry.records.permit import Permit
from registry.records.placement import PlacementTable
from registry.storage.clock import StandingClock
from registry.storage.geopackage import open_register
from registry.storage.placement_parts import PlacementParts
from registry.storage.register import GeoPackageRegister

if TYPE_CHECKING:
    from registry.actions.audit_registry import PermitAudit

__all__ = ["WRITTEN_MEANWHILE", "Asked", "judge", "load", "look", "placements_of_part"]

#: What helps where somebody writes to the registry, or a worker sees an older copy of it.
WRITTEN_MEANWHILE = (
    "Audit a copy that nobody writes to: leadline backup COPY.gpkg, then leadline audit --registry COPY.gpkg."
)
WORDS = frozenset(("placement_id", "tag", "permit", "module_type", "memorial"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which state of which registry is audited, and how."""

    file: str
    #: Digest of the journal's head, and what the registry's clock says.
    head: str
    now: datetime
    rest: Rest
    #: Whether every sentence is written out, or only those of what is flagged.
    in_full: bool


def look(file: str, head: str) -> tuple[str, str]:
    """Give the version of Leadline here, and why this process does not see the registry in that state."""
    try:
        with _opened(file, head=head, now=None):
            return __version__, ""
    except LeadlineError as error:
        return __version__, error.what


def load() -> None:
    """Load what carries placements now, in one thread: dask would in several, and they would meet halfway."""
    import dask.dataframe
    import dask_geopandas
    import geopandas

    del dask, dask_geopandas, geopandas


def placements_of_part(part: Part, asked: Asked) -> Any:
    """Read a part with its halo, as a GeoDataFrame in the home frame."""
    from geopandas import GeoDataFrame, points_from_xy
    from pandas import Series

    with _opened(asked.file, head=asked.head, now=asked.now) as register:
        table = part_with_halo(register, PlacementParts(register), _history(register, part), asked.rest)
        frame = register.programme().frame
    columns = {each.name: getattr(table, each.name) for each in fields(table)}
    return GeoDataFrame(
        {name: Series(column, dtype=column.dtype) for name, column in columns.items()},
        geometry=points_from_xy(table.lon_deg, table.lat_deg),
        crs=frame,
    )


def judge(
    placements: Any, part: Part, asked: Asked
) -> "tuple[tuple[PermitAudit, ...], tuple[PermitAudit, ...]]":
    """Judge the placements of a part; those of its halo are there to be seen."""
    table = PlacementTable(
        **{
            each.name: placements[each.name].to_numpy(dtype=object if each.name in WORDS else np.float64)
            for each in fields(PlacementTable)
        }
    )
    with _opened(asked.file, head=asked.head, now=asked.now) as register:
        return judge_part(register, _history(register, part), table, asked.rest, in_full=asked.in_full)


@contextmanager
def _opened(file: str, *, head: str, now: datetime | None) -> Iterator[GeoPackageRegister]:
    """Open the registry for reading, and insist that it is in the state that is audited."""
    clock = StandingClock(now or datetime.fromisoformat("2000-01-01T00:00:00Z"))
    with open_register(Path(file), clock=clock, writable=False) as register, register.reading():
        if register.head() != head:
            what = f"{file} has another journal head ({register.head()[:16]}) than the audit began with."
            raise RegistryError(what, remedy=WRITTEN_MEANWHILE)
        yield register


def _history(register: GeoPackageRegister, part: Part) -> Sequence[Sequence[Permit]]:
    return [register.permit_versions(number) for number in part.permits]
