import csv
import hashlib
import io
import json
from datetime import UTC, datetime
from typing import Any

import pytest

from registry.formats.evidence_file import evidence_files, write_evidence_index
from registry.records.placement_evidence import PlacementEvidence

AT = datetime(2026, 6, 1, 17, 0, tzinfo=UTC)


def an_evidence(**changes):
    said: dict[str, Any] = {
        "tag": "MR-0001",
        "permit": "HB-0417",
        "placement_id": "0badcafe-14",
        "actor": "Ada of the dive team",
        "at": AT,
        "digest": "ab" * 32,
        "content": {"tag": "MR-0001", "as_written": {"position": "34° N"}},
    } | changes
    return PlacementEvidence(**said)


def test_a_derivation_is_text_that_anybody_reads():
    (file,) = evidence_files(an_evidence())
    assert file.path == "HB-0417/MR-0001--0badcafe-14.json"
    assert json.loads(file.content) == {"tag": "MR-0001", "as_written": {"position": "34° N"}}
    assert "34° N" in file.content.decode()


def test_a_log_is_kept_line_by_line_and_known_again_by_its_digest():
    log, told = evidence_files(an_evidence(log_lines=("$GPGGA,1*00", "$GPRMC,2*00")))
    assert log.name == "MR-0001--0badcafe-14.nmea"
    # IEC 61162-1 (NMEA 0183): a sentence ends with carriage return and line feed.
    assert log.content == b"$GPGGA,1*00\r\n$GPRMC,2*00\r\n"
    assert json.loads(told.content)["lines_of_the_log"] == {
        "in": log.name,
        "sha256": hashlib.sha256(log.content).hexdigest(),
        "lines": 2,
    }


@pytest.mark.parametrize(
    "hostile", ["../../etc/passwd", "a/b\\c", "<script>", "..", "", "=HYPERLINK(1)", "x" * 500, "\0", "COM1:"]
)
def test_no_tag_and_no_permit_leads_out_of_the_folder(hostile):
    (file,) = evidence_files(an_evidence(tag=hostile, permit=hostile))
    folder, name = file.path.split("/")
    assert folder.strip(".")
    assert not set(folder + name) & set('/\\:*?"<>|\0 ')
    assert len(name) < 120
    assert name.endswith("--0badcafe-14.json")


def test_the_index_proves_each_file():
    evidence = an_evidence(tag="=HYPERLINK(1)")
    (file,) = evidence_files(evidence)
    line = (file.path, len(file.content), hashlib.sha256(file.content).hexdigest(), evidence)
    (row,) = csv.DictReader(io.StringIO(write_evidence_index([line]).decode("utf-8-sig"), newline=""))
    assert row["sha256"] == hashlib.sha256(file.content).hexdigest()
    assert row["entry_sha256"] == "ab" * 32
    assert row["entered_at"] == "2026-06-01T17:00:00.000Z"
    assert row["placement"] == "'=HYPERLINK(1)"
