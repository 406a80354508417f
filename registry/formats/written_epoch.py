"""The epoch of coordinates, as a decimal year."""

import math

from registry.errors import QuantityError

__all__ = ["read_epoch"]


def read_epoch(text: str) -> float | None:
    """
    Read an epoch; None where nothing is written.

    Raises
    ------
    QuantityError
        If it is no finite number; frames say which years they know.

    Examples
    --------
    >>> read_epoch("2026.5"), read_epoch("")
    (2026.5, None)
    """
    if not text:
        return None
    try:
        epoch = float(text)
    except ValueError:
        epoch = math.nan
    if not math.isfinite(epoch):
        raise QuantityError(f"{text[:40]!r} is no epoch.", remedy="Give a decimal year, as 2026.5.")
    return epoch
