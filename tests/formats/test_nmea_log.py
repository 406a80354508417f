"""Whole logs: framing, joining, days, counts, and input that is no log at all."""

import gzip
import math
from collections import Counter
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pynmeagps import NMEAReader  # type: ignore[import-untyped]

from registry.formats import nmea_framing
from registry.formats.nmea_framing import frame_block
from registry.formats.nmea_log import read_nmea_logs
from registry.formats.nmea_sentence import nmea_checksum
from registry.records.fix import FORBIDDEN_QUALITIES

START = datetime(2026, 6, 14, 14, 30, tzinfo=UTC)


def sentence(body):
    return f"${body}*{nmea_checksum(body)}\r\n".encode()


def minutes(value, width):
    degrees, rest = divmod(abs(value) * 60.0, 60.0)
    return f"{int(degrees):0{width}d}{rest:010.7f}"


def clock(at):
    return f"{at:%H%M%S}.{at.microsecond // 10000:02d}"


def place(lat, lon):
    return f"{minutes(lat, 2)},{'NS'[lat < 0]},{minutes(lon, 3)},{'EW'[lon < 0]}"


def gga(at, lat=34.02, lon=-77.335, quality=1, talker="GN", hdop=0.9):
    return sentence(f"{talker}GGA,{clock(at)},{place(lat, lon)},{quality},12,{hdop},4.1,M,-36.2,M,,")


def rmc(at, lat=34.02, lon=-77.335, status="A", mode=",A", talker="GN"):
    return sentence(f"{talker}RMC,{clock(at)},{status},{place(lat, lon)},0.1,054.7,{at:%d%m%y},,{mode}")


def gst(at, north, east):
    return sentence(f"GNGST,{clock(at)},1.2,0.9,0.7,12.0,{north},{east},1.9")


def zda(at):
    return sentence(f"GNZDA,{clock(at)},{at:%d,%m,%Y},00,00")


def seconds(n):
    return timedelta(seconds=n)


def adds_up(log):
    account = log.account
    assert account.sentences == sum(account.kinds.values())
    assert sum(account.by_quality.values()) == account.used + sum(account.set_aside.values())
    assert account.used == len(log.fixes)
    told = sum(account.kinds.get(kind, 0) for kind in ("GGA", "GNS", "RMC", "GLL"))
    unreadable = sum(n for why, n in account.unreadable.items() if why[:3] in ("GGA", "GNS", "RMC", "GLL"))
    assert told == unreadable + account.told_again + sum(account.by_quality.values())


def test_sentences_of_one_instant_become_one_fix():
    text = b"".join(
        gga(START + seconds(i), quality=2) + rmc(START + seconds(i)) + gst(START + seconds(i), 0.8, 0.6)
        for i in range(5)
    )
    text += sentence("HEHDT,237.0,T")
    log = read_nmea_logs([text])
    adds_up(log)
    assert len(log.fixes) == 5
    assert log.account.told_again == 5
    assert log.fixes.time_s.tolist() == [START.timestamp() + i for i in range(5)]
    assert log.fixes.quality.tolist() == [2] * 5
    assert log.fixes.sigma_north_m == pytest.approx([0.8] * 5)
    assert log.fixes.sigma_east_m == pytest.approx([0.6] * 5)
    assert log.fixes.lat_deg == pytest.approx([34.02] * 5, abs=1e-9)
    assert log.fixes.lon_deg == pytest.approx([-77.335] * 5, abs=1e-9)
    # The heading came in the last second: it holds for two.
    assert np.isnan(log.fixes.heading_deg).tolist() == [True, True, False, False, False]


def test_midnight_with_and_without_a_day_in_every_second():
    eve = datetime(2026, 12, 31, 23, 59, 58, tzinfo=UTC)
    both = read_nmea_logs([b"".join(gga(eve + seconds(i)) + rmc(eve + seconds(i)) for i in range(5))])
    once = read_nmea_logs([rmc(eve) + b"".join(gga(eve + seconds(i)) for i in range(5))])
    last = read_nmea_logs([b"".join(gga(eve + seconds(i)) for i in range(5)) + zda(eve + seconds(4))])
    stated = read_nmea_logs([b"".join(gga(eve + seconds(i)) for i in range(5))], day=date(2026, 12, 31))
    for log in (both, once, last, stated):
        assert log.fixes.time_s.tolist() == [eve.timestamp() + i for i in range(5)]


def test_a_log_of_three_days_with_one_date():
    hours = [START + timedelta(hours=h) for h in range(72)]
    log = read_nmea_logs([rmc(START) + b"".join(gga(at) for at in hours)])
    assert log.fixes.time_s.tolist() == [at.timestamp() for at in hours]
    assert any("nothing for 3600 s" in leap for leap in log.account.leaps)


def test_the_day_after_a_night_without_power():
    morning = START + timedelta(hours=23, minutes=55)
    log = read_nmea_logs([gga(START) + rmc(START) + gga(morning) + rmc(morning)])
    assert log.fixes.time_s.tolist() == [START.timestamp(), morning.timestamp()]


def test_no_day_at_all_is_set_aside_not_guessed():
    log = read_nmea_logs([b"".join(gga(START + seconds(i)) for i in range(3))])
    adds_up(log)
    assert len(log.fixes) == 0
    assert log.account.set_aside == {"no day in the log: state it": 3}


def test_a_date_beside_a_void_status_is_not_believed():
    wrong = datetime(1980, 1, 6, 14, 29, 59, tzinfo=UTC)
    log = read_nmea_logs([rmc(wrong, status="V", mode=",N") + gga(START) + rmc(START)])
    assert log.fixes.time_s.tolist() == [START.timestamp()]


def test_zda_that_contradicts_rmc_is_told():
    log = read_nmea_logs([rmc(START) + zda(START + timedelta(days=7))])
    assert log.account.notes == ("1 ZDA sentences say another day than RMC; RMC was followed.",)


@pytest.mark.parametrize("quality", sorted(FORBIDDEN_QUALITIES))
def test_forbidden_qualities_never_enter(quality):
    text = (
        rmc(START)
        + gga(START, quality=1)
        + rmc(START + seconds(1))
        + gga(START + seconds(1), quality=quality)
    )
    log = read_nmea_logs([text])
    adds_up(log)
    # The RMC of that second claims a fix, but its talker's GGA says that it is none.
    assert log.fixes.time_s.tolist() == [START.timestamp()]
    assert sum(log.account.set_aside.values()) == 1


def test_rtk_and_float_are_told_apart_in_every_type():
    at = [START + seconds(i) for i in range(7)]
    where = place(34.02, -77.335)
    text = (
        rmc(at[0], mode=",R")
        + rmc(at[1], mode=",F")
        + gga(at[2], quality=4)
        + gga(at[3], quality=5)
        + sentence(f"GNGNS,{clock(at[4])},{where},RRNN,14,0.8,4.1,-36.2,,")
        + sentence(f"GNGNS,{clock(at[5])},{where},RF,14,0.8,4.1,-36.2,,")
        + sentence(f"GNGLL,{where},{clock(at[6])},A,D")
    )
    log = read_nmea_logs([text])
    assert log.fixes.quality.tolist() == [4, 5, 4, 5, 4, 5, 2]
    assert log.account.by_quality == {2: 1, 4: 3, 5: 3}


def test_status_void_beats_a_quality_of_the_same_talker_only():
    other = rmc(START, status="V", mode=",N", talker="II") + gga(START, talker="GP") + rmc(START + seconds(1))
    assert read_nmea_logs([other]).account.used == 2
    same = rmc(START, status="V", mode=",N", talker="GP") + gga(START, talker="GP") + rmc(START + seconds(1))
    log = read_nmea_logs([same])
    adds_up(log)
    assert log.account.used == 1


def test_two_places_at_one_instant_are_set_aside():
    log = read_nmea_logs([rmc(START) + gga(START, lat=34.03) + rmc(START + seconds(1))])
    adds_up(log)
    assert log.account.set_aside == {"positions more than 30 m apart at one instant": 1}


def test_repeated_and_late_sentences():
    text = rmc(START) + gga(START + seconds(2)) + gga(START + seconds(1)) + gga(START + seconds(1))
    log = read_nmea_logs([text])
    adds_up(log)
    assert log.fixes.time_s.tolist() == [START.timestamp() + i for i in range(3)]
    assert (log.account.told_again, log.account.out_of_order) == (1, 1)


def test_a_leap_of_the_clock_is_told():
    log = read_nmea_logs([rmc(START) + rmc(START - timedelta(minutes=7))])
    assert log.account.leaps == ("After 2026-06-14T14:30:00.000Z the clock goes back by 420 s.",)


def test_two_files_that_overlap_are_one_log():
    first = b"".join(rmc(START + seconds(i)) for i in range(4))
    second = b"".join(rmc(START + seconds(i)) for i in range(2, 6))
    log = read_nmea_logs([first, second])
    adds_up(log)
    assert log.account.used == 6
    assert log.fixes.file.tolist() == [0, 0, 0, 0, 1, 1]


def test_what_is_no_sentence_is_counted():
    body = "GNGGA,143000.00,3401.2000000,N,07720.1000000,W,1,12,0.9,4.1,M,-36.2,M,,"
    text = (
        rmc(START)
        + b"\x00\xb5\x62garbage"
        + f"${body}*00\r\n".encode()  # bad checksum
        + f"${body}\r\n".encode()  # no checksum
        + f"${body[:30]}".encode()  # cut by power, and the next begins in the same line
        + gga(START + seconds(1))
        + b"$PMAKR,1,2*" + nmea_checksum("PMAKR,1,2").encode() + b"\r\n"
        + sentence("GNGSV,1,1,00")
    )  # fmt: skip
    log = read_nmea_logs([text])
    adds_up(log)
    assert (log.account.bad_checksums, log.account.cut) == (1, 2)
    assert log.account.kinds == {"RMC": 1, "GGA": 1, "proprietary": 1, "GSV": 1}
    assert log.account.garbage_bytes == 10 + len(body) + 1 + 31
    assert log.account.used == 2


@pytest.mark.parametrize(
    ("body", "why"),
    [
        ("GNGGA,143000.00,9501.2,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the latitude is none"),
        ("GNGGA,143000.00,3460.5,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the latitude is none"),
        ("GNGGA,143000.00,3401.2,X,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the latitude is none"),
        ("GNGGA,143000.00,3401.2,N,7720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the longitude is none"),
        ("GNGGA,143000.00,,,,,1,12,0.9,4.1,M,-36.2,M,,", "GGA: a fix without coordinates"),
        ("GNGGA,243000.00,3401.2,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the time of day is none"),
        ("GNGGA,,3401.2,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the time of day is missing"),
        ("GNGGA,143000.00,3401.2,N,07720.1,W,12,12,0.9,4.1,M,-36.2,M,,", "GGA: the quality is none"),
        ("GNGGA,143000.00,34_1.2,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the latitude is none"),
        ("GNGGA,143000.00,-3401.2,N,07720.1,W,1,12,0.9,4.1,M,-36.2,M,,", "GGA: the latitude is none"),
        ("GNRMC,143000.00,A,3401.2,N,07720.1,W,0.1,054.7,310626,,,A", "RMC: the date is none"),
        ("GNRMC,143000.00,Q,3401.2,N,07720.1,W,0.1,054.7,140626,,,A", "RMC: the status is none"),
        ("GNRMC,143000.00,A,3401.2,N,07720.1,W,0.1,054.7,140626,,,X", "RMC: the mode is none"),
        ("GNGST,143000.00,1.2,,,,inf,0.6,1.9", "GST: a standard deviation is none"),
        ("HEHDT,361.0,T", "HDT: the heading is none"),
        ("HEHDT,12.0,M", "HDT: the heading is none"),
    ],
)
def test_fields_that_make_no_sense(body, why):
    log = read_nmea_logs([sentence(body) + rmc(START + seconds(1))])
    adds_up(log)
    assert log.account.unreadable == {why: 1}
    assert log.account.used == 1


def test_event_marks():
    log = read_nmea_logs([rmc(START) + sentence("GNEVE,143001.50,MC-0017,on the bottom")])
    (mark,) = log.events
    assert (mark.time_s, mark.tag, mark.text) == (START.timestamp() + 1.5, "MC-0017", "on the bottom")


def test_zero_standard_deviations_are_unknown():
    log = read_nmea_logs([rmc(START) + gst(START, "0.00", "0.00")])
    assert math.isnan(log.fixes.sigma_north_m[0])


def day_log(n):
    return b"".join(rmc(START + seconds(i)) + gga(START + seconds(i), quality=4) for i in range(n))


def test_packed_logs_in_pieces_in_members_and_cut_short():
    text = day_log(300)
    packed = gzip.compress(text[:9000]) + gzip.compress(text[9000:]) + b"\x00" * 512
    pieces = [packed[i : i + 7] for i in range(0, len(packed), 7)]
    assert read_nmea_logs([packed]).account == read_nmea_logs([text]).account
    assert read_nmea_logs([pieces]).account == read_nmea_logs([text]).account
    short = read_nmea_logs([gzip.compress(text)[:-200]])
    assert 0 < short.account.used < 300
    assert "cut short" in short.account.notes[0]
    damaged = bytearray(gzip.compress(text))
    damaged[len(damaged) // 2] ^= 0xFF
    assert "packed log" in " ".join(read_nmea_logs([bytes(damaged)]).account.notes)


@pytest.mark.parametrize("size", [64, 500, 4096])
def test_blocks_cut_no_sentence(monkeypatch, size):
    text = day_log(100)
    whole = read_nmea_logs([text])
    monkeypatch.setattr(nmea_framing, "_BLOCK", size + nmea_framing.LONGEST_SENTENCE)
    told: list[int] = []
    pieces = read_nmea_logs([text], progress=told.append)
    assert pieces.account == whole.account
    assert pieces.fixes.offset.tolist() == whole.fixes.offset.tolist()
    assert sum(told) == len(text)
    for begin in whole.fixes.offset.tolist():
        assert text[begin : begin + 6] == b"$GNGGA"


def test_a_log_without_line_ends(monkeypatch):
    text = day_log(100).replace(b"\r\n", b"")
    monkeypatch.setattr(nmea_framing, "_BLOCK", 1000)
    assert read_nmea_logs([text]).account.used == 100


def test_nothing():
    for content in (b"", b"\x1f\x8b", b"$", b"*", b"$*00", b"\x1f", b"\n" * 50):
        log = read_nmea_logs([content])
        adds_up(log)
        assert len(log.fixes) == 0
    assert len(read_nmea_logs([]).fixes) == 0


# The oracle: pynmeagps 1.1.8 on the same sentences.
LATS = st.floats(-90, 90, allow_nan=False)
LONS = st.floats(-180, 180, allow_nan=False)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(LATS, LONS, st.sampled_from([1, 2, 4, 5]), st.integers(0, 9999)), min_size=1, max_size=8
    )
)
def test_fields_against_a_parser_library(rows):
    text, expected = b"", []
    for i, (lat, lon, quality, hundredths) in enumerate(rows):
        at = START + seconds(i)
        lat_text = minutes(lat, 2)
        lon_text = minutes(lon, 3)
        if "60.0" in (lat_text[2:6], lon_text[3:7]):
            continue
        body = gga(at, lat, lon, quality, hdop=hundredths / 100)
        parsed = NMEAReader.parse(body.decode())
        expected.append((parsed.lat, parsed.lon, parsed.quality, parsed.HDOP, parsed.numSV))
        text += body + rmc(at, lat, lon)
        dated = NMEAReader.parse(rmc(at, lat, lon).decode())
        assert (dated.date, dated.time) == (at.date(), at.time())
    log = read_nmea_logs([text])
    assert len(log.fixes) == len(expected)
    for i, (lat, lon, quality, hdop, satellites) in enumerate(expected):
        assert log.fixes.lat_deg[i] == pytest.approx(lat, abs=1e-9)
        assert log.fixes.lon_deg[i] == pytest.approx(lon, abs=1e-9)
        assert log.fixes.quality[i] == quality
        assert log.fixes.hdop[i] == pytest.approx(hdop, abs=1e-6)
        assert log.fixes.satellites[i] == satellites


# Fuzz: pieces of sentences, sentences with one byte changed, and noise, in any order.
SEEDS = day_log(3) + zda(START) + gst(START, 0.8, 0.6) + sentence("HEHDT,237.0,T") + sentence(
    f"GNGNS,{clock(START)},{place(34.02, -77.335)},RRNN,14,0.8,4.1,-36.2,,"
) + sentence(f"GNGLL,{place(34.02, -77.335)},{clock(START)},A,D")  # fmt: skip
WHOLE = SEEDS.splitlines(keepends=True)
FIELDS = st.text("0123456789.,-NSEWAVRF*$ ", max_size=16)


@st.composite
def forged(draw):
    """A sentence with a field of nonsense and a correct checksum."""
    body = draw(st.sampled_from(WHOLE))[1:].split(b"*")[0].decode()
    fields = body.split(",")
    fields[draw(st.integers(0, len(fields) - 1))] = draw(FIELDS).replace("*", "").replace("$", "")
    return sentence(",".join(fields))


PIECES = st.one_of(
    st.sampled_from(WHOLE),
    st.binary(max_size=30),
    forged(),
    st.tuples(st.sampled_from(WHOLE), st.integers(0, 60), st.integers(1, 255)).map(
        lambda t: bytes(b ^ t[2] if i == t[1] else b for i, b in enumerate(t[0]))
    ),
    st.tuples(st.sampled_from(WHOLE), st.integers(0, 80)).map(lambda t: t[0][: t[1]]),
)


def framed_slowly(text):
    """Count sentences the plain way: byte by byte, by the definition."""
    counts: Counter[str] = Counter()
    for i, byte in enumerate(text):
        if byte != ord("$"):
            continue
        end = i + 1
        while end < len(text) and text[end] not in b"$*" and 32 <= text[end] <= 126:
            end += 1
        tail = (text[end : end + 4] + b"\n\n\n\n")[:4]
        hexadecimal = all(c in b"0123456789abcdefABCDEF" for c in tail[1:3])
        if not (tail[:1] == b"*" and 7 <= end - i <= 200 and hexadecimal and not tail[3:].isalnum()):
            counts["cut"] += 1
        elif nmea_checksum(text[i + 1 : end].decode("ascii")) == tail[1:3].decode().upper():
            counts["good"] += 1
        else:
            counts["bad"] += 1
    return counts


@settings(max_examples=400, deadline=None)
@given(st.lists(PIECES, max_size=25).map(b"".join))
def test_any_bytes_are_read_and_add_up(text):
    log = read_nmea_logs([text])
    adds_up(log)
    slow = framed_slowly(text)
    block = frame_block(text) if text else None
    if block is not None and not text.startswith(b"\x1f\x8b"):
        assert (len(block.dollar), block.bad_checksums, block.cut) == (slow["good"], slow["bad"], slow["cut"])
    assert not set(log.fixes.quality.tolist()) & FORBIDDEN_QUALITIES
    assert (np.abs(log.fixes.lat_deg) <= 90).all()
    assert (np.abs(log.fixes.lon_deg) <= 180).all()
    assert np.isfinite(log.fixes.time_s).all()
    assert (np.diff(log.fixes.time_s) > 0).all()
