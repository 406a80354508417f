"""
Random numbers that follow from a seed alone, the same on every machine and in every language.

Sources
-------
FIPS 180-4 (SHA-256). The hash of a public seed and a counter as the source of a sample that anybody can draw
again: R. Rivest's sampler for election audits, 2011 (from memory).
"""

import hashlib

from registry.errors import QuantityError

__all__ = ["SeededDraws"]

_LONGEST_SEED = 200
_MANTISSA_BITS = 53


class SeededDraws:
    """
    A stream of uniform numbers.

    Definition: the ``k``-th number is the first 53 bits of ``SHA-256(seed + "," + k)``, as a fraction of
    ``2**53``, with ``k`` counted from 1 and both written in UTF-8.

    Parameters
    ----------
    seed : str
        Any words or digits that show; outer blanks do not count.

    Raises
    ------
    QuantityError
        If the seed is empty, too long or holds characters that do not show.

    Examples
    --------
    >>> draws = SeededDraws("2026")
    >>> f"{draws.uniform():.6f} {draws.uniform():.6f}"
    '0.571282 0.882646'
    """

    __slots__ = ("_count", "_prefix", "seed")

    def __init__(self, seed: str) -> None:
        self.seed = seed.strip()
        if not self.seed or len(self.seed) > _LONGEST_SEED or not self.seed.isprintable():
            what = f"{seed!r} is no seed."
            raise QuantityError(what, remedy=f"Give 1 to {_LONGEST_SEED} digits or letters that show.")
        self._prefix = hashlib.sha256(f"{self.seed},".encode())
        self._count = 0

    def uniform(self) -> float:
        """Give the next number, from 0 to below 1."""
        self._count += 1
        drawn = self._prefix.copy()
        drawn.update(b"%d" % self._count)
        return (int.from_bytes(drawn.digest()[:8], "big") >> (64 - _MANTISSA_BITS)) * 2.0**-_MANTISSA_BITS

    def below(self, count: int) -> int:
        """Give a whole number from 0 to below `count`."""
        return int(self.uniform() * count)
