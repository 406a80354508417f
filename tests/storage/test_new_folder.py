import pytest

from registry.errors import UnwritableError
from registry.storage.new_folder import new_folder

NAMES = ("report.html", "evidence")


def write(place, word="new"):
    with new_folder(place, names=NAMES) as draft:
        (draft / "report.html").write_text(word)
        (draft / "evidence").mkdir()
        (draft / "evidence" / f"{word}.json").write_text(word)


def stopped_halfway(place, stop):
    with new_folder(place, names=NAMES) as draft:
        (draft / "report.html").write_text("half")
        raise stop


def listed(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def test_it_appears_with_all_that_was_written(tmp_path):
    write(tmp_path / "a" / "b")
    assert listed(tmp_path) == ["a", "a/b", "a/b/evidence", "a/b/evidence/new.json", "a/b/report.html"]


def test_an_older_one_is_replaced_as_a_whole(tmp_path):
    write(tmp_path / "audit", "old")
    write(tmp_path / "audit")
    assert listed(tmp_path / "audit") == ["evidence", "evidence/new.json", "report.html"]
    assert listed(tmp_path)[0] == "audit"
    assert len(list(tmp_path.iterdir())) == 1


def test_what_else_lies_there_stays(tmp_path):
    write(tmp_path / "audit", "old")
    (tmp_path / "audit" / "letter.txt").write_text("mine")
    write(tmp_path / "audit")
    assert listed(tmp_path / "audit") == ["evidence", "evidence/new.json", "letter.txt", "report.html"]


def test_it_may_be_where_one_stands(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write(".", "old")
    write(".")
    assert listed(tmp_path) == ["evidence", "evidence/new.json", "report.html"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError, OSError])
def test_whoever_stops_it_finds_what_was_there_before(tmp_path, stop):
    write(tmp_path / "audit", "old")
    with pytest.raises((stop, UnwritableError)):
        stopped_halfway(tmp_path / "audit", stop)
    assert listed(tmp_path) == ["audit", "audit/evidence", "audit/evidence/old.json", "audit/report.html"]


def test_where_nothing_was_nothing_is_left(tmp_path):
    with pytest.raises(KeyboardInterrupt), new_folder(tmp_path / "audit", names=NAMES):
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_its_place_is_told(tmp_path):
    (tmp_path / "audit").write_text("a file")
    with pytest.raises(UnwritableError, match="cannot be made"):
        write(tmp_path / "audit")
    assert (tmp_path / "audit").read_text() == "a file"
