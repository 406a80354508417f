"""Whether a folder lies on another machine, where a registry cannot be locked safely."""

import os
from pathlib import Path

__all__ = ["network_share"]

#: Kinds of file system, as the kernel names them, whose locks or shared memory do not reach other machines.
_REMOTE = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "afs", "ncpfs", "fuse.sshfs", "fuse.davfs", "davfs"}


def network_share(folder: Path, mounts: Path = Path("/proc/mounts")) -> str | None:
    """
    Tell the kind of network share that a folder lies on.

    Parameters
    ----------
    folder : Path
        The folder, which exists.
    mounts : Path
        The kernel's list of mounted file systems; where there is none, only UNC paths are recognised.

    Returns
    -------
    str or None
        As "nfs4"; None for a folder on this machine or where it cannot be told.
    """
    resolved = os.path.realpath(folder)
    if resolved.startswith(("\\\\", "//")):
        return "UNC path"
    try:
        lines = mounts.read_text(errors="replace").splitlines()
    except OSError:
        return None
    found, length = None, -1
    for line in lines:
        words = line.split()
        if len(words) < 3:
            continue
        point, kind = words[1].replace("\\040", " "), words[2]
        inside = resolved == point or resolved.startswith(point.rstrip("/") + "/")
        # A later line of the same length was mounted over the earlier one.
        if inside and len(point) >= length:
            found, length = kind, len(point)
    return found if found in _REMOTE else None
