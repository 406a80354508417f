"""
Whole NMEA 0183 sentences in a stream of bytes, and their fields as columns of numbers.

A sentence is whole only from ``$`` to the two digits after ``*``, in one line, with a correct checksum. What
stands before, between and behind is counted and passed over.

Everything is done for all sentences of a block at once: a day at ten fixes a second has millions of them.

Sources
-------
NMEA 0183 (read second-hand): the checksum is the exclusive or of the bytes between ``$`` and ``*``. The
standard allows 82 bytes; receivers exceed it, and up to 200 are read.
"""

import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Block", "Numbers", "Rows", "blocks_of", "frame_block", "types_of", "unpacked"]

Bytes = NDArray[np.uint8]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

LONGEST_SENTENCE = 200
_SHORTEST_SENTENCE = 7  # "$", five letters of address and a comma
_BLOCK = 1 << 20  # what fits the cache of a processor
_PIECE = 1 << 22
_MOST_DIGITS = 17
_DOLLAR, _STAR, _COMMA, _POINT, _SPACE, _ZERO = b"$*,. 0"

_HEX = np.full(256, 255, dtype=np.uint8)
for _value, _digits in enumerate(
    ("0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "Aa", "Bb", "Cc", "Dd", "Ee", "Ff")
):
    for _digit in _digits:
        _HEX[ord(_digit)] = _value
_IN_ADDRESS = np.zeros(256, dtype=bool)
_IN_ADDRESS[list(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789")] = True
_JOINS = np.zeros(256, dtype=bool)  # what behind the checksum would make it another number or word
_JOINS[list(b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """The sentences of one block of bytes; padded at the end, so that looking behind a sentence is safe."""

    data: Bytes
    #: Where every comma stands, and the end of the block.
    commas: Integers
    #: Where each sentence with a correct checksum has its ``$`` and its ``*``.
    dollar: Integers
    star: Integers
    #: True if there is a blank anywhere.
    blanks: bool
    bad_checksums: int
    cut: int
    garbage_bytes: int


def unpacked(chunks: Iterable[bytes], notes: list[str]) -> Iterator[bytes]:
    """
    Give the bytes of a log, unpacked if they are gzip, in pieces of bounded size.

    Parameters
    ----------
    chunks : iterable of bytes
        The log as it comes.
    notes : list of str
        A sentence is appended where a packed log is damaged; what could be unpacked is given.
    """
    stream = iter(chunks)
    head = b""
    for chunk in stream:
        head += chunk
        if len(head) >= 2:
            break
    if not head.startswith(b"\x1f\x8b"):
        yield head
        yield from stream
        return
    yield from _gunzipped(head, stream, notes)


def _gunzipped(head: bytes, stream: Iterator[bytes], notes: list[str]) -> Iterator[bytes]:
    unpacker = zlib.decompressobj(wbits=31)
    rest: bytes | None = head
    while rest is not None:
        while rest:
            if unpacker.eof:  # another member, or padding behind the last one
                rest = rest.lstrip(b"\x00")
                if not rest:
                    break
                unpacker = zlib.decompressobj(wbits=31)
            try:
                piece = unpacker.decompress(rest, _PIECE)
            except zlib.error as error:
                notes.append(f"The packed log is damaged ({error}); what stands before was read.")
                return
            yield piece
            rest = unpacker.unused_data if unpacker.eof else unpacker.unconsumed_tail
        rest = next(stream, None)
    if not unpacker.eof:
        notes.append("The packed log ends before its end: it was cut short; what is there was read.")


def blocks_of(chunks: Iterable[bytes]) -> Iterator[tuple[int, bytes]]:
    """Give the log in blocks that cut no sentence, each with the offset of its first byte."""
    held = bytearray()
    offset = 0
    for chunk in chunks:
        for start in range(0, len(chunk), _BLOCK):
            held += chunk[start : start + _BLOCK]
            if len(held) < _BLOCK:
                continue
            end = held.rfind(b"\n") + 1
            if len(held) - end > LONGEST_SENTENCE:  # lines without ends, or not a text at all
                begun = held.rfind(b"$", len(held) - LONGEST_SENTENCE)
                end = begun if begun > 0 else len(held)
            yield offset, bytes(held[:end])
            offset += end
            del held[:end]
    if held:
        yield offset, bytes(held)


def frame_block(text: bytes) -> Block:
    r"""
    Find the whole sentences in a block.

    Examples
    --------
    >>> block = frame_block(b"..$GPHDT,123.456,T*32\r\n$GPHDT,123.457,T*32\r\n$GPHD")
    >>> block.dollar.tolist(), block.bad_checksums, block.cut
    ([2], 1, 1)
    """
    size = len(text)
    data = np.frombuffer(text + b"\n" * 8, dtype=np.uint8)
    dollars, stars = np.flatnonzero(data == _DOLLAR), np.flatnonzero(data == _STAR)
    controls = np.flatnonzero((data < _SPACE) | (data > 126))
    begun = len(dollars)
    line_ends = int(np.count_nonzero((data[:size] == 10) | (data[:size] == 13)))
    at = np.searchsorted(stars, dollars)
    star = np.append(stars, size + LONGEST_SENTENCE + 1)[at]
    following = np.append(dollars[1:], size + LONGEST_SENTENCE + 2)
    length = star - dollars
    whole = (star < following) & (length >= _SHORTEST_SENTENCE) & (length <= LONGEST_SENTENCE)
    dollar, star = dollars[whole], star[whole]
    whole = controls.searchsorted(dollar) == controls.searchsorted(star)
    whole &= (_HEX[data[star + 1]] < 16) & (_HEX[data[star + 2]] < 16) & ~_JOINS[data[star + 3]]
    dollar, star = dollar[whole], star[whole]
    if not len(dollar):
        return Block(
            data=data, commas=np.array([size]), dollar=_none(), star=_none(), blanks=False,
            bad_checksums=0, cut=begun, garbage_bytes=size - line_ends,
        )  # fmt: skip
    edges = np.column_stack((dollar + 1, star)).ravel()
    total = np.bitwise_xor.reduceat(data, edges)[::2]
    good = total == _HEX[data[star + 1]] * 16 + _HEX[data[star + 2]]
    return Block(
        data=data,
        commas=np.append(np.flatnonzero(data == _COMMA), size),
        dollar=dollar[good],
        star=star[good],
        blanks=b" " in text,
        bad_checksums=int(len(good) - np.count_nonzero(good)),
        cut=begun - len(dollar),
        garbage_bytes=size - line_ends - int((star + 3 - dollar).sum()),
    )


def _none() -> Integers:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """A column of fields read as unsigned decimal numbers, exactly: ``mantissa / 10**decimals``."""

    mantissa: Integers
    decimals: Integers
    #: Digits before the point.
    whole_digits: Integers
    #: True where the field is such a number.
    good: Flags
    #: True where nothing is written.
    empty: Flags

    @property
    def value(self) -> NDArray[np.float64]:
        """The numbers, rounded once; NaN where the field is none."""
        return np.where(self.good, self.mantissa / 10.0**self.decimals, np.nan)


class Rows:
    """
    Some sentences of a block, by whose fields one asks in columns.

    Parameters
    ----------
    block : Block
    which : numpy.ndarray
        Indices of sentences of the block.
    """

    def __init__(self, block: Block, which: Integers) -> None:
        self.data = block.data
        self.dollar, self._star = block.dollar[which], block.star[which]
        self._commas = block.commas
        self._first = np.searchsorted(block.commas, self.dollar)
        self._blanks = block.blanks
        self._count = np.searchsorted(block.commas, self._star) - self._first

    def __len__(self) -> int:
        """Give the number of sentences."""
        return len(self.dollar)

    def span(self, field: int) -> tuple[Integers, Integers]:
        """Give where a field begins and how long it is, without blanks; 0 long where it is absent."""
        there = self._count >= field
        last = len(self._commas) - 1
        begin = np.where(there, self._commas[np.minimum(self._first + field - 1, last)] + 1, 0)
        end = np.where(self._count > field, self._commas[np.minimum(self._first + field, last)], self._star)
        length = np.where(there, end - begin, 0)
        if not self._blanks:
            return begin, length
        for _ in range(3):
            blank = (length > 0) & (self.data[begin] == _SPACE)
            if not blank.any():
                break
            begin, length = begin + blank, length - blank
        for _ in range(3):
            blank = (length > 0) & (self.data[begin + np.maximum(length, 1) - 1] == _SPACE)
            if not blank.any():
                break
            length = length - blank
        return begin, length

    def letter(self, field: int) -> Bytes:
        """Give fields of one character as its code; 0 where the field is empty, 255 where it is longer."""
        begin, length = self.span(field)
        return np.where(length == 1, self.data[begin], np.where(length == 0, 0, 255)).astype(np.uint8)

    def letters(self, field: int, most: int) -> Bytes:
        """Give fields as codes, shape (n, most); 0 behind their end. A longer field is 255 throughout."""
        begin, length = self.span(field)
        at = np.arange(most)
        codes = self.data[np.minimum(begin[:, None] + at, len(self.data) - 1)]
        codes = np.where(at < length[:, None], codes, 0)
        return np.where((length > most)[:, None], 255, codes).astype(np.uint8)

    def text(self, field: int) -> list[str]:
        """Give fields as texts."""
        begin, length = self.span(field)
        return [
            bytes(self.data[b : b + n]).decode("ascii", "replace") for b, n in zip(begin, length, strict=True)
        ]

    def numbers(self, field: int) -> Numbers:
        """Read fields as unsigned decimal numbers."""
        begin, length = self.span(field)
        widest = int(length.max(initial=0))
        mantissa = np.zeros(len(begin), dtype=np.int64)
        points = np.zeros(len(begin), dtype=np.int64)
        decimals = np.zeros(len(begin), dtype=np.int64)
        good = (length > 0) & (length <= _MOST_DIGITS + 1)
        for j in range(min(widest, _MOST_DIGITS + 1)):
            here = j < length
            code = self.data[begin + np.where(here, j, 0)].astype(np.int64)
            digit = code - _ZERO
            is_digit, is_point = here & (digit >= 0) & (digit <= 9), here & (code == _POINT)
            good &= is_digit | is_point | ~here
            mantissa = np.where(is_digit, mantissa * 10 + digit, mantissa)
            decimals += is_digit & (points > 0)
            points += is_point
        digits = length - points
        good &= (points <= 1) & (digits > 0) & (digits <= _MOST_DIGITS)
        return Numbers(
            mantissa=mantissa,
            decimals=np.where(good, decimals, 0),
            whole_digits=digits - decimals,
            good=good,
            empty=length == 0,
        )


def types_of(block: Block) -> tuple[list[str], Integers]:
    """
    Give the types of the sentences in a block, and for every sentence which of them it is.

    A maker's own sentence, whose address is of another form, is of the type ``proprietary``.
    """
    data, dollar = block.data, block.dollar
    standard = (data[dollar + 6] == _COMMA) & (data[dollar + 1] != ord("P"))
    packed = np.zeros(len(dollar), dtype=np.int64)
    for place in range(1, 6):
        code = data[dollar + place]
        standard &= _IN_ADDRESS[code]
        if place > 2:
            packed = packed * 256 + code
    found, which = np.unique(np.where(standard, packed, 0), return_inverse=True)
    names = [
        "proprietary" if not code else int(code).to_bytes(3, "big").decode("ascii") for code in found.tolist()
    ]
    return names, which
