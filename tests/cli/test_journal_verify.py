"""``leadline journal verify``: what a person is told of the record, and of the digest on an old paper."""

import json
import re
import sqlite3

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)


@pytest.fixture
def paper(reef: Reef) -> str:
    """The digest that an audit printed before anything was placed."""
    digest: str = reef("audit", "--json").json["journal_head"]
    reef.good(*PLACE)
    return digest


def alter(reef: Reef, *statements: str) -> None:
    with sqlite3.connect(reef.registry) as connection:
        named = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'journal'"
        guards = [name for (name,) in connection.execute(named)]
        for name in guards:
            connection.execute(f'DROP TRIGGER "{name}"')
        for statement in statements:
            connection.execute(statement)
    connection.close()


def test_an_old_paper_is_proved_with_what_came_after_it(reef, paper):
    told = reef.good("journal", "verify", "--head", paper)
    first, second, third, fourth = told.out.splitlines()
    assert re.fullmatch(r"\+ The journal is as it was written: \d+ entries, head [0-9a-f]{64}", first)
    assert re.fullmatch(r"\+ The digest is that of entry [0-9a-f]{8}-\d+, number \d+, of \S+Z\.", second)
    assert third.endswith("entries up to it: as when the paper was printed.")
    assert re.fullmatch(r"  Since then 1 entry was added, the last dated \S+Z: 1 placement.logged\.", fourth)
    data = reef.good("journal", "verify", "--head", paper.upper(), "--json").json
    assert data["sound"] is True
    assert data["entries"] == data["paper"]["position"] + 1
    assert data["paper"]["digest"] == paper
    assert data["paper"]["as_it_was"] is True
    assert data["paper"]["added_kinds"] == {"placement.logged": 1}


def test_part_of_a_digest_says_how_much_was_compared(reef, paper):
    assert "first 20 digits were compared" in reef.good("journal", "verify", "--head", paper[:20]).out
    reef("journal", "verify", "--head", paper[:12]).is_told("not a digest", code=2)


def test_the_head_itself_has_nothing_after_it(reef):
    head = reef.good("journal", "verify", "--json").json["head"]
    assert "Nothing has been added since." in reef.good("journal", "verify", "--head", head).out


def test_the_paper_of_another_registry_is_told(reef, paper):
    other = "e" * 64
    told = reef("journal", "verify", "--head", other)
    assert (told.code, told.err) == (1, "")
    assert "x No entry of this journal has the digest" in told.out
    assert "written anew or cut" in told.out
    data = reef("journal", "verify", "--head", other, "--json")
    assert (data.code, data.json["paper"]) == (1, {"digest": other, "found": False, "like": []})
    misread = paper[:63] + ("0" if paper[63] != "0" else "1")
    assert "look for a digit misread" in reef("journal", "verify", "--head", misread).out


def test_what_was_changed_after_the_paper_leaves_the_paper_proved(reef, paper):
    last = reef("journal", "show", "--json").json["entries"][-1]["reference"]
    alter(reef, "UPDATE journal SET actor = 'x' WHERE position = (SELECT max(position) FROM journal)")
    told = reef("journal", "verify", "--head", paper)
    assert told.code == 1
    assert f"Entry {last} was changed" in told.out
    assert "as when the paper was printed" in told.out
    alter_before = "UPDATE journal SET actor = 'x' WHERE position = 2"
    alter(reef, alter_before)
    data = reef("journal", "verify", "--head", paper, "--json")
    assert (data.code, data.json["paper"]["as_it_was"]) == (1, False)
    assert "not everything up to it" in reef("journal", "verify", "--head", paper).out


def test_guards_taken_off_are_a_doubt_and_come_back(reef, paper):
    alter(reef)
    told = reef("journal", "verify")
    assert told.code == 3
    assert "? The guard journal_keeps_every_entry of the journal was taken off" in told.out
    assert len(reef("journal", "verify", "--json").json["doubts"]) == 3
    reef.good("journal", "rebuild")
    assert reef.good("journal", "verify", "--json").json["doubts"] == []


def test_the_head_stands_on_what_leaves_the_machine(reef, paper):
    head = reef.good("journal", "verify", "--json").json["head"]
    assert head in reef.good("backup", "copy.gpkg").out
    assert f"Journal head {head}" in reef("audit").out
    assert json.loads(reef("audit", "--json").out)["journal_head"] == head


def test_a_certificate_carries_a_head_that_proves_the_day_of_issue(reef, paper):
    file = reef.folder / reef.good("certificate", "MC-0001", "--out", "papers", "--json").json["file"]
    told = reef.good("authenticate", file).out
    (digest,) = re.findall(r"Journal +([0-9a-f]{64}), to check with leadline journal verify --head", told)
    reef.good("module", "add", "MC-0009", "--type", "hump-60")
    proved = reef.good("journal", "verify", "--head", digest, "--json").json["paper"]
    assert proved["as_it_was"] is True
    assert proved["added_kinds"] == {"certificate.issued": 1, "module.added": 1}
