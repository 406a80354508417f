"""What was built under a permit: listed as the permit's authority reads it, and as the files of that list."""

from datetime import datetime

from registry.actions.as_built_list import as_built_list
from registry.documents.as_built import render_as_built
from registry.formats import as_built_table as tables
from registry.formats.reported_position import write_reported
from registry.formats.written_position import read_position
from registry.ports import Register
from registry.records.as_built import AsBuiltList
from registry.storage.shipped import shipped_path

__all__ = ["as_built_files", "list_as_built"]


def list_as_built(
    register: Register, permit: str, *, now: datetime, as_of: datetime | None = None
) -> AsBuiltList:
    """
    List what was built.

    Parameters
    ----------
    register : Register
        The registry, as it stands or as it was known at `as_of`.
    permit : str
        Number of the permit.
    now : datetime
        When the list is made, with its zone.
    as_of : datetime, optional
        As of when the registry was known.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    return as_built_list(
        register, permit, now=now, read_position=read_position, write_position=write_reported, as_of=as_of
    )


def as_built_files(built: AsBuiltList) -> dict[str, bytes]:
    """Write the files of a list: name of each to its bytes."""
    return {
        "as-built.pdf": render_as_built(built, shipped_path("fonts")),
        "modules.csv": tables.write_modules_table(built),
        "corners.csv": tables.write_corners_table(built),
        "areas.csv": tables.write_areas_table(built),
        "use.csv": tables.write_use_table(built),
        "chart.csv": tables.write_chart_table(built),
    }
