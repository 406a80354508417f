"""
Settings of another installation, kept out before a geodata library is loaded.

Desktop programs set them for themselves; a library that follows them here takes its frames from a database of
another version, and reports no frame at all.
"""

import os

__all__ = ["FOREIGN_SETTINGS", "drop_foreign_settings"]

FOREIGN_SETTINGS = ("PROJ_DATA", "PROJ_LIB", "GDAL_DATA")


def drop_foreign_settings() -> None:
    """Take the settings out of this process's environment; call before importing pyogrio or geopandas."""
    for setting in FOREIGN_SETTINGS:
        os.environ.pop(setting, None)
