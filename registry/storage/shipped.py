"""Files that ship with Leadline: beside the package in a checkout, inside it when installed."""

from pathlib import Path

from registry.errors import UnreadableFileError

__all__ = ["shipped_path", "shipped_text"]

PACKAGE = Path(__file__).resolve().parents[1]


def shipped_path(name: str) -> Path:
    """
    Find a shipped file or folder.

    Parameters
    ----------
    name : str
        Its path below ``geodata``, as "vendor/leaflet.js".

    Raises
    ------
    UnreadableFileError
        If no such file ships, or this copy of Leadline has lost it.

    Examples
    --------
    >>> shipped_path("vendor/leaflet.js").name
    'leaflet.js'
    """
    for folder in (PACKAGE / "geodata", PACKAGE.parent / "geodata"):
        path = folder / name
        if path.resolve().is_relative_to(folder) and path.exists():
            return path
    raise UnreadableFileError(
        f"Leadline's own file geodata/{name} is missing.", remedy="Install Leadline again."
    )


def shipped_text(name: str) -> str:
    """
    Read a shipped text file.

    Parameters
    ----------
    name : str
        Its path below ``geodata``.

    Raises
    ------
    UnreadableFileError
        If it is missing, unreadable or not UTF-8.
    """
    path = shipped_path(name)
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise UnreadableFileError(
            f"Leadline's own file {path} cannot be read.", remedy="Install Leadline again."
        ) from error
