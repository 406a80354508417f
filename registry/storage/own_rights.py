"""Files that only their owner may read: rights that let others at them are taken away, and that is told."""

import os
import stat
from pathlib import Path

__all__ = ["mended_rights"]


def mended_rights(path: Path, rights: int) -> tuple[str, ...]:
    """
    Take away what others may do with a file or folder.

    Parameters
    ----------
    path : pathlib.Path
        What must be its owner's alone.
    rights : int
        The most that may be allowed, as 0o600.

    Returns
    -------
    tuple of str
        One sentence if something was mended: it may have been read meanwhile.
    """
    if os.name != "posix":
        return ()
    found = stat.S_IMODE(path.stat().st_mode)
    if not found & ~rights & 0o077:
        return ()
    path.chmod(found & rights)
    return (f"Others on this machine could reach {path} (rights {found:04o}); now {found & rights:04o}.",)
