"""The file of families: read back exactly, private, replaced whole, and blanked where it was."""

import os
import stat
from datetime import timedelta
from pathlib import Path

import pytest

from registry.errors import NewerRegistryError, UnreadableFileError, UnwritableError
from registry.records.family import Contact, Family
from registry.storage.byte_search import search_files
from registry.storage.family_file import FamilyFile, family_file_of
from tests.builders import NOON

IDA = Contact(
    name="Ida Quill “Zoë”", email="ida@quill.example", note='says "soon" \\ later', recorded_at=NOON
)
QUILLS = Family(
    tag="MR-0001", contacts=(IDA,), secret="0c" * 32, identifications=("C-48213",), recorded_at=NOON
)
OTHERS = Family(tag="MR-0002", contacts=(Contact(name="Dov Ostrander", recorded_at=NOON),), recorded_at=NOON)


@pytest.fixture
def file(tmp_path: Path) -> FamilyFile:
    return FamilyFile(tmp_path / "leadline.gpkg.families", origin="0badcafe")


def test_what_is_kept_comes_back_exactly_in_order_of_tag(file):
    assert file.held() == {}
    file.keep([OTHERS, QUILLS])
    assert list(file.held().items()) == [("MR-0001", QUILLS), ("MR-0002", OTHERS)]


def test_what_is_kept_anew_takes_the_place_of_the_old_and_an_empty_one_goes(file):
    file.keep([QUILLS, OTHERS])
    later = Family(tag="MR-0001", contacts=OTHERS.contacts, recorded_at=NOON + timedelta(days=1))
    file.keep([later])
    assert file.held() == {"MR-0001": later, "MR-0002": OTHERS}
    file.keep([Family(tag="MR-0001", recorded_at=NOON)])
    assert file.held() == {"MR-0002": OTHERS}
    file.keep([Family(tag="MR-0002", recorded_at=NOON)])
    assert not file.path.exists()


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_it_is_its_owners_alone_and_wider_rights_are_mended_and_told(file):
    file.keep([QUILLS])
    assert stat.S_IMODE(file.path.stat().st_mode) == 0o600
    file.path.chmod(0o644)
    assert file.held() == {"MR-0001": QUILLS}
    assert stat.S_IMODE(file.path.stat().st_mode) == 0o600
    assert "0644" in file.notes[0]


def test_the_old_bytes_are_written_over_where_they_lay(file):
    file.keep([QUILLS, OTHERS])
    # A second name keeps the old file in sight after it was replaced.
    second = file.path.with_name("second")
    os.link(file.path, second)
    file.keep([Family(tag="MR-0001", recorded_at=NOON)])
    assert set(second.read_bytes()) == {0}
    os.link(file.path, file.path.with_name("third"))
    file.keep([Family(tag="MR-0002", recorded_at=NOON)])
    assert set(file.path.with_name("third").read_bytes()) == {0}


def test_a_draft_that_a_power_cut_left_is_blanked_and_removed(file):
    file.keep([QUILLS])
    left = file.path.with_name(f".{file.path.name}.0123abcd.new")
    left.write_bytes(file.path.read_bytes())
    second = file.path.with_name("second")
    os.link(left, second)
    file.keep([OTHERS])
    assert not left.exists()
    assert set(second.read_bytes()) == {0}


def test_where_it_cannot_be_written_the_old_one_stands(file, monkeypatch):
    file.keep([QUILLS])

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(UnwritableError, match="No space"):
        file.keep([OTHERS])
    monkeypatch.undo()
    assert file.held() == {"MR-0001": QUILLS}
    assert [path.name for path in file.path.parent.iterdir()] == [file.path.name]


def test_a_reader_never_sees_one_that_is_being_blanked(file, monkeypatch):
    """The file is replaced between opening it and reading it."""
    file.keep([QUILLS])
    real = Path.open
    times: list[int] = []

    def slow(path, *given, **named):
        opened = real(path, *given, **named)
        if path == file.path and not times:
            times.append(1)
            FamilyFile(file.path, origin="0badcafe").keep([OTHERS])
        return opened

    monkeypatch.setattr(Path, "open", slow)
    assert file.held() == {"MR-0001": QUILLS, "MR-0002": OTHERS}


@pytest.mark.parametrize(
    ("content", "error", "said"),
    [
        (b"", UnreadableFileError, "damaged"),
        (b"\x00" * 40, UnreadableFileError, "damaged"),
        (b'{"format": 1, "registry": "00000000", "families": {}}', UnreadableFileError, "another registry"),
        (b'{"format": 3, "registry": "0badcafe", "families": {}}', NewerRegistryError, "later version"),
        (b'{"format": 1, "registry": "0badcafe", "families": []}', UnreadableFileError, "damaged"),
        (b'{"format": 1, "registry": "0badcafe", "families": {"A": {}}}', UnreadableFileError, "damaged"),
        (
            b'{"format": 1, "registry": "0badcafe", "families": {"A": {"contacts": [{"name": "Ida Quill",'
            b' "email": "x", "recorded_at": "2026-06-01T16:00:00Z"}], "secret": "", "identifications": [],'
            b' "recorded_at": "2026-06-01T16:00:00Z"}}}',
            UnreadableFileError,
            "damaged",
        ),
    ],
)
def test_a_file_that_is_not_what_it_should_be_is_told_without_a_word_of_it(file, content, error, said):
    file.path.write_bytes(content)
    with pytest.raises(error, match=said) as told:
        file.held()
    assert "Quill" not in str(told.value)
    with pytest.raises(error):
        file.keep([OTHERS])
    assert file.path.read_bytes() == content


def test_it_lies_beside_the_real_registry(tmp_path):
    (tmp_path / "store").mkdir()
    (tmp_path / "store" / "reef.gpkg").touch()
    (tmp_path / "link.gpkg").symlink_to(tmp_path / "store" / "reef.gpkg")
    assert family_file_of(tmp_path / "link.gpkg") == (tmp_path / "store" / "reef.gpkg.families").resolve()


@pytest.mark.parametrize("code", ["utf-8", "utf-16-le", "utf-16-be", "latin-1", "json"])
def test_a_text_is_found_in_every_form_in_which_programs_write_it(tmp_path, code):
    text = 'Zoë "Quill"'
    written = b'Zo\\u00eb \\"Quill\\"' if code == "json" else text.encode(code)
    path = tmp_path / "any.bin"
    path.write_bytes(b"\x00\xff" * 50 + written + b"\xff")
    (searched,) = search_files([path, tmp_path / "absent"], [text, "nobody", "ab"])
    assert (searched.size, searched.found) == (path.stat().st_size, (text,))


def test_a_text_across_two_reads_is_found_and_a_short_one_is_passed_over(tmp_path, monkeypatch):
    monkeypatch.setattr("registry.storage.byte_search._CHUNK", 16)
    path = tmp_path / "any.bin"
    for offset in range(12, 20):
        path.write_bytes(b"-" * offset + b"ida@quill.example" + b"Ida")
        (searched,) = search_files([path], ["ida@quill.example", "Ida"])
        assert searched.found == ("ida@quill.example",)
