"""What was sent is kept by its digest, for its owner alone; no name leads elsewhere."""

import os
import stat
import threading

import pytest

from registry.errors import NotFoundError, UnreadableFileError
from registry.storage.received_file import ReceivedFiles

NAME = "intake-" + "0" * 64


def test_a_file_is_kept_once_and_given_back(tmp_path):
    files = ReceivedFiles(tmp_path / "received")
    digest = files.keep(b"tag,when\n")
    assert files.keep(b"tag,when\n") == digest
    assert files.read(digest) == b"tag,when\n"
    assert [path.name for path in (tmp_path / "received").iterdir()] == [digest]
    if os.name != "nt":
        assert stat.S_IMODE((tmp_path / "received" / digest).stat().st_mode) == 0o600
        assert stat.S_IMODE((tmp_path / "received").stat().st_mode) == 0o700


@pytest.mark.parametrize("digest", ["", "..", "../x", "0" * 64, "A" * 64, "0" * 63 + "/"])
def test_no_digest_leads_elsewhere(tmp_path, digest):
    (tmp_path / "x").write_text("secret", encoding="utf-8")
    files = ReceivedFiles(tmp_path / "received")
    files.keep(b"x")
    with pytest.raises(NotFoundError):
        files.read(digest)
    with pytest.raises(NotFoundError):
        files.note(f"intake-{digest}x")


def test_a_file_that_was_changed_or_is_empty_is_told(tmp_path):
    files = ReceivedFiles(tmp_path)
    digest = files.keep(b"as it was")
    (tmp_path / digest).write_bytes(b"as it is")
    with pytest.raises(UnreadableFileError, match="changed after it was sent"):
        files.read(digest)
    with pytest.raises(UnreadableFileError, match="empty"):
        files.keep(b"")


def test_changes_of_a_note_take_turns_and_a_failed_one_changes_nothing(tmp_path):
    files = ReceivedFiles(tmp_path)

    def add():
        for _ in range(20):
            ReceivedFiles(tmp_path).change(NAME, lambda said: (said or 0) + 1)

    threads = [threading.Thread(target=add) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert files.note(NAME) == 80
    with pytest.raises(ZeroDivisionError):
        files.change(NAME, lambda said: said / 0)
    assert files.notes("intake") == [80]
    (tmp_path / f"{NAME}.json").write_text("{", encoding="utf-8")
    with pytest.raises(UnreadableFileError, match="damaged"):
        files.note(NAME)


def test_files_are_laid_out_under_plain_names_only(tmp_path):
    files = ReceivedFiles(tmp_path)
    digest = files.keep(b"{}")
    with files.laid_out({"a.geojson": digest}) as folder:
        assert (folder / "a.geojson").read_bytes() == b"{}"
    assert not folder.exists()
    with pytest.raises(NotFoundError), files.laid_out({"../a.geojson": digest}):
        pass
