"""
Sentences that stand in print, read as a log.

Sources beside the rows; "widely printed" means pages about the protocol that copy one another, read second-hand.
"""

import pytest
from pynmeagps import NMEAReader  # type: ignore[import-untyped]

from registry.formats.nmea_framing import frame_block
from registry.formats.nmea_log import read_nmea_logs
from registry.formats.nmea_sentence import nmea_checksum

GOOD = [
    ("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47", "widely printed"),
    ("$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A", "widely printed"),
    ("$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68", "from memory"),
    ("$GPGST,172814.0,0.006,0.023,0.020,273.6,0.023,0.020,0.031*6A", "a maker's page, second-hand"),
    ("$GPGGA,040030,3240.0939,N,11739.9385,W,2,9,0.4,24,M,,M,,*53", "second-hand"),
    ("$GNGGA,203415.000,6325.6138,N,01021.4290,E,1,8,2.42,72.5,M,41.5,M,,*7C", "test of an open library"),
    ("$GPHDT,123.456,T*32", "from memory"),
]
BAD = [
    ("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*42", "a copy with a wrong checksum"),
    ("$GPGGA,121505,4807.038,N,01131.324,E,1,08,0.9,133.4,M,46.9,M, , *42", "a maker's help page"),
]


@pytest.mark.parametrize(("line", "source"), GOOD)
def test_correct_checksums(line, source):
    block = frame_block(f"{line}\r\n".encode())
    assert (len(block.dollar), block.bad_checksums, block.cut) == (1, 0, 0), source
    assert not read_nmea_logs([line.encode()]).account.unreadable


@pytest.mark.parametrize(("line", "source"), BAD)
def test_wrong_checksums(line, source):
    log = read_nmea_logs([f"{line}\r\n".encode()])
    assert (log.account.sentences, log.account.bad_checksums) == (0, 1), source
    assert not len(log.fixes)


def test_what_the_wrong_ones_ought_to_be():
    assert nmea_checksum("GPGGA,123519,4807.038,N,01131.324,E,1,08,0.9,545.4,M,46.9,M,,") == "42"
    assert nmea_checksum("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,47.0,M,,") == "4F"
    assert nmea_checksum("GPGGA,121505,4807.038,N,01131.324,E,1,08,0.9,133.4,M,46.9,M, , ") == "48"


def test_the_printed_fix():
    """4807.038 N 01131.000 E is 48.1173, 11.516667; RMC gives GGA its day, 23 March 1994."""
    log = read_nmea_logs([f"{GOOD[0][0]}\r\n{GOOD[1][0]}\r\n".encode()])
    assert log.fixes.lat_deg.tolist() == pytest.approx([48.1173], abs=5e-7)
    assert log.fixes.lon_deg.tolist() == pytest.approx([11.516667], abs=5e-7)
    assert log.fixes.time_s.tolist() == [764426119.0]  # 1994-03-23T12:35:19Z
    assert (log.fixes.quality[0], log.fixes.satellites[0], log.fixes.hdop[0]) == (1, 8, 0.9)
    assert log.account.told_again == 1
    assert "1024 weeks" in log.account.notes[0]


def test_standard_deviations_in_the_printed_order():
    """GST: time, rms, major, minor, orientation, then latitude, longitude, altitude (m, one sigma)."""
    text = "$GPRMC,172814.0,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E"
    line = f"{text}*{nmea_checksum(text[1:])}\r\n{GOOD[3][0]}\r\n"
    log = read_nmea_logs([line.encode()])
    assert (log.fixes.sigma_north_m[0], log.fixes.sigma_east_m[0]) == (0.023, 0.020)


@pytest.mark.parametrize("line", [line for line, _ in GOOD if "GGA" in line])
def test_against_a_parser_library(line):
    parsed = NMEAReader.parse(f"{line}\r\n".encode())
    rmc = f"GPRMC,{line.split(',')[1]},A,{','.join(line.split(',')[2:6])},0.0,0.0,191194,,"
    log = read_nmea_logs([f"{line}\r\n${rmc}*{nmea_checksum(rmc)}\r\n".encode()])
    assert log.fixes.lat_deg[0] == pytest.approx(parsed.lat, abs=1e-9)
    assert log.fixes.lon_deg[0] == pytest.approx(parsed.lon, abs=1e-9)
    assert (log.fixes.quality[0], log.fixes.satellites[0]) == (parsed.quality, parsed.numSV)
