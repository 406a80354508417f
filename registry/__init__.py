"""
Leadline: the registry of record for memorial reefs.

From Python::

    import registry

    with registry.open_registry("leadline.gpkg") as reef:
        reef.layer("placements").explore()
        reef.check(permit="HB-0417", module_type="hump-90", at="34 01.250 N 077 20.110 W", r95="2 m")
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from registry.notebook import Registry

__all__ = ["__version__", "open_registry"]

__version__ = "0.1.0"


def open_registry(path: "str | Path", *, writable: bool = False) -> "Registry":
    """Open a registry for a notebook; see :func:`registry.notebook.open_registry`."""
    # Loaded on demand, so that importing the package stays cheap.
    from registry.notebook import open_registry as open_it

    return open_it(path, writable=writable)
