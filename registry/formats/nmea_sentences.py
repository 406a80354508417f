"""
What the sentences of a block say, as columns: instants, positions, standard deviations, headings, marks.

Nothing is joined here, and no day is guessed: that needs the whole log.

Sources
-------
NMEA 0183 (read second-hand) for the fields of GGA, RMC, GLL, GST, HDT and ZDA; GNS and EVE, and the mode
letters of RMC, GLL and GNS, from memory.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from registry.formats.nmea_framing import Block, Numbers, Rows, types_of

__all__ = ["KINDS", "POSITION_KINDS", "UNSAID", "Sentences", "read_sentences"]

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

#: Types that are read, in the order in which one is preferred for the fix of an instant.
KINDS = ("GGA", "GNS", "RMC", "GLL", "GST", "ZDA", "HDT", "EVE")
POSITION_KINDS = ("GGA", "GNS", "RMC", "GLL")
#: An instant or a day that the sentence does not say.
UNSAID = -1

#: Mode letter to the quality code of a GGA sentence.
_MODES = {"N": 0, "A": 1, "D": 2, "P": 3, "R": 4, "F": 5, "E": 6, "M": 7, "S": 8}
_NO_MODE = 99
_QUALITY_OF_MODE = np.full(256, _NO_MODE, dtype=np.int64)
for _letter, _quality in _MODES.items():
    _QUALITY_OF_MODE[ord(_letter)] = _quality
#: Of several constellations the worst counts: how bad each quality is, best first.
_BADNESS = np.array([_NO_MODE] * 100, dtype=np.int64)
for _rank, _quality in enumerate((4, 5, 3, 2, 1, 6, 7, 8)):
    _BADNESS[_quality] = _rank
_BEST_FIRST = np.array([4, 5, 3, 2, 1, 6, 7, 8], dtype=np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentences:
    """
    Sentences as columns in the order of the log; every array has shape (n,).

    What a sentence does not say is -1 in a column of integers and NaN in one of floats.
    """

    #: Index into `KINDS`.
    kind: NDArray[np.int8]
    #: The two letters of the talker, as one number.
    talker: NDArray[np.int16]
    #: The byte at which the sentence begins.
    offset: Integers
    #: Time of day. Units: microseconds.
    clock_us: Integers
    #: Days since 1970-01-01.
    day: NDArray[np.int32]
    lat_deg: Floats
    lon_deg: Floats
    resolution_min: Floats
    quality: NDArray[np.int8]
    satellites: NDArray[np.int16]
    hdop: Floats
    #: Standard deviation north of a GST sentence (m), or the heading of an HDT sentence (degrees).
    first_value: Floats
    #: Standard deviation east of a GST sentence. Units: m.
    second_value: Floats

    def __len__(self) -> int:
        """Give the number of sentences."""
        return len(self.kind)

    def rows(self, which: NDArray[np.bool_] | Integers) -> "Sentences":
        """Give the sentences that an index array or a mask chooses."""
        return Sentences(**{f.name: getattr(self, f.name)[which] for f in fields(self)})

    @staticmethod
    def joined(parts: "list[Sentences]") -> "Sentences":
        """Give several as one, in their order."""
        if len(parts) == 1:
            return parts[0]
        return Sentences(
            **{f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Sentences)}
        )


class _Draft:
    """Columns of one type of sentence while they are read."""

    def __init__(self, rows: Rows, kind: int) -> None:
        n = len(rows)
        self.rows, self.kind = rows, kind
        self.good = np.ones(n, dtype=bool)
        self.faults: list[tuple[str, Flags]] = []
        self.clock_us = np.full(n, UNSAID, dtype=np.int64)
        self.day = np.full(n, UNSAID, dtype=np.int32)
        self.quality = np.full(n, -1, dtype=np.int64)
        self.satellites = np.full(n, -1, dtype=np.int64)
        self.lat, self.lon, self.resolution, self.hdop, self.first, self.second = (
            np.full(n, np.nan) for _ in range(6)
        )

    def refuse(self, why: str, which: Flags) -> None:
        """Set aside sentences whose field makes no sense; the first fault of a sentence counts."""
        fresh = which & self.good
        if fresh.any():
            self.faults.append((why, fresh))
            self.good = self.good & ~fresh

    def read_clock(self, field: int) -> None:
        """Read hhmmss.ss."""
        number = self.rows.numbers(field)
        scale = 10 ** np.minimum(number.decimals, 11)
        whole, fraction = np.divmod(number.mantissa, scale)
        hour, minute, second = whole // 10000, whole // 100 % 100, whole % 100
        # A second 60 is a leap second.
        sound = number.good & (number.whole_digits == 6) & (hour < 24) & (minute < 60) & (second < 61)
        self.refuse("the time of day is missing", number.empty)
        self.refuse("the time of day is none", ~sound)
        micros = np.rint(fraction * 1e6 / scale).astype(np.int64)
        self.clock_us = np.where(sound, ((hour * 60 + minute) * 60 + second) * 1_000_000 + micros, UNSAID)

    def read_place(self, field: int, *, may_lack: Flags) -> None:
        """Read ddmm.mm,N,dddmm.mm,W; only a sentence that says that it has no fix may lack them."""
        rows = self.rows
        lat, lon = rows.numbers(field), rows.numbers(field + 2)
        north, east = rows.letter(field + 1), rows.letter(field + 3)
        lat_deg, lat_good = _angle(lat, 4, 90)
        lon_deg, lon_good = _angle(lon, 5, 180)
        lat_good &= (north == ord("N")) | (north == ord("S"))
        lon_good &= (east == ord("E")) | (east == ord("W"))
        absent = lat.empty & lon.empty
        self.refuse("a fix without coordinates", absent & ~may_lack)
        self.refuse("the latitude is none", ~absent & ~lat_good)
        self.refuse("the longitude is none", ~absent & ~lon_good)
        there = ~absent & lat_good & lon_good
        self.lat = np.where(there, np.where(north == ord("S"), -lat_deg, lat_deg), np.nan)
        self.lon = np.where(there, np.where(east == ord("W"), -lon_deg, lon_deg), np.nan)
        self.resolution = np.where(there, 10.0 ** -np.minimum(lat.decimals, lon.decimals), np.nan)

    def finished(self) -> Sentences:
        """Give the sentences that could be read."""
        good = self.good
        data, dollar = self.rows.data, self.rows.dollar[good]
        return Sentences(
            kind=np.full(len(dollar), self.kind, dtype=np.int8),
            talker=(data[dollar + 1].astype(np.int16) * 256 + data[dollar + 2]).astype(np.int16),
            offset=dollar.astype(np.int64),
            clock_us=self.clock_us[good],
            day=self.day[good],
            lat_deg=self.lat[good],
            lon_deg=self.lon[good],
            resolution_min=self.resolution[good],
            quality=self.quality[good].astype(np.int8),
            satellites=self.satellites[good].astype(np.int16),
            hdop=self.hdop[good],
            first_value=self.first[good],
            second_value=self.second[good],
        )


def _angle(number: Numbers, whole_digits: int, most_deg: int) -> tuple[Floats, Flags]:
    scale = 10**number.decimals
    degrees, minutes = np.divmod(number.mantissa, scale * 100)
    value = (degrees * 60 + minutes / scale) / 60.0
    good = number.good & (number.whole_digits == whole_digits) & (minutes < 60 * scale) & (value <= most_deg)
    return value, good


def _read_gga(draft: _Draft) -> None:
    rows = draft.rows
    draft.read_clock(1)
    code = rows.letter(6).astype(np.int64)
    digit = (code >= ord("0")) & (code <= ord("9"))
    draft.refuse("the quality is none", ~digit & (code != 0))
    draft.quality = np.where(digit, code - ord("0"), 0)
    draft.read_place(2, may_lack=draft.quality == 0)
    _read_strength(draft, 7)


def _read_gns(draft: _Draft) -> None:
    draft.read_clock(1)
    codes = draft.rows.letters(6, 8)
    qualities = np.where(codes == 0, 0, _QUALITY_OF_MODE[codes])
    draft.refuse("the mode is none", (qualities == _NO_MODE).any(axis=1))
    badness = np.where(qualities == 0, -1, _BADNESS[qualities]).max(axis=1)
    draft.quality = np.where(badness < 0, 0, _BEST_FIRST[np.clip(badness, 0, len(_BEST_FIRST) - 1)])
    draft.read_place(2, may_lack=draft.quality == 0)
    _read_strength(draft, 7)


def _read_strength(draft: _Draft, field: int) -> None:
    satellites, hdop = draft.rows.numbers(field), draft.rows.numbers(field + 1)
    draft.refuse("the number of satellites is none", ~satellites.good & ~satellites.empty)
    draft.refuse("the HDOP is none", ~hdop.good & ~hdop.empty)
    counted = satellites.good & (satellites.decimals == 0) & (satellites.mantissa < 1000)
    draft.satellites = np.where(counted, satellites.mantissa, -1)
    draft.hdop = hdop.value


def _read_status(draft: _Draft, status_field: int, mode_field: int) -> None:
    """Status A without a mode says nothing of corrections: satellites alone."""
    status, mode = draft.rows.letter(status_field), draft.rows.letter(mode_field)
    draft.refuse("the status is none", (status != ord("A")) & (status != ord("V")))
    quality = np.where(mode == 0, 1, _QUALITY_OF_MODE[mode])
    draft.refuse("the mode is none", quality == _NO_MODE)
    draft.quality = np.where(status == ord("A"), quality, 0)


def _read_rmc(draft: _Draft) -> None:
    draft.read_clock(1)
    _read_status(draft, 2, 12)
    draft.read_place(3, may_lack=draft.quality == 0)
    date = draft.rows.numbers(9)
    year = date.mantissa % 100
    written = date.good & (date.decimals == 0) & (date.whole_digits == 6)
    day, sound = _days(
        np.where(year < 80, 2000 + year, 1900 + year), date.mantissa // 100 % 100, date.mantissa // 10000
    )
    draft.refuse("the date is none", ~date.empty & ~(written & sound))
    draft.day = np.where(written & sound, day, UNSAID).astype(np.int32)


def _read_gll(draft: _Draft) -> None:
    draft.read_clock(5)
    _read_status(draft, 6, 7)
    draft.read_place(1, may_lack=draft.quality == 0)


def _read_gst(draft: _Draft) -> None:
    draft.read_clock(1)
    north, east = draft.rows.numbers(6), draft.rows.numbers(7)
    draft.refuse("a standard deviation is none", (~north.good & ~north.empty) | (~east.good & ~east.empty))
    # Receivers without a fix write zeros; nobody knows a position exactly.
    stated = (north.value > 0) & (east.value > 0)
    draft.first, draft.second = np.where(stated, north.value, np.nan), np.where(stated, east.value, np.nan)


def _read_zda(draft: _Draft) -> None:
    draft.read_clock(1)
    parts = [draft.rows.numbers(field) for field in (2, 3, 4)]
    written = np.logical_and.reduce([p.good & (p.decimals == 0) for p in parts])
    empty = np.logical_and.reduce([p.empty for p in parts])
    day, sound = _days(parts[2].mantissa, parts[1].mantissa, parts[0].mantissa)
    draft.refuse("the date is none", ~empty & ~(written & sound))
    draft.day = np.where(written & sound, day, UNSAID).astype(np.int32)


def _read_hdt(draft: _Draft) -> None:
    heading = draft.rows.numbers(1)
    sound = heading.good & (heading.value <= 360.0) & (draft.rows.letter(2) == ord("T"))
    draft.refuse("the heading is none", ~sound)
    draft.first = np.where(sound, heading.value % 360.0, np.nan)


def _read_eve(draft: _Draft) -> None:
    draft.read_clock(1)


def _days(year: Integers, month: Integers, day: Integers) -> tuple[Integers, Flags]:
    """Number the days since 1970-01-01, and tell which exist."""
    sound = (year >= 1980) & (year <= 2099) & (month >= 1) & (month <= 12) & (day >= 1) & (day <= 31)
    months = (np.where(sound, (year - 1970) * 12 + month - 1, 0)).astype("datetime64[M]")
    days = months.astype("datetime64[D]") + np.where(sound, day - 1, 0)
    return days.astype(np.int64), sound & (days.astype("datetime64[M]") == months)


_READERS: dict[str, Callable[[_Draft], None]] = {
    "GGA": _read_gga,
    "GNS": _read_gns,
    "RMC": _read_rmc,
    "GLL": _read_gll,
    "GST": _read_gst,
    "ZDA": _read_zda,
    "HDT": _read_hdt,
    "EVE": _read_eve,
}


def read_sentences(
    block: Block, *, kinds: Counter[str], unreadable: Counter[str]
) -> tuple[Sentences, dict[int, tuple[str, str]]]:
    """
    Read the sentences of a block.

    Parameters
    ----------
    block : Block
    kinds, unreadable : collections.Counter
        Are added to: sentences by type, and those set aside because of a field, by what is wrong.

    Returns
    -------
    sentences : Sentences
        In the order of the block.
    events : dict
        The offset of an event mark to its tag and its text.
    """
    names, types = types_of(block)
    events: dict[int, tuple[str, str]] = {}
    parts: list[Sentences] = []
    for number, name in enumerate(names):
        mine = np.flatnonzero(types == number)
        kinds[name] += len(mine)
        if name not in _READERS:
            continue
        draft = _Draft(Rows(block, mine), KINDS.index(name))
        _READERS[name](draft)
        for why, which in draft.faults:
            unreadable[f"{name}: {why}"] += int(np.count_nonzero(which))
        part = draft.finished()
        if name == "EVE":
            tags, texts = draft.rows.text(2), draft.rows.text(3)
            at = draft.rows.dollar.tolist()
            events |= {at[i]: (tags[i], texts[i]) for i in np.flatnonzero(draft.good).tolist()}
        parts.append(part)
    if not parts:
        parts = [_Draft(Rows(block, np.empty(0, dtype=np.int64)), 0).finished()]
    together = Sentences.joined(parts)
    return together.rows(np.argsort(together.offset, kind="stable")), events
