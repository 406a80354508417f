"""What a certificate, a backup and an audit prove, and what they say when the record does not stand."""

import base64
import json
import re
import shutil
import sqlite3
import subprocess

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef

PLACE = ("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
AWAY = ("--at", "34 05.0000 N 077 00.0000 W")
PAPER = ("certificate", "MC-0001", "--out", "papers")


@pytest.fixture
def paper(reef: Reef):
    """Place a module and issue its certificate; give the PDF file."""
    reef.good(*PLACE)
    return reef.folder / reef.good(*PAPER, "--json").json["file"]


@pytest.fixture
def seal_text(paper):
    (jws,) = re.findall(rb"%leadline-seal (\S+)\n", paper.read_bytes())
    return jws.decode()


def statement_text(reef: Reef) -> str:
    """Sign the statement anew, as the code on the page holds it: signatures of Ed25519 do not vary."""
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    entries = reef.good("journal", "show", "--json").json["entries"]
    issued = [entry["body"] for entry in entries if entry["kind"] == "certificate.issued"][-1]
    (key_file,) = (reef.folder / "keys").glob("*.pem")
    return sign(issued["statement"], load_key(key_file.stem))


def alter(reef: Reef, sql: str) -> None:
    """Change the file as somebody with a database editor would."""
    with sqlite3.connect(reef.registry) as connection:
        named = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN ('journal', 'modules')"
        for (name,) in connection.execute(named).fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute(sql)
    connection.close()


ENTRY = "UPDATE journal SET actor = 'somebody else' WHERE position = 2"
TABLE = "UPDATE modules SET memorial = 'Ann Other'"


# Keys.


def test_a_key_that_is_named_is_the_only_one_trusted(reef, paper):
    reef.good("--registry", "other.gpkg", "new", "--programme", "Other", "--frame", "EPSG:6318")
    reef.good("--registry", "other.gpkg", "journal", "key", "--out", "other.pem")
    reef.good("journal", "key", "--out", "own.pem")
    reef("authenticate", paper, "--key", "other.pem").is_told("not known here", code=1)
    assert "; current" in reef.good("authenticate", paper, "--key", "own.pem").out
    # Beside another programme's registry the signature stands, but what is current is not for it to say.
    told = reef.good("--registry", "other.gpkg", "authenticate", paper, "--key", "own.pem").out
    assert "does not hold it" in told


def test_what_is_not_genuine_is_said_in_json(reef, paper):
    content = bytearray(paper.read_bytes())
    content[len(content) // 2] ^= 1
    changed = reef.write("changed.pdf", bytes(content))
    answer = reef("authenticate", changed, "--json")
    assert answer.code == 1
    assert set(answer.json) == {"genuine", "error", "remedy"}
    assert answer.json["genuine"] is False
    assert "changed" in answer.json["error"]


# What still stands.


def test_after_a_correction_the_old_paper_is_not_current(reef, paper):
    (placement,) = [e["reference"] for e in reef.good("journal", "show", "--json").json["entries"]
                    if e["kind"] == "placement.logged"]  # fmt: skip
    moved = ("--at", "34 00.2000 N 077 00.0000 W")
    reef.good(
        "correct", placement, "--tag", "MC-0001", "--reason", "slate", *GOOD, *moved, *GOOD_DEPTH, *WHEN
    )
    answer = reef("authenticate", paper, "--json")
    assert (answer.code, answer.json["genuine"]) == (3, True)
    assert answer.json["state"] == "the record has changed since; ask for a new version"
    told = reef("authenticate", paper)
    assert told.code == 3
    assert told.out.startswith("? genuine, but the record has changed since")

    second = reef.folder / reef.good(*PAPER, "--json").json["file"]
    told = reef("authenticate", paper)
    assert (told.code, told.out.splitlines()[0][:42]) == (
        3,
        "? genuine, but superseded by version 2: ce"[:42],
    )
    assert reef.good("authenticate", second, "--json").json["state"] == "current"


def test_after_a_name_is_mended_the_old_paper_is_not_current(reef, paper):
    reef.good("module", "amend", "MC-0001", "--memorial", "Ada Quille", "--reason", "misspelt")
    answer = reef("authenticate", paper, "--json")
    assert (answer.code, answer.json["state"]) == (3, "the record has changed since; ask for a new version")


def test_the_help_tells_the_exit_codes(reef):
    assert "3 genuine, but a later version was issued, it was withdrawn" in " ".join(
        reef.good("authenticate", "--help").out.split()
    )


def test_the_position_is_told_in_the_digits_of_the_paper(reef, paper):
    told = reef.good("authenticate", paper).out
    statement = reef.good("authenticate", paper, "--json").json["statement"]
    assert statement["r95_m"] == 2.1
    # Six decimals of a degree are 0.11 m, four of a minute 0.19 m: the coarsest that are a third of 2.1 m or less.
    assert f"{statement['lat']:.6f}° N {-statement['lon']:.6f}° W" in told
    assert re.search(r"34°00\.1\d{3}′ N 076°59\.99\d\d′ W|34°00\.1\d{3}′ N 077°00\.0\d{3}′ W", told)
    assert "Within  2.1 m (95 %)" in told
    if shutil.which("pdftotext"):
        done = subprocess.run(["pdftotext", "-layout", paper, "-"], capture_output=True, check=True)
        printed = re.findall(r"\d+° [\d.]+′ [NW]", done.stdout.decode())[:2]
        assert " ".join(printed).replace("° ", "°") in told


# The code as text.


@pytest.mark.parametrize(
    "wrap",
    [
        lambda text: "\ufeff" + text,
        lambda text: "\r\n".join(text[i : i + 76] for i in range(0, len(text), 76)) + "\r\n",
        lambda text: "  " + " ".join(text[i : i + 40] for i in range(0, len(text), 40)),
        lambda text: "\u00ad\n".join(text[i : i + 60] for i in range(0, len(text), 60)),
    ],
    ids=["byte order mark", "lines", "blanks", "soft hyphens"],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_text_that_a_mail_wrapped_is_still_genuine(reef, paper, wrap, encoding):
    file = reef.write("code.txt", wrap(statement_text(reef)).encode(encoding))
    assert reef.good("authenticate", file, "--json").json["state"] == "current"


def test_in_a_wrapped_text_every_changed_character_is_still_found(reef, paper):
    from registry.errors import RejectedError
    from registry.formats.signed_statement import unwrapped, verify

    text = statement_text(reef)
    key_id = json.loads(base64.urlsafe_b64decode(text.split(".")[0] + "=="))["kid"]
    public = reef.good("journal", "key", "--json").json["public_key"]
    from registry.storage.keys import public_key_from_pem

    keys = {key_id: public_key_from_pem(public)}
    wrapped = "\n".join(text[i : i + 76] for i in range(0, len(text), 76))
    assert verify(unwrapped(wrapped), keys)
    for i, char in enumerate(wrapped):
        if char == "\n":
            continue
        for other in ("A", "_", ".", "=", "é", " ", "\u2010"):
            if other != char:
                with pytest.raises(RejectedError):
                    verify(unwrapped(wrapped[:i] + other + wrapped[i + 1 :]), keys)


@pytest.mark.parametrize("before", ["", "%leadline-seal "])
def test_the_seal_given_as_text_is_told_from_the_statement(reef, seal_text, before):
    reef("authenticate", reef.write("seal.txt", before + seal_text)).is_told("seal of a PDF file", code=2)


def test_something_else_that_the_programme_signed_is_no_certificate(reef, paper):
    from registry.formats.signed_statement import sign
    from registry.storage.keys import load_key

    (key_file,) = (reef.folder / "keys").glob("*.pem")
    file = reef.write("note.txt", sign({"a": 1}, load_key(key_file.stem)))
    reef("authenticate", file).is_told("not the statement of a certificate", code=2)


# Where something speaks against it.


def test_a_certificate_for_what_lies_wrong_needs_a_reason(reef):
    assert reef(*PLACE, *AWAY).code == 1
    reef(*PAPER).is_told("speaks against", "--despite", code=2)
    assert not list((reef.folder / "papers").glob("*"))
    told = reef.good(*PAPER, "--despite", "the family knows")
    assert told.out.startswith("Warning:")
    assert "outside" in told.out
    body = reef.good("journal", "show", "--last", "1", "--json").json["entries"][0]["body"]
    assert body["despite"] == "the family knows"
    assert (body["statement"]["reef"], body["statement"]["outside_m"] > 1000) == ("gannet-patch", True)
    assert reef.good(*PAPER, "--json").json["warnings"] == body["warnings"]


def test_a_sound_certificate_warns_of_nothing(reef, paper):
    assert reef.good(*PAPER, "--json").json["warnings"] == []


# A registry that somebody changed.


@pytest.mark.parametrize(
    ("sql", "named"), [(ENTRY, "Entry"), (TABLE, "Table modules")], ids=["entry", "table"]
)
def test_a_changed_registry_is_saved_and_said_to_be_changed(reef, sql, named):
    reef.good(*PLACE)
    alter(reef, sql)
    told = reef("backup", "copy.gpkg")
    assert told.code == 1
    assert told.out.startswith("x copy.gpkg was copied and kept")
    assert named in told.out
    assert (reef.folder / "copy.gpkg").exists()
    data = reef("backup", "again.gpkg", "--json")
    assert (data.code, data.json["sound"]) == (1, False)
    assert named in data.json["problems"][0]


@pytest.mark.parametrize("sql", [ENTRY, TABLE], ids=["entry", "table"])
def test_no_certificate_comes_out_of_a_changed_registry(reef, sql):
    reef.good(*PLACE)
    alter(reef, sql)
    reef(*PAPER).is_told("not as it was written", "journal verify", code=1)
    assert not list((reef.folder / "papers").glob("*"))


@pytest.mark.parametrize("sql", [ENTRY, TABLE], ids=["entry", "table"])
def test_an_audit_of_a_changed_registry_says_so_everywhere(reef, sql):
    reef.good(*PLACE)
    assert reef.good("audit", "--out", "sound", "--json").json["problems"] == []
    assert reef.good("audit", "--json").json["problems"] is None
    assert "not as it was written" not in (reef.folder / "sound" / "report.html").read_text(encoding="utf-8")
    alter(reef, sql)
    told = reef("audit", "--out", "changed")
    assert told.code == 1
    assert told.out.startswith("WARNING: the registry is not as it was written")
    assert "not as it was written" in (reef.folder / "changed" / "report.html").read_text(encoding="utf-8")
    data = reef("audit", "--out", "changed", "--json")
    assert (data.code, len(data.json["problems"])) == (1, 1)
    assert data.json["verdict"] == "conforming"


# Names.


@pytest.mark.parametrize("name", ["Ada\nQuill", " Ada", "Ada\u200bQuill", "Ada\u202eQuill", "A" * 121])
def test_a_name_that_no_paper_can_carry_is_refused_when_it_is_given(reef, name):
    reef("module", "add", "MC-9", "--type", "hump-60", "--memorial", name).is_told("memorial name", code=2)


def test_a_name_that_the_fonts_lack_is_recorded_with_a_warning(reef):
    told = reef("module", "add", "MC-9", "--type", "hump-60", "--memorial", "สมชาย")
    assert told.code == 0
    assert "Thai" in told.out
    data = reef.good("module", "add", "MC-10", "--type", "hump-60", "--memorial", "สมชาย", "--json").json
    assert data["memorial"]["name"] == "สมชาย"
    assert "Thai" in data["warnings"][0]
    assert reef.good("module", "add", "MC-11", "--type", "hump-60", "--json").json["warnings"] == []
    table = "tag,type,memorial\nMC-12,hump-60,สมชาย\nMC-13,hump-60,Zoë\n"
    data = reef.good("module", "import", reef.write("modules.csv", table), "--json").json
    assert len(data["warnings"]) == 1
