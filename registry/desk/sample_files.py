"""A sample of modules as the files that a boat takes along: a table to fill in, waypoints, and the list."""

from registry.formats.sample_gpx import write_sample_gpx
from registry.formats.sample_list import write_sample_list
from registry.formats.sample_table import write_sample_table
from registry.records.inspection_sample import InspectionSample

__all__ = ["sample_files"]


def sample_files(sample: InspectionSample) -> dict[str, bytes]:
    """
    Write the files of a sample.

    Returns
    -------
    dict
        Name of each file to its bytes, the same for the same sample.
    """
    return {
        "sample.csv": write_sample_table(sample),
        "sample.gpx": write_sample_gpx(sample),
        "sample.txt": write_sample_list(sample),
    }
