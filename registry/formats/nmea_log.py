"""
Whole NMEA 0183 logs of a receiver to fixes, one for each instant, with an account of everything in them.

GGA, GNS, RMC and GLL give positions, GST standard deviations, HDT headings, RMC and ZDA days, EVE event
marks; from any talker, in any mixture and order. The datum is a setting of the receiver that no log tells.

Read here, not by a parser library: a day at ten fixes a second is 2.6 million sentences, which the
maintained library reads in over a minute and this in seconds. The tests hold the fields against that
library.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

import numpy as np
from numpy.typing import NDArray

from registry.formats.nmea_framing import blocks_of, frame_block, unpacked
from registry.formats.nmea_sentences import KINDS, POSITION_KINDS, UNSAID, Sentences, read_sentences
from registry.records.fix import FORBIDDEN_QUALITIES, QUALITIES, EventMark, FixTable, LogAccount

__all__ = ["NmeaLog", "read_nmea_logs"]

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_DAY_US = 86_400_000_000
_EPOCH_DAY = date(1970, 1, 1).toordinal()
#: Two positions of one instant may differ by what few written digits leave. Units: m.
_SAME_PLACE_M = 30.0
_METRES_PER_DEGREE = 111_320.0
#: A step back of the clock beyond this is a leap, below it a sentence that came late. Units: us.
_LATE_US = 60_000_000
_SILENCE_US = 600_000_000
#: A heading holds for fixes this near in time. Units: us.
_HEADING_HOLDS_US = 2_000_000
_LEAPS_TOLD = 8

_GST, _ZDA, _HDT, _EVE = (KINDS.index(kind) for kind in ("GST", "ZDA", "HDT", "EVE"))
_RMC = KINDS.index("RMC")
_VOIDED = "called void by another sentence of the same talker"
_CONTRADICTED = f"positions more than {_SAME_PLACE_M:.0f} m apart at one instant"
_UNDATED = "no day in the log: state it"


@dataclass(frozen=True, slots=True, kw_only=True)
class NmeaLog:
    """What logs hold."""

    fixes: FixTable
    events: tuple[EventMark, ...]
    account: LogAccount


def read_nmea_logs(
    files: Sequence[Iterable[bytes] | bytes],
    *,
    day: date | None = None,
    progress: Callable[[int], object] | None = None,
) -> NmeaLog:
    """
    Read logs that belong together, as those of one day.

    Parameters
    ----------
    files : sequence of (bytes or iterable of bytes)
        Each log, whole or in pieces as they come; plain or gzip.
    day : datetime.date, optional
        UTC day of the first sentence of a log that never says one.
    progress : callable, optional
        Told the number of unpacked bytes after each block.

    Returns
    -------
    NmeaLog
        Fixes of measured qualities only, in the order of their instants.

    Notes
    -----
    A sentence without a day takes the one of the nearest RMC (status A) in order and time of day, else of
    ZDA; between them midnight is counted where the clock falls back by more than twelve hours.

    For an instant that several sentences tell, GGA is taken before GNS, RMC and GLL. If a sentence of the
    same talker calls the instant void, or if positions differ by more than 30 m, it is set aside.

    Examples
    --------
    >>> log = read_nmea_logs([b"$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68"])
    >>> log.fixes.lat_deg.round(6).tolist(), log.account.used
    ([49.274167], 1)
    """
    reading = _Reading(day)
    for number, content in enumerate(files):
        reading.read(number, [content] if isinstance(content, bytes) else content, progress)
    return reading.finished()


class _Reading:
    """What has been read so far; instants are settled file by file, fixes over all files."""

    def __init__(self, day: date | None) -> None:
        self.day = day
        self.kinds: Counter[str] = Counter()
        self.unreadable: Counter[str] = Counter()
        self.notes: list[str] = []
        self.leaps: list[str] = []
        self.bad_checksums = self.cut = self.garbage_bytes = self.out_of_order = 0
        self.parts: list[tuple[Sentences, Integers, Flags, Integers]] = []
        self.events: list[EventMark] = []

    def read(self, number: int, chunks: Iterable[bytes], progress: Callable[[int], object] | None) -> None:
        parts: list[Sentences] = []
        marks: dict[int, tuple[str, str]] = {}
        for offset, text in blocks_of(unpacked(chunks, self.notes)):
            block = frame_block(text)
            self.bad_checksums += block.bad_checksums
            self.cut += block.cut
            self.garbage_bytes += block.garbage_bytes
            part, events = read_sentences(block, kinds=self.kinds, unreadable=self.unreadable)
            part.offset[:] += offset
            marks |= {at + offset: told for at, told in events.items()}
            parts.append(part)
            if progress is not None:
                progress(len(text))
        if not parts:
            return
        sentences = Sentences.joined(parts)
        parts.clear()  # a day's log is large, and the boat's tablet small
        instant_us, dated = self._settle_instants(sentences)
        for i in np.flatnonzero(sentences.kind == _EVE).tolist():
            tag, text_ = marks[int(sentences.offset[i])]
            time_s = float(instant_us[i] / 1e6) if dated[i] else float("nan")
            self.events.append(EventMark(time_s=time_s, tag=tag, text=text_))
        file = np.full(len(sentences), number, dtype=np.int64)
        self.parts.append((sentences, instant_us, dated, file))

    def _settle_instants(self, sentences: Sentences) -> tuple[Integers, Flags]:
        """Give each sentence of one file its instant (us since 1970), and tell whether its day is known."""
        n = len(sentences)
        timed = np.flatnonzero(sentences.clock_us != UNSAID)
        instant, dated = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=bool)
        if not len(timed):
            return instant, dated
        clock = sentences.clock_us[timed]
        fall = np.diff(clock, prepend=clock[:1])
        turn = (fall < -_DAY_US // 2).astype(np.int64) - (fall > _DAY_US // 2)
        running = clock + _DAY_US * np.cumsum(turn)
        days = sentences.day[timed].astype(np.int64)
        kind, quality = sentences.kind[timed], sentences.quality[timed]
        anchors = np.flatnonzero((kind == _RMC) & (quality > 0) & (days != UNSAID))
        if not len(anchors):
            anchors = np.flatnonzero((kind == _ZDA) & (days != UNSAID))
        if len(anchors):
            base = days[anchors] * _DAY_US + clock[anchors] - running[anchors]
            settled = running + base[_nearest(anchors, running)]
            own = anchors[kind[anchors] == _RMC]
            settled[own] = days[own] * _DAY_US + clock[own]
            self._compare_days(settled, days, kind, clock)
        elif self.day is not None:
            settled = running + (self.day.toordinal() - _EPOCH_DAY) * _DAY_US
        else:
            settled = running
        instant[timed] = settled
        dated[timed] = bool(len(anchors)) or self.day is not None
        self._follow_clock(settled[np.isin(kind, range(len(POSITION_KINDS)))], known=bool(dated.any()))
        # A heading has no clock of its own: it belongs to the sentence before it, else to the first one.
        before = np.searchsorted(timed, np.arange(n), side="right") - 1
        untimed = sentences.clock_us == UNSAID
        instant[untimed] = settled[np.maximum(before[untimed], 0)]
        dated[untimed] = dated[timed[0]]
        return instant, dated

    def _compare_days(
        self, settled: Integers, days: Integers, kind: NDArray[np.int8], clock: Integers
    ) -> None:
        told = (kind == _ZDA) & (days != UNSAID)
        differ = int(np.count_nonzero(settled[told] != days[told] * _DAY_US + clock[told]))
        if differ:
            self.notes.append(f"{differ} ZDA sentences say another day than RMC; RMC was followed.")

    def _follow_clock(self, instants: Integers, *, known: bool) -> None:
        step = np.diff(instants)
        self.out_of_order += int(np.count_nonzero((step < 0) & (step >= -_LATE_US)))
        leaps = np.flatnonzero((step < -_LATE_US) | (step > _SILENCE_US))
        for i in leaps[:_LEAPS_TOLD].tolist():
            when = _written(int(instants[i])) if known else _written(int(instants[i]))[11:]
            seconds = step[i] / 1e6
            self.leaps.append(
                f"After {when} the clock goes back by {-seconds:.0f} s."
                if seconds < 0
                else f"After {when} nothing for {seconds:.0f} s."
            )
        if len(leaps) > _LEAPS_TOLD:
            self.leaps.append(f"{len(leaps) - _LEAPS_TOLD} more leaps of the clock or silences.")

    def finished(self) -> NmeaLog:
        fixes, told_again, by_quality, set_aside = self._fixes()
        account = LogAccount(
            sentences=self.kinds.total(),
            bad_checksums=self.bad_checksums,
            cut=self.cut,
            garbage_bytes=self.garbage_bytes,
            kinds=dict(sorted(self.kinds.items())),
            unreadable=dict(sorted(self.unreadable.items())),
            told_again=told_again,
            by_quality=by_quality,
            used=len(fixes),
            set_aside=set_aside,
            out_of_order=self.out_of_order,
            leaps=tuple(self.leaps),
            notes=tuple(self.notes),
        )
        return NmeaLog(fixes=fixes, events=tuple(self.events), account=account)

    def _fixes(self) -> tuple[FixTable, int, dict[int, int], dict[str, int]]:
        if not self.parts:
            return FixTable(), 0, {}, {}
        everything = Sentences.joined([part[0] for part in self.parts])
        instant, dated, file = (np.concatenate([part[i] for part in self.parts]) for i in (1, 2, 3))
        placed = np.flatnonzero(everything.kind < len(POSITION_KINDS))
        if not len(placed):
            return FixTable(), 0, {}, {}
        # Where no day is known, instants of different files are different.
        key = np.where(dated[placed], instant[placed], instant[placed] - (1 + file[placed]) * (1 << 55))
        forbidden = np.isin(everything.quality[placed], list(FORBIDDEN_QUALITIES))
        voided = _spread(key, everything.talker[placed].astype(np.int64), forbidden)
        order = np.lexsort((everything.kind[placed], voided, key))
        sorted_key = key[order]
        first = np.flatnonzero(np.diff(sorted_key, prepend=sorted_key[0] - 1))
        group = np.repeat(np.arange(len(first)), np.diff(first, append=len(order)))
        sentences = placed[order]
        chosen = sentences[first]
        apart = _apart_m(everything, sentences, chosen[group])
        apart[voided[order]] = 0.0
        contradicted = np.maximum.reduceat(apart, first) > _SAME_PLACE_M
        quality = everything.quality[chosen].astype(np.int64)
        faults: list[tuple[str, Flags]] = [
            (QUALITIES[code], quality == code) for code in sorted(FORBIDDEN_QUALITIES)
        ]
        faults += [
            (_VOIDED, voided[order][first]),
            (_CONTRADICTED, contradicted),
            (_UNDATED, ~dated[chosen]),
        ]
        good = np.ones(len(chosen), dtype=bool)
        set_aside: dict[str, int] = {}
        for why, which in faults:
            count = int(np.count_nonzero(which & good))
            if count:
                set_aside[why] = count
            good &= ~which
        codes, counts = np.unique(quality, return_counts=True)
        by_quality = dict(zip(codes.tolist(), counts.tolist(), strict=True))
        table = self._table(everything, chosen[good], instant, file, dated)
        return table, len(placed) - len(chosen), by_quality, set_aside

    def _table(
        self, everything: Sentences, chosen: Integers, instant: Integers, file: Integers, dated: Flags
    ) -> FixTable:
        at = instant[chosen]
        north, east = np.full(len(at), np.nan), np.full(len(at), np.nan)
        gst = np.flatnonzero((everything.kind == _GST) & dated & np.isfinite(everything.first_value))
        if len(gst) and len(at):
            near = gst[_closest(instant[gst], at)]
            same = instant[near] == at
            north[same] = everything.first_value[near[same]]
            east[same] = everything.second_value[near[same]]
        heading = np.full(len(at), np.nan)
        hdt = np.flatnonzero((everything.kind == _HDT) & dated)
        if len(hdt) and len(at):
            near = hdt[_closest(instant[hdt], at)]
            fresh = np.abs(instant[near] - at) <= _HEADING_HOLDS_US
            heading[fresh] = everything.first_value[near[fresh]]
        if len(at) and at[0] < datetime(1999, 8, 22, tzinfo=UTC).timestamp() * 1e6:
            self.notes.append(
                f"The first fix is of {_written(int(at[0]))[:10]}. A receiver whose week count has started"
                " again shows days 1024 weeks early."
            )
        return FixTable(
            time_s=at / 1e6,
            lon_deg=everything.lon_deg[chosen],
            lat_deg=everything.lat_deg[chosen],
            quality=everything.quality[chosen].astype(np.int64),
            satellites=everything.satellites[chosen].astype(np.int64),
            hdop=everything.hdop[chosen].astype(np.float64),
            sigma_east_m=east,
            sigma_north_m=north,
            heading_deg=heading,
            resolution_min=everything.resolution_min[chosen].astype(np.float64),
            file=file[chosen],
            offset=everything.offset[chosen],
        )


def _nearest(anchors: Integers, running: Integers) -> Integers:
    """Give for each sentence the anchor before or behind it whose clock is nearer; before, if equal."""
    after = np.searchsorted(anchors, np.arange(len(running)))
    behind = np.minimum(after, len(anchors) - 1)
    before = np.maximum(after - 1, 0)
    to_behind = np.abs(running[anchors[behind]] - running)
    to_before = np.abs(running[anchors[before]] - running)
    return np.where(to_behind < to_before, behind, before)


def _closest(instants: Integers, wanted: Integers) -> Integers:
    """Give for each wanted instant the index of the closest one."""
    order = np.argsort(instants, kind="stable")
    ranked = instants[order]
    after = np.minimum(np.searchsorted(ranked, wanted), len(ranked) - 1)
    before = np.maximum(after - 1, 0)
    return np.asarray(order[np.where(wanted - ranked[before] < ranked[after] - wanted, before, after)])


def _spread(key: Integers, talker: Integers, flag: Flags) -> Flags:
    """Flag every sentence of a talker at an instant where one of them is flagged."""
    if not flag.any():
        return flag
    order = np.lexsort((talker, key))
    k, t = key[order], talker[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(k) != 0) | (np.diff(t) != 0)
    any_flag = np.logical_or.reduceat(flag[order], np.flatnonzero(new))
    spread = np.empty_like(flag)
    spread[order] = any_flag[np.cumsum(new) - 1]
    return spread


def _apart_m(sentences: Sentences, one: Integers, other: Integers) -> Floats:
    """Give roughly how far positions lie apart; 0 where one is not told."""
    north = sentences.lat_deg[one] - sentences.lat_deg[other]
    east = (sentences.lon_deg[one] - sentences.lon_deg[other] + 180.0) % 360.0 - 180.0
    east = east * np.cos(np.radians(sentences.lat_deg[other]))
    return np.nan_to_num(np.hypot(north, east) * _METRES_PER_DEGREE, nan=0.0)


def _written(instant_us: int) -> str:
    return f"{np.datetime64(instant_us, 'us').astype('datetime64[ms]')}Z"
