"""The life of certificates as it is typed: reissue, withdraw, duplicate, publish, keys, and many at once."""

import json
import os
import shutil
import signal
import stat
import time
from pathlib import Path

import pytest

from registry.storage.geopackage import open_register
from registry.storage.replay import prove
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef, a_log
from tests.fakes import FixedClock

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
PAPER = ("certificate", "MC-0001", "--out", "papers")
posix = pytest.mark.skipif(os.name != "posix", reason="rights of files are a matter of POSIX")


@pytest.fixture
def paper(reef: Reef) -> Path:
    """Place a module and issue its certificate; give the PDF file."""
    reef.good(*PLACE)
    return reef.folder / str(reef.good(*PAPER, "--json").json["file"])


def rename(reef: Reef, name: str = "Ada Quille") -> None:
    reef.good("module", "amend", "MC-0001", "--memorial", name, "--reason", "misspelt")


def offline(reef: Reef, paper: Path, status: str = "site", key: str = "site/public_key.pem"):
    """Authenticate where there is no registry."""
    return reef("--registry", "none.gpkg", "authenticate", paper, "--key", key, "--status", status, "--json")


def many(reef: Reef, count: int) -> None:
    """Place so many modules that each remember somebody."""
    rows = "".join(f"LN-{k:05d},hump-60,Name Number {k}\n" for k in range(count))
    reef.good("module", "import", reef.write("modules.csv", f"tag,type,memorial\n{rows}"))
    reef.good("intake", reef.write("log.csv", a_log(count)), "--permit", "HB-0417")


# Versions, withdrawal, duplicates.


def test_a_later_version_says_what_changed_and_supersedes_the_first(reef, paper):
    rename(reef)
    told = reef("certificates", "list", "--json")
    assert (told.code, told.json["certificates"][0]["state"]) == (3, "changed")
    told = reef.good(*PAPER).out
    assert "Version 2, which supersedes version 1. The name was put right." in told
    made = reef.good(*PAPER, "--json").json
    assert (made["version"], [change["what"] for change in made["changes"]]) == (2, ["name"])
    assert Path(made["file"]).name.endswith("-v2.pdf")
    listed = reef.good("certificates", "--json").json["certificates"]
    assert [(each["version"], each["state"]) for each in listed] == [(1, "superseded"), (2, "current")]
    assert "superseded by version 2" in reef("authenticate", paper).out
    assert paper.exists()


def test_after_a_survey_alone_the_paper_says_of_no_number_that_it_was_corrected(reef, paper):
    moved = (
        "--at",
        "34 00.1000 N 077 00.0100 W",
        "--frame",
        "EPSG:6318",
        "--r95",
        "3 m",
        "--when",
        "2026-10-02",
    )
    assert reef("resurvey", "MC-0001", *moved).code == 1
    told = reef.good(*PAPER).out
    assert "A survey found that the module had moved" in told
    assert (
        "How well the position is known comes from that survey. The depth where it was found was not measured."
        in told
    )
    assert "corrected" not in told
    assert reef.good(*PAPER, "--json").json["statement"]["changed"] == ["moved", "radius", "depth"]


def test_a_withdrawn_certificate_is_genuine_and_does_not_stand(reef, paper):
    told = reef.good("certificates", "withdraw", "MC-0001", "--reason", "two modules had been mixed up")
    assert "mixed up" in told.out
    answer = reef("authenticate", paper, "--json")
    assert (answer.code, answer.json["genuine"], answer.json["status"]) == (3, True, "withdrawn")
    assert answer.json["state"].startswith("withdrawn on 20")
    reef("certificates", "withdraw", "MC-0001", "--reason", "again").is_told("withdrawn before", code=2)
    reef(*PAPER).is_told("withdrawn on", "--despite", code=2)
    assert reef.good(*PAPER, "--despite", "set right", "--json").json["version"] == 2
    listed = reef.good("certificates", "list", "MC-0001", "--json").json["certificates"]
    assert [(each["state"], each["reason"]) for each in listed] == [
        ("withdrawn", "two modules had been mixed up"),
        ("current", ""),
    ]
    reef.is_sound()
    before = reef.good("certificates", "--json").out
    reef.good("journal", "rebuild")
    assert reef.good("certificates", "--json").out == before


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (("withdraw", "MCMR-2026-000001-99", "--reason", "x"), "check digits"),
        (("withdraw", "MCMR-2026-000017-85", "--reason", "x"), "never issued"),
        (("withdraw", "MC-0001", "--reason", " "), "no reason"),
        (("withdraw", "MC-0001", "--reason", "mixed\x1b[31m up"), "do not show"),
        (("withdraw", "MC-0001", "--reason", "mixed\nup"), "do not show"),
        (("withdraw", "MC-0001", "--reason", "x" * 501), "501 characters"),
        (("withdraw", "MC-0001"), "--reason"),
        (("duplicate", "MC-9999", "--out", "papers"), "MC-9999"),
        (("duplicate", "MC-0001", "--out", "papers", "--again", "4"), "no duplicate 4"),
        (("list", "MC-9999"), "MC-9999"),
        (("list", "MCMR-2026-000001-99"), "check digits"),
        (("list", "MCMR-2026-000017-85"), "never issued"),
        (("list", "--state", "lost"), "lost"),
        (("publish", "site", "--days", "0"), "0"),
    ],
    ids=lambda case: ascii(" ".join(case) if isinstance(case, tuple) else case)[:60],
)
def test_what_is_asked_wrongly_is_told(reef, paper, line, told):
    head = reef.good("journal", "verify", "--json").json["head"]
    reef("certificates", *line).is_told(told, code=2)
    assert reef.good("journal", "verify", "--json").json["head"] == head


def test_a_certificate_is_listed_by_its_number_as_by_its_tag(reef, paper):
    reef.good("module", "add", "MC-0002", "--type", "hump-60", "--memorial", "Bo Quill")
    reef.good(*PLACE[:1], "MC-0002", *PLACE[2:], "--at", "34 00.2000 N 077 00.0000 W")
    other = reef.good("certificate", "MC-0002", "--out", "papers", "--json").json["certificate"]
    for tag in ("MC-0001", "MC-0002"):
        reef.good("certificates", "duplicate", tag, "--out", "papers")
    by_number = reef.good("certificates", "list", other.lower(), "--json").json["certificates"]
    assert [(each["tag"], each["duplicates"]) for each in by_number] == [("MC-0002", 1)]
    assert by_number == reef.good("certificates", "list", "MC-0002", "--json").json["certificates"]
    reef.good("module", "add", "MC-0003", "--type", "hump-60")
    assert reef.good("certificates", "list", "MC-0003", "--json").json["certificates"] == []


def test_the_help_of_a_withdrawal_says_what_becomes_of_the_number(reef, paper):
    told = " ".join(reef.good("certificates", "withdraw", "--help").out.split())
    assert "goes on under it as the next version" in told
    number = paper.name.removesuffix("-v1.pdf")
    reef.good("certificates", "withdraw", "MC-0001", "--reason", "mixed up")
    again = reef.good(*PAPER, "--despite", "set right", "--json").json
    assert (again["certificate"], again["version"]) == (number, 2)
    reef.good("module", "add", "MC-0002", "--type", "hump-60", "--memorial", "Bo Quill")
    reef.good(*PLACE[:1], "MC-0002", *PLACE[2:], "--at", "34 00.2000 N 077 00.0000 W")
    other = reef.good("certificate", "MC-0002", "--out", "papers", "--json").json
    assert (other["certificate"] != number, other["version"]) == (True, 1)


def test_a_duplicate_proves_itself_and_is_listed(reef, paper):
    made = reef.good("certificates", "duplicate", "MC-0001", "--out", "papers", "--json").json
    copy = reef.folder / made["file"]
    assert (made["duplicate"], copy.name) == (1, paper.name.replace(".pdf", "-duplicate1.pdf"))
    told = reef.good("authenticate", copy)
    assert "; current" in told.out
    assert "duplicate 1, made on 20" in told.out
    again = reef.good("certificates", "duplicate", "MC-0001", "--out", "again", "--again", "1", "--json").json
    assert (reef.folder / again["file"]).read_bytes() == copy.read_bytes()
    assert reef.good("certificates", "--json").json["certificates"][0]["duplicates"] == 1
    reef.good("certificates", "withdraw", made["certificate"], "--reason", "mixed up")
    assert reef("authenticate", copy).code == 3
    reef.is_sound()


# A list that is published.


def test_a_duplicate_made_after_the_list_asks_for_the_newest_one(reef, paper):
    reef.good("certificates", "publish", "site")
    told = reef.good("certificates", "duplicate", "MC-0001", "--out", "p").out
    assert "then: leadline certificates publish DIR" in told
    again = reef.good("certificates", "duplicate", "MC-0001", "--out", "p", "--again", "1").out
    assert "publish" not in again
    (copy,) = (reef.folder / "p").iterdir()
    answer = offline(reef, copy)
    assert (answer.code, answer.json["genuine"], answer.json["status"]) == (3, True, None)
    assert "is older than it: get the newest list" in answer.json["state"]
    reef.good("certificates", "publish", "site")
    assert (offline(reef, copy).code, offline(reef, copy).json["status"]) == (0, "current")


def test_a_published_list_tells_every_state_without_a_registry(reef, paper):
    copy = (
        reef.folder / reef.good("certificates", "duplicate", "MC-0001", "--out", "p", "--json").json["file"]
    )
    reef.good("certificates", "publish", "site")
    for each in (paper, copy):
        answer = offline(reef, each)
        assert (answer.code, answer.json["status"]) == (0, "current")
    rename(reef)
    reef.good("certificates", "publish", "site")
    assert offline(reef, paper).json["status"] == "changed"
    second = reef.folder / reef.good(*PAPER, "--json").json["file"]
    # The list of before knows nothing of what was issued since.
    assert (offline(reef, second).code, offline(reef, second).json["status"]) == (3, None)
    reef.good("certificates", "publish", "site")
    assert (offline(reef, paper).code, offline(reef, paper).json["status"]) == (3, "superseded")
    assert (offline(reef, second).code, offline(reef, second, status="site/status.jws").code) == (0, 0)
    reef.good("certificates", "withdraw", "MC-0001", "--reason", "mixed up")
    reef.good("certificates", "publish", "site")
    assert (offline(reef, second).code, offline(reef, second).json["status"]) == (3, "withdrawn")


def test_what_is_published_names_nobody_and_no_place(reef, paper):
    reef.good("certificates", "withdraw", "MC-0001", "--reason", "the Quill family asked for it")
    reef.good("certificates", "publish", "site")
    from registry.formats.signed_statement import payload_of

    head = reef.good("journal", "verify", "--json").json["head"]
    texts = {path.name: path.read_text(encoding="utf-8") for path in (reef.folder / "site").iterdir()}
    assert set(texts) == {"status.jws", "public_key.pem", "index.html"}
    texts["payload"] = json.dumps(payload_of(texts["status.jws"].strip()), ensure_ascii=False)
    assert "withdrawn" in texts["payload"]
    for text in texts.values():
        for private in ("Quill", "MC-0001", "gannet", "HB-0417", "34.00", "family asked", head):
            assert private not in text


def test_a_list_with_another_key_is_rejected(reef, paper):
    reef.good("certificates", "publish", "site")
    reef.good("--registry", "other.gpkg", "new", "--programme", "Other", "--frame", "EPSG:6318")
    reef.good("--registry", "other.gpkg", "certificates", "publish", "other")
    answer = offline(reef, paper, status="other")
    assert (answer.code, answer.json["genuine"]) == (1, False)
    assert "no key that is trusted here leads" in answer.json["error"]
    reef("authenticate", paper, "--status", "other").is_told("no key that is trusted", code=1)
    # A list beside its own key proves nothing of this programme's papers.
    answer = offline(reef, paper, status="other", key="other/public_key.pem")
    assert (answer.code, "not known here" in answer.json["error"]) == (1, True)


def test_an_older_list_is_not_published_over_a_newer_one_nor_passed_for_it(reef, paper):
    reef.good("certificates", "publish", "site")
    shutil.copytree(reef.folder / "site", reef.folder / "old")
    reef.good("backup", "old.gpkg")
    reef.good("certificates", "withdraw", "MC-0001", "--reason", "mixed up")
    reef.good("certificates", "publish", "site")
    kept = (reef.folder / "site" / "status.jws").read_bytes()
    reef("--registry", "old.gpkg", "certificates", "publish", "site").is_told("an older copy", code=2)
    assert (reef.folder / "site" / "status.jws").read_bytes() == kept
    # Played again to somebody who has nothing else, it says of which day it is ...
    told = reef(
        "--registry", "none.gpkg", "authenticate", paper, "--key", "site/public_key.pem", "--status", "old"
    )
    assert told.code == 0
    assert "By the list of 20" in told.out
    assert "good until 20" in told.out
    # ... and beside the registry it is told to be old.
    told = reef("authenticate", paper, "--status", "old", "--json").json
    assert "older than this registry" in told["notes"][0]
    assert reef("authenticate", paper).code == 3


def test_a_folder_of_somebody_else_is_left_alone(reef, paper):
    reef.good("--registry", "other.gpkg", "new", "--programme", "Other", "--frame", "EPSG:6318")
    reef.good("--registry", "other.gpkg", "certificates", "publish", "site")
    kept = {path: path.read_bytes() for path in (reef.folder / "site").iterdir()}
    reef("certificates", "publish", "site").is_told("not a list that this programme published", code=2)
    reef.write("notes/status.jws", "hello") if (reef.folder / "notes").mkdir() is None else None
    reef("certificates", "publish", "notes").is_told("not a list", code=2)
    assert {path: path.read_bytes() for path in (reef.folder / "site").iterdir()} == kept
    reef.good("certificates", "publish", "web")
    reef.write("web/robots.txt", "all")
    reef.good("certificates", "publish", "web")
    assert (reef.folder / "web" / "robots.txt").read_text() == "all"


def test_no_page_but_that_of_an_earlier_list_is_replaced(reef, paper):
    reef.good("map", "--site", "--out", "public")
    (reef.folder / "web").mkdir()
    reef.write("web/index.html", "<h1>Our own front page</h1>")
    (reef.folder / "odd" / "index.html").mkdir(parents=True)
    for folder in ("public", "web", "odd"):
        kept = {path: path.read_bytes() for path in (reef.folder / folder).rglob("*.*") if path.is_file()}
        own = str(Path(folder, "certificates"))
        reef("certificates", "publish", folder).is_told("index.html", "folder of its own", own, code=2)
        there = {path: path.read_bytes() for path in (reef.folder / folder).rglob("*.*") if path.is_file()}
        assert there == kept
    reef.good("certificates", "publish", "public/certificates")
    # Its page alone, without the list, tells whose it is.
    (reef.folder / "public" / "certificates" / "status.jws").unlink()
    reef.good("certificates", "publish", "public/certificates")
    # Making the map anew leaves what lies in a folder within it.
    reef.good("map", "--site", "--out", "public")
    assert (reef.folder / "public" / "certificates" / "status.jws").exists()


@pytest.mark.parametrize("place", ["empty", "missing", "missing/status.jws", "paper"])
def test_a_list_that_is_not_there_is_told(reef, paper, place):
    (reef.folder / "empty").mkdir()
    shutil.copy(paper, reef.folder / "paper")
    reef("authenticate", paper, "--status", place).is_told(code=4)


def test_a_certificate_is_no_list_and_a_list_no_certificate(reef, paper):
    reef.good("certificates", "publish", "site")
    reef("authenticate", "site/status.jws").is_told("not the statement of a certificate", code=2)
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    (key_file,) = (reef.folder / "keys").glob("*.pem")
    statement = reef.good(*PAPER, "--json").json["statement"]
    file = reef.write("code.txt", sign(statement, load_key(key_file.stem)))
    reef("authenticate", paper, "--status", file).is_told("not a list of certificates", code=1)


def test_a_renamed_file_is_what_it_holds(reef, paper):
    name = reef.folder / "MCMR-2026-000017-85-v3.pdf"
    shutil.copy(paper, name)
    told = reef.good("authenticate", name)
    assert "MCMR-2026-000001" in told.out.splitlines()[0]
    assert "The file's name says MCMR-2026-000017-85" in told.out
    assert "name says" not in reef.good("authenticate", paper).out


def test_a_paper_that_the_programme_did_not_issue_is_rejected_though_its_key_signed_it(reef, paper):
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    reef.good("certificates", "publish", "site")
    (key_file,) = (reef.folder / "keys").glob("*.pem")
    statement = reef.good("authenticate", paper, "--json").json["statement"] | {"name": "Ann Other"}
    forged = reef.write("forged.txt", sign(statement, load_key(key_file.stem)))
    reef("authenticate", forged).is_told("issued something else", code=1)
    assert "issued something else" in offline(reef, forged).json["error"]


# Keys.


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@posix
def test_keys_lie_outside_the_registry_for_their_owner_alone(reef, paper):
    made = reef.good("journal", "rotate-key", "--ended", "retired", "--reason", "five years", "--json").json
    files = sorted((reef.folder / "keys").glob("*.pem"))
    assert f"{made['key']}.pem" in {file.name for file in files}
    assert {rights(file) for file in files} == {0o600}
    assert rights(reef.folder / "keys") == 0o700
    held = reef.registry.read_bytes()
    assert b"PRIVATE KEY" not in held
    for file in files:
        assert file.read_bytes().split(b"\n")[1] not in held


def test_after_a_rotation_papers_of_both_keys_are_proved(reef, paper):
    reef.good("certificates", "publish", "before")
    reef.good("journal", "rotate-key", "--ended", "retired", "--reason", "five years")
    assert "; current" in reef.good("authenticate", paper).out
    rename(reef)
    second = reef.folder / reef.good(*PAPER, "--json").json["file"]
    assert "; current" in reef.good("authenticate", second).out
    reef.good("certificates", "publish", "site")
    # Whoever has the key of before is led on to the new one; whoever has the new one is led back.
    for key in ("before/public_key.pem", "site/public_key.pem"):
        assert offline(reef, paper, key=key).json["status"] == "superseded"
        assert offline(reef, second, key=key).json["status"] == "current"
    keys = reef.good("journal", "key", "--json").json["keys"]
    assert [(key["ended"], key["vouched_for"]) for key in keys] == [("retired", False), (None, True)]
    reef.good("journal", "key", "--all", "--out", "all.pem")
    for each in (paper, second):
        assert reef("--registry", "none.gpkg", "authenticate", each, "--key", "all.pem").code == 0
    reef.is_sound()


def test_a_lost_key_is_told_plainly_and_another_takes_its_place(reef, paper):
    reef.good("certificates", "publish", "site")
    shutil.rmtree(reef.folder / "keys")
    for line in (
        PAPER,
        ("certificates", "duplicate", "MC-0001", "--out", "papers"),
        ("certificates", "publish", "site"),
        ("journal", "rotate-key", "--ended", "retired", "--reason", "x"),
    ):
        reef(*line).is_told("is not in", "--ended lost", code=4)
    told = reef.good("journal", "rotate-key", "--ended", "lost", "--reason", "the disk broke")
    assert "Nothing vouches for the new key" in told.out
    assert "; current" in reef.good("authenticate", paper).out
    assert reef.good(*PAPER, "--json").json["again"] is True
    reef.good("certificates", "publish", "new")
    answer = offline(reef, paper, status="new", key="site/public_key.pem")
    assert "compare the name" in answer.json["remedy"]
    # The list of the new key vouches for the old one's papers.
    shutil.copytree(reef.folder / "papers", reef.folder / "p")
    assert offline(reef, paper, status="new", key="new/public_key.pem").code == 0


def test_what_a_stolen_key_signs_afterwards_is_rejected(reef, paper):
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    (key_file,) = (reef.folder / "keys").glob("*.pem")
    thief = load_key(key_file.stem)
    reef.good("journal", "rotate-key", "--ended", "stolen", "--reason", "a laptop was taken")
    reef.good("certificates", "publish", "site")
    statement = reef.good("authenticate", paper, "--json").json["statement"]
    forged = statement | {"certificate": "MCMR-2026-000017-85", "name": "Ann Other"}
    file = reef.write("forged.txt", sign(forged, thief))
    reef("authenticate", file).is_told("stolen", code=1)
    assert "stolen" in offline(reef, file).json["error"]
    # The genuine one is held, and stands.
    assert offline(reef, paper).json["status"] == "current"


def test_a_key_that_could_not_be_journaled_is_not_kept(reef, paper, monkeypatch):
    before = sorted((reef.folder / "keys").iterdir())
    reef("journal", "rotate-key", "--ended", "lost", "--reason", " ").is_told("no reason", code=2)
    assert sorted((reef.folder / "keys").iterdir()) == before


# Many at once.


def test_a_run_issues_all_and_the_next_only_what_is_missing_or_changed(reef):
    many(reef, 4)
    line = ("certificate", "--all", "--permit", "HB-0417", "--out", "papers", "--json")
    first = reef.good(*line).json
    assert [each["outcome"] for each in first["certificates"]] == ["issued"] * 4
    files = {Path(each["file"]): Path(each["file"]).read_bytes() for each in first["certificates"]}
    numbers = sorted(each["certificate"] for each in first["certificates"])
    assert [number[10:16] for number in numbers] == ["000001", "000002", "000003", "000004"]
    head = reef.good("journal", "verify", "--json").json["head"]
    assert {each["outcome"] for each in reef.good(*line).json["certificates"]} == {"kept"}
    gone, torn, *_ = files
    gone.unlink()
    torn.write_bytes(files[torn][:1000])
    outcomes = [each["outcome"] for each in reef.good(*line).json["certificates"]]
    assert outcomes == ["again", "again", "kept", "kept"]
    assert {file: file.read_bytes() for file in files} == files
    assert reef.good("journal", "verify", "--json").json["head"] == head
    reef.good("module", "amend", "LN-00002", "--memorial", "Name Mended", "--reason", "misspelt")
    told = reef.good(*line[:-1]).out
    assert "1 issued now, 3 there already and unchanged" in told
    assert [reef("authenticate", file).code for file in files] == [0, 0, 3, 0]
    reef.is_sound()


def test_a_run_tells_whom_it_could_not_certify_and_why(reef):
    many(reef, 2)
    reef.good("module", "amend", "LN-00001", "--memorial", "สมชาย", "--reason", "as the family writes it")
    reef(*PLACE, "--at", "34 05.0000 N 077 00.0000 W")
    answer = reef("certificate", "--all", "--out", "papers", "--json")
    assert answer.code == 1
    assert [each["tag"] for each in answer.json["refused"]] == ["LN-00001", "MC-0001"]
    rows = (reef.folder / "papers" / "not-issued.csv").read_text(encoding="utf-8")
    assert "LN-00001" in rows
    assert "outside" in rows
    told = reef("certificate", "--all", "--out", "papers")
    assert (told.code, "x 2 not issued" in told.out) == (1, True)
    reef.good("certificate", "MC-0001", "--out", "papers", "--despite", "the family knows")
    reef.good("module", "amend", "LN-00001", "--memorial", "Somchai", "--reason", "in Latin letters")
    reef.good("certificate", "--all", "--out", "papers")
    assert not (reef.folder / "papers" / "not-issued.csv").exists()


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ((), "--all"),
        (("MC-0001", "--all"), "--all"),
        (("MC-0001", "--permit", "HB-0417"), "--permit"),
        (("--all", "--despite", "x"), "one certificate"),
        (("--all", "--permit", "XX-1"), "XX-1"),
    ],
)
def test_one_or_all_not_both(reef, line, told):
    reef("certificate", *line, "--out", "papers").is_told(told, code=2)


def test_nobody_to_certify_is_no_error(reef):
    assert "none" in reef.good("certificate", "--all", "--out", "papers").out


@posix
@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_a_run_that_is_stopped_leaves_no_half_file_and_the_next_goes_on(reef, how):
    count = 30
    many(reef, count)
    line = ("certificate", "--all", "--out", "papers", "--json")
    process = reef.process(*line)
    end = time.monotonic() + 120
    while len(list((reef.folder / "papers").glob("*.pdf"))) < 3 and process.poll() is None:
        assert time.monotonic() < end
        time.sleep(0.01)
    process.send_signal(how)
    process.communicate(timeout=120)
    assert process.returncode in (130, -signal.SIGKILL)
    made = sorted((reef.folder / "papers").glob("*.pdf"))
    assert 3 <= len(made) < count
    for file in made:
        assert reef("authenticate", file, "--json").json["status"] == "current"
    with open_register(reef.registry, clock=FixedClock()) as register:
        assert prove(register) == ()
        issued = len(register.certificates())
    # At most one stands in the journal whose paper was not written.
    assert len(made) <= issued <= len(made) + 1
    (reef.folder / "papers" / ".MCMR-2026-000001-36-v1.pdf.0123abcd.new").write_bytes(b"%PDF-1.7 half")
    outcomes = [each["outcome"] for each in reef.good(*line).json["certificates"]]
    assert outcomes.count("kept") == len(made)
    assert outcomes.count("again") == issued - len(made)
    assert outcomes.count("issued") == count - issued
    assert {path.suffix for path in (reef.folder / "papers").iterdir()} == {".pdf"}
    assert len({path.name for path in (reef.folder / "papers").iterdir()}) == count
    reef.is_sound()
