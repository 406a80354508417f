"""Files come in whole and decoded with care, and go out all or not at all."""

import hashlib
import subprocess
from pathlib import Path

import pytest

from registry.errors import UnreadableFileError, UnwritableError
from registry.storage.files import decode_text, file_digest, read_file, read_text, write_file


def test_a_file_is_read_whole(tmp_path):
    target = tmp_path / "log.csv"
    target.write_bytes(b"a\r\nb\x00")
    assert read_file(target) == b"a\r\nb\x00"
    assert file_digest(str(target)) == hashlib.sha256(b"a\r\nb\x00").hexdigest()


def test_what_cannot_be_read_says_why(tmp_path):
    empty = tmp_path / "empty.csv"
    empty.touch()
    for target, words in {
        tmp_path / "absent.csv": "no file",
        tmp_path: "is a folder",
        empty: "is empty",
        empty / "below.csv": "cannot be read|no file",
        Path("a\0b"): "cannot be read",
    }.items():
        with pytest.raises(UnreadableFileError, match=words) as refusal:
            read_file(target)
        assert refusal.value.remedy
        assert refusal.value.exit_code == 4


def test_a_file_that_this_account_may_not_read(tmp_path, monkeypatch):
    target = tmp_path / "log.csv"
    target.write_bytes(b"a")

    def refuse(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(UnreadableFileError, match="may not be read"):
        read_file(target)


TEXT = "tag;lat\nZoë;34° 00,6′ N\r\n"


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (TEXT.encode(), "utf-8"),
        (b"\xef\xbb\xbf" + TEXT.encode(), "utf-8"),
        (b"\xff\xfe" + TEXT.encode("utf-16-le"), "utf-16"),
        (b"\xfe\xff" + TEXT.encode("utf-16-be"), "utf-16"),
        (b"\xff\xfe\0\0" + TEXT.encode("utf-32-le"), "utf-32"),
        (b"\0\0\xfe\xff" + TEXT.encode("utf-32-be"), "utf-32"),
    ],
    ids=["utf-8", "utf-8 mark", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"],
)
def test_a_text_that_tells_its_encoding(tmp_path, data, encoding):
    target = tmp_path / "log.csv"
    target.write_bytes(data)
    decoded = read_text(target)
    assert (decoded.text, decoded.encoding, decoded.note) == (TEXT, encoding, "")


def test_an_older_encoding_is_assumed_and_said():
    decoded = decode_text("Zoë 34° “N” €".encode("cp1252"), name="log.csv")
    assert (decoded.text, decoded.encoding) == ("Zoë 34° “N” €", "cp1252")
    assert "byte 2 is 0xEB" in decoded.note
    assert "Windows-1252" in decoded.note
    other = decode_text(b"34\xb0 \x81", name="log.csv")
    assert (other.text, other.encoding) == ("34° \x81", "latin-1")
    assert "Latin-1" in other.note


def test_an_older_text_behind_the_mark_of_utf8_names_the_byte():
    data = b"\xef\xbb\xbf" + b"tag;34\xb0 N"
    with pytest.raises(UnreadableFileError, match=r"byte 9 \(0xB0\)") as refusal:
        decode_text(data, name="log.csv")
    assert data[9] == 0xB0
    assert "UTF-8" in refusal.value.remedy


@pytest.mark.parametrize("data", [b"\xff\xfea", b"\xff\xfe\x00\xdcab", b"\xff\xfe\0\0a"])
def test_a_wide_text_cut_short(data):
    with pytest.raises(UnreadableFileError, match="begins as UTF-"):
        decode_text(data, name="log.csv")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04rest", "workbook"),
        (b"%PDF-1.7", "PDF"),
        (b"SQLite format 3\0", "database"),
        (b"tag\0", "byte 3 is zero"),
        ("tag".encode("utf-16-le"), "byte 1 is zero"),
    ],
)
def test_what_is_no_text_is_not_guessed_at(data, words):
    with pytest.raises(UnreadableFileError, match=words) as refusal:
        decode_text(data, name="log.csv")
    assert refusal.value.remedy


def test_a_file_is_written_all_or_not_at_all(tmp_path, monkeypatch):
    target = tmp_path / "map.html"
    assert write_file(target, b"old") == target
    write_file(str(target), b"new")
    assert target.read_bytes() == b"new"

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(UnwritableError, match="No space left") as refusal:
        write_file(target, b"newer")
    assert refusal.value.remedy
    assert target.read_bytes() == b"new"
    assert [one.name for one in tmp_path.iterdir()] == ["map.html"]


def test_what_cannot_be_written_says_why(tmp_path):
    for target in (tmp_path / "none" / "map.html", tmp_path, Path("a\0b")):
        with pytest.raises(UnwritableError):
            write_file(target, b"x")
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_keeps_what_was_there(tmp_path):
    if subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", tmp_path], capture_output=True, check=False
    ).returncode:
        pytest.skip("this account may not mount")
    try:
        target = write_file(tmp_path / "map.html", b"x" * 1000)
        with pytest.raises(UnwritableError, match="space"):
            write_file(target, b"y" * 200_000)
        assert target.read_bytes() == b"x" * 1000
        assert len(list(tmp_path.iterdir())) == 1
    finally:
        subprocess.run(["umount", "-l", tmp_path], check=True)
