"""``leadline bundle``: the boat's machine and the office's, typed."""

import json
import os
from pathlib import Path

import pytest

from registry.formats.bundle_file import read_bundle
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Answer, Reef

ELSEWHERE = (*GOOD[:3], "34 00.2000 N 077 00.0000 W", *GOOD[4:])


class Boat:
    """Commands typed on the boat: another folder, another key."""

    def __init__(self, reef: Reef, monkeypatch: pytest.MonkeyPatch, name: str = "boat") -> None:
        self.reef, self.patch, self.folder = reef, monkeypatch, reef.folder / name
        self.folder.mkdir()

    def __call__(self, *line: object) -> Answer:
        office = os.environ.get("LEADLINE_KEYS", "")
        self.patch.chdir(self.folder)
        self.patch.setenv("LEADLINE_KEYS", str(self.folder / "keys"))
        try:
            return self.reef(*line)
        finally:
            self.patch.chdir(self.reef.folder)
            self.patch.setenv("LEADLINE_KEYS", office)

    def good(self, *line: object) -> Answer:
        answer = self(*line)
        assert (answer.code, answer.err) == (0, ""), answer
        return answer


@pytest.fixture
def boat(reef: Reef, monkeypatch: pytest.MonkeyPatch) -> Boat:
    boat = Boat(reef, monkeypatch)
    reef.good("backup", boat.folder / "leadline.gpkg")
    return boat


@pytest.fixture
def trusted(reef: Reef, boat: Boat) -> Boat:
    key = boat.good("bundle", "device", "Petrel, wheelhouse", "--json").json["key_id"]
    boat.good("bundle", "export", "../petrel.bundle")
    reef.good("bundle", "trust", "petrel.bundle", f"--key={key[:20]}")
    reef.good("bundle", "import", "petrel.bundle")
    return boat


def test_a_day_of_two_machines(reef, boat):
    told = boat.good("bundle", "device", "Petrel, wheelhouse")
    key = told.out.split("  Key ")[1].split()[0]
    boat.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    boat.good("bundle", "export", "petrel.bundle")
    reef("place", "MC-0001", *ELSEWHERE, *GOOD_DEPTH, *WHEN)
    file = boat.folder / "petrel.bundle"
    reef("bundle", "import", file).is_told("nobody vouches for", "leadline bundle trust", code=1)
    reef("bundle", "trust", file, f"--key={'x' * 43}").is_told("not with xxx", code=1)
    reef("bundle", "trust", file, f"--key={key[:8]}").is_told("too few", code=2)
    reef.good("bundle", "trust", file, f"--key={key}")
    answer = reef("bundle", "import", file)
    assert answer.code == 3
    assert "MC-0001 was placed on several machines" in answer.out
    assert reef("bundle", "conflicts").code == 3
    audit = reef("audit", "--permit", "HB-0417")
    assert "is recorded in 2 places" in audit.out
    again = reef.good("bundle", "import", file)
    assert again.out.startswith("Nothing new")
    reef.good("bundle", "export", "office.bundle", "--to", "petrel, wheelhouse")
    assert (
        len(read_bundle(Path("office.bundle").read_bytes()).entries)
        < reef.good("bundle", "export", "all.bundle", "--json").json["entries"]
    )
    assert boat("bundle", "import", "../office.bundle").code == 3
    heads = [who.good("journal", "verify", "--json").json["head"] for who in (reef, boat)]
    assert heads[0] == heads[1]
    (twice,) = reef("bundle", "conflicts", "--json").json["placed_twice"]
    reef.good("withdraw", twice["placements"][0], "--reason", "mistyped at sea")
    assert reef.good("bundle", "conflicts").out == "Nothing is open between machines.\n"
    paper = reef.good("journal", "verify", "--head", heads[0])
    assert "Since then 1 entry was added" in paper.out


def test_the_machines_are_listed(reef, trusted):
    shown = reef.good("bundle", "devices").out
    assert "made the registry  (this machine)" in shown
    assert "Petrel, wheelhouse" in shown
    assert "trusted since" in shown
    reef.good("bundle", "distrust", "Petrel, wheelhouse", "--reason", "stolen in port")
    assert "stolen in port" in reef.good("bundle", "devices").out
    trusted("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    trusted.good("bundle", "export", "../petrel.bundle")
    reef("bundle", "import", "petrel.bundle").is_told("nobody vouches", code=1)
    reef("bundle", "distrust", "Petrel, wheelhouse", "--reason", "again").is_told("stolen in port", code=2)
    reef("bundle", "distrust", "Skua", "--reason", "x").is_told("There are: Petrel", code=2)


def test_two_facts_are_decided(reef, trusted):
    for who, mass in ((reef, "600 kg"), (trusted, "610 kg")):
        who.good("module", "add", "MC-0500", "--type", "hump-90", "--mass", mass)
    trusted.good("bundle", "export", "../petrel.bundle")
    answer = reef("bundle", "import", "petrel.bundle", "--json")
    assert answer.code == 3
    (contest,) = answer.json["contests"]
    assert (contest["subject"], contest["name"]) == ("module", "MC-0500")
    reef("bundle", "decide", "1a2b3c4d-9", "--reason", "x").is_told("in no open contest", code=2)
    reef("bundle", "decide", contest["against"], "--reason", " ").is_told("No reason", code=2)
    told = reef.good("bundle", "decide", contest["against"], "--reason", "weighed again")
    assert f"{contest['against']} holds" in told.out
    reef.good("bundle", "conflicts")
    reef.is_sound()
    (kept,) = [
        e for e in reef.good("journal", "show", "--json").json["entries"] if e["kind"] == "conflict.settled"
    ]
    assert kept["body"]["over"] == [contest["stands"]]


def test_the_first_machine_needs_no_name_and_a_copy_needs_one(reef, boat):
    reef("bundle", "device", "Office").is_told("made the registry", code=2)
    boat("bundle", "export", "x.bundle").is_told("holds no key to sign", "leadline bundle device", code=4)
    assert not list((boat.folder / "keys").glob("*")) if (boat.folder / "keys").exists() else True
    boat.good("bundle", "device", "Petrel")
    boat("bundle", "device", "Petrel").is_told("is Petrel already", code=2)
    assert len(list((boat.folder / "keys").glob("*.pem"))) == 1
    reef("bundle", "export", "y.bundle", "--to", "Petrel").is_told("no machine", code=2)


@pytest.mark.parametrize(
    "content", [b"", b"tag,type\n", b"\x00" * 1000, b"a.b.c\n[]\n", json.dumps({"bundle": 1}).encode()]
)
def test_a_file_that_is_no_bundle_exits_4_and_changes_nothing(reef, content):
    before = reef.good("journal", "verify", "--json").json["head"]
    file = reef.write("x.bundle", content)
    reef("bundle", "import", file).is_told("", code=4)
    reef("bundle", "trust", file, "--key=" + "x" * 20).is_told("", code=4)
    assert reef.good("journal", "verify", "--json").json["head"] == before


def test_a_damaged_or_foreign_bundle_is_told(reef, trusted, tmp_path_factory, monkeypatch):
    data = Path("petrel.bundle").read_bytes()
    reef("bundle", "import", reef.write("cut.bundle", data[: len(data) // 2])).is_told("cut short", code=4)
    reef("bundle", "import", reef.write("bent.bundle", data[:-9] + b"x" + data[-8:])).is_told(
        "damaged", code=4
    )
    reef("bundle", "import", "none.bundle").is_told("none.bundle", code=4)
    reef("bundle", "import", reef.folder).is_told("", code=4)
    other = reef.folder / "other.gpkg"
    reef.good(*("new", "--programme", "Skua Sands Reefs", "--frame", "EPSG:6318", "--zone", "Etc/UTC"),
              "--registry", other)  # fmt: skip
    reef("bundle", "import", "petrel.bundle", "--registry", other).is_told("of another registry", code=2)


def test_a_bundle_is_not_written_over_a_registry(reef):
    reef("bundle", "export", "leadline.gpkg").is_told("is the registry itself", code=2)


def test_a_certificate_number_given_twice_is_given_up_by_both(reef, trusted, monkeypatch):
    """Two machines that hold the programme's key issue a certificate each, for two modules."""
    for number, name in ((1, "Ada North"), (2, "Bo South")):
        tag = f"MC-070{number}"
        reef.good("module", "add", tag, "--type", "hump-90", "--memorial", name)
        reef("place", tag, *GOOD[:3], f"34 00.{number}000 N 077 00.1000 W", *GOOD[4:], *GOOD_DEPTH, *WHEN)
    reef.good("bundle", "export", "office.bundle")
    trusted.good("bundle", "import", "../office.bundle")
    for key in Path(os.environ["LEADLINE_KEYS"]).glob("*.pem"):
        (trusted.folder / "keys" / key.name).write_bytes(key.read_bytes())
        (trusted.folder / "keys" / key.name).chmod(0o600)
    one = reef("certificate", "MC-0701", "--out", "one", "--json", "--despite", "no chain").json
    two = trusted("certificate", "MC-0702", "--out", "two", "--json", "--despite", "no chain").json
    assert one["certificate"] == two["certificate"]
    trusted.good("bundle", "export", "../petrel.bundle")
    answer = reef("bundle", "import", "petrel.bundle")
    assert answer.code == 3
    assert "Certificate" in answer.out
    paper = next((trusted.folder / "two").glob("*.pdf"))
    assert reef("authenticate", paper).code == 0
    fresh = [
        reef("certificate", tag, "--out", "anew", "--json", "--despite", "no chain").json["certificate"]
        for tag in ("MC-0701", "MC-0702")
    ]
    assert len({one["certificate"], *fresh}) == 3
    assert reef("bundle", "conflicts").code == 0
    assert reef("authenticate", paper).code == 3
    reef.is_sound()
