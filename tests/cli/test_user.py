"""Accounts, tokens, the PIN and links of families as typed."""

import getpass
import io
import os
import stat
import subprocess

import pytest

from registry.actions.recall_family_link import recall_family_link
from registry.actions.recall_token import recall_token
from registry.actions.sign_in import sign_in, sign_in_by_pin
from registry.errors import AccessDeniedError
from registry.storage.account_file import open_accounts
from registry.storage.clock import SystemClock
from tests.cli.reef import Reef

GOOD = "seven gannets over grey water"
CLOCK = SystemClock()
HERE = "192.0.2.7"


@pytest.fixture
def types(monkeypatch):
    """Type secrets: what is asked for without showing it, or what standard input holds."""

    def typed(*secrets: str) -> tuple[()]:
        left = list(secrets)
        monkeypatch.setattr(getpass, "getpass", lambda *_, **__: left.pop(0))
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{secret}\n" for secret in secrets)))
        return ()

    return typed


@pytest.fixture
def ada(reef: Reef, types) -> Reef:
    types(GOOD)
    reef.good("user", "add", "Ada Quill", "--role", "office", "--password-stdin", "--actor", "Ben")
    return reef


def comes_in(reef: Reef, name: str = "Ada Quill", password: str = GOOD) -> bool:
    try:
        sign_in(open_accounts(reef.registry), CLOCK, name=name, password=password, address=HERE)
    except AccessDeniedError:
        return False
    return True


def test_an_account_is_added_and_comes_in(reef, types):
    types(GOOD, GOOD)
    answer = reef("user", "add", "Ada Quill", "--role", "office", "--role", "dive-team")
    assert answer.code == 0, answer
    assert GOOD not in answer.out + answer.err
    assert "dive team, office" in answer.out
    assert comes_in(reef, "ada quill")
    if os.name == "posix":
        assert stat.S_IMODE((reef.folder / "leadline.gpkg.accounts").stat().st_mode) == 0o600
    (account,) = reef.good("user", "list", "--json").json["accounts"]
    assert (account["name"], account["roles"], account["sessions"]) == (
        "Ada Quill",
        ["dive team", "office"],
        1,
    )
    assert "1 session" in reef.good("user", "list").out


def test_a_password_that_differs_the_second_time_is_asked_for_again(reef, types):
    types(GOOD, "another one", GOOD, GOOD)
    assert reef("user", "add", "Ada", "--role", "office").code == 0
    assert comes_in(reef, "Ada")


@pytest.mark.parametrize("lines", [(), ("one", "two"), ("short",), ("Ada Quill 2026",)])
def test_a_password_that_will_not_do_adds_nobody(reef, types, lines):
    types(*lines)
    answer = reef("user", "add", "Ada Quill", "--role", "office", "--password-stdin")
    answer.is_told("", code=2)
    assert not [line for line in lines if f"'{line}'" in answer.err]
    assert "no accounts" in reef.good("user", "list").out


def test_what_is_done_with_an_account_counts_at_once(ada, types):
    assert comes_in(ada)
    ada("user", "disable", "ADA QUILL").is_told("the last who can come in as office", code=2)
    types("nine terns above the bar")
    ada.good("user", "add", "Eve", "--role", "office", "--password-stdin")
    ada.good("user", "disable", "ADA QUILL")
    assert not comes_in(ada)
    assert "disabled" in ada.good("user", "list").out
    ada.good("user", "enable", "Ada Quill")
    types("eight terns under cloud")
    ada.good("user", "password", "Ada Quill", "--password-stdin")
    assert not comes_in(ada)
    assert comes_in(ada, password="eight terns under cloud")
    assert ada.good("user", "roles", "Ada Quill", "--role", "officer", "--json").json["roles"] == ["officer"]
    trail = ada.good("user", "trail", "--json").json["deeds"]
    assert [deed["what"] for deed in trail[::-1]] == [
        "account added", "account added", "account disabled", "account enabled", "password changed",
        "roles changed",
    ]  # fmt: skip
    assert (trail[-1]["actor"], trail[-1]["about"]) == ("Ben", "Ada Quill (office)")
    assert "account added" in ada.good("user", "trail").out


def test_who_tried_to_come_in_is_shown_and_no_password_typed_as_a_name(ada):
    assert not comes_in(ada, "my own secret password", "x")
    assert comes_in(ada)
    latest, first = ada.good("user", "sign-ins", "--json").json["sign_ins"]
    assert (latest["name"], latest["address"], latest["outcome"]) == ("Ada Quill", HERE, "opened")
    assert first["outcome"].startswith("wrong")
    assert "secret" not in ada.good("user", "sign-ins", "--days", "1").out
    assert b"my own secret" not in (ada.folder / "leadline.gpkg.accounts").read_bytes()


def test_a_token_is_shown_once_and_ends(reef):
    answer = reef.good("token", "add", "chart office", "--scope", "public:read", "--expires", "2090-12-31")
    secret = answer.out.splitlines()[0]
    token = recall_token(open_accounts(reef.registry), CLOCK, secret)
    assert token is not None
    # The last moment of that day in the programme's zone.
    assert f"{token.expires_at:%Y-%m-%d %H:%M:%S}" in {"2090-12-31 23:59:59", "2091-01-01 00:00:00"}
    assert secret.encode() not in (reef.folder / "leadline.gpkg.accounts").read_bytes()
    (listed,) = reef.good("token", "list", "--json").json["tokens"]
    assert (listed["label"], listed["scopes"], listed["valid"]) == ("chart office", ["public:read"], True)
    assert secret not in reef.good("token", "list").out
    reef("token", "add", "chart office", "--scope", "public:read").is_told("already", code=2)
    reef("token", "add", "old", "--scope", "public:read", "--expires", "2020-01-01").is_told("later", code=2)
    reef.good("token", "revoke", "chart office")
    assert recall_token(open_accounts(reef.registry), CLOCK, secret) is None
    reef("token", "revoke", "chart office").is_told("No token is valid", code=2)
    assert "revoked" in reef.good("token", "list").out


def test_the_pin_of_the_boat_is_set_and_cleared(ada, types):
    types("482195")
    ada.good("boat", "pin", "--pin-stdin")
    told = {"name": "Cy", "pin": "482195", "address": "192.168.8.20"}
    assert sign_in_by_pin(open_accounts(ada.registry), CLOCK, **told).session.boat
    assert "By PIN on the boat: Cy" in ada.good("user", "list").out
    assert ada.good("user", "list", "--json").json["boat"]["sessions"] == ["Cy"]
    ada.good("boat", "pin", "--clear")
    with pytest.raises(AccessDeniedError):
        sign_in_by_pin(open_accounts(ada.registry), CLOCK, **told)
    types("123456")
    ada("boat", "pin", "--pin-stdin").is_told("first", code=2)


def test_a_family_gets_a_link_that_goes_with_it(reef):
    paths = [reef.good("family", "link", "MC-0001").out.splitlines()[0] for _ in range(2)]
    secrets = [path.removeprefix("/family/") for path in paths]
    data = reef.good("family", "link", "MC-0001", "--expires", "2090-12-31", "--json").json
    assert data["path"].startswith("/family/")
    accounts = open_accounts(reef.registry)
    assert [recall_family_link(accounts, CLOCK, secret) for secret in secrets] == ["MC-0001"] * 2
    reef.good("family", "add", "MC-0001", "--name", "Idalia Quill-Sørensen")
    answer = reef.good("family", "erase", "MC-0001", "--yes", "--json").json
    assert (answer["links"], answer["still_there"]) == (3, [])
    assert any(each["file"].endswith(".accounts") for each in answer["searched"])
    assert [recall_family_link(accounts, CLOCK, secret) for secret in secrets] == [None, None]
    reef("family", "unlink", "MC-0001").is_told("No link", code=2)
    (entry,) = [
        each
        for each in reef.good("journal", "show", "--json").json["entries"]
        if each["kind"] == "family.erased"
    ]
    assert entry["body"]["links"] == 3
    reef.is_sound()


def test_links_that_stay_are_told_and_are_ended(reef):
    reef.good("family", "link", "MC-0001")
    for name in ("Idalia Quill", "Tomas Quill"):
        reef.good("family", "add", "MC-0001", "--name", name)
    answer = reef.good("family", "erase", "MC-0001", "--contact", "1", "--yes")
    assert "leadline family unlink MC-0001" in answer.out
    assert "Ended 1 link" in reef.good("family", "unlink", "MC-0001").out
    reef("family", "link", "MC-0009").is_told("MC-0009", code=2)
    reef("family", "link", "MC-0001", "--expires", "2020-01-01").is_told("later", code=2)


def test_nothing_of_accounts_is_in_what_is_written_for_others(ada):
    """Names of those who only read, digests and hashes are in the file of accounts and nowhere else."""
    ada.good("family", "link", "MC-0001", "--actor", "Dov Ostrander")
    ada.good("backup", "backup.gpkg")
    ada.good("export", "--format", "gpkg", "--out", "reef-export.gpkg")
    ada.good("map", "--out", "reef.html")
    sought = [
        b"argon2id",
        b"Ada Quill (office)",
        b"Dov Ostrander",
        open_accounts(ada.registry).family_links()[0].digest.encode(),
    ]
    for path in ada.folder.rglob("*"):
        if path.is_file() and path.name != "leadline.gpkg.accounts":
            assert not [text for text in sought if text in path.read_bytes()], path
    own = (ada.folder / "leadline.gpkg.accounts").read_bytes()
    assert all(text in own for text in sought)
    assert ada.good("user", "list", "--json", "--registry", "backup.gpkg").json["accounts"] == []


def test_nobody_is_changed_who_is_not_there(ada, types):
    types(GOOD)
    for line in (("disable",), ("enable",), ("roles", "--role", "office"), ("password", "--password-stdin")):
        ada("user", line[0], "Cy", *line[1:]).is_told("There is no account 'Cy'", "Ada Quill", code=2)
    ada("user", "add", "Cy", "--role", "captain").is_told("captain", code=2)


def test_before_there_are_accounts_each_command_says_so(reef):
    line: tuple[str, ...]
    for line in (
        ("user", "disable", "Ada"),
        ("token", "revoke", "x"),
        ("boat", "pin", "--clear"),
        ("family", "unlink", "MC-0001"),
    ):
        answer = reef(*line)
        answer.is_told("", code=4)
        assert "no accounts yet" in answer.err
    for line in (("user", "list"), ("user", "trail"), ("user", "sign-ins"), ("token", "list")):
        assert "no" in reef.good(*line).out.lower()
    assert not (reef.folder / "leadline.gpkg.accounts").exists()


def test_a_damaged_file_is_told_and_never_written_over(ada):
    path = ada.folder / "leadline.gpkg.accounts"
    for data in (b"", b"\x00" * 99, path.read_bytes()[:5000]):
        path.write_bytes(data)
        for line in (("user", "list"), ("user", "disable", "Ada"), ("family", "erase", "MC-0001", "--yes")):
            ada(*line).is_told("leadline.gpkg.accounts", "damaged", code=4)
        assert path.read_bytes() == data
    ada("export", "--format", "csv", "--out", "leadline.gpkg.accounts").is_told("registry itself", code=2)


def test_two_who_add_the_same_name_at_once_make_one_account(reef):
    line = ("user", "add", "Ada", "--role", "office", "--password-stdin")
    added = [reef.process(*line, stdin=subprocess.PIPE) for _ in range(3)]
    told = [process.communicate(f"{GOOD}\n", timeout=120) for process in added]
    assert sorted(process.returncode for process in added) == [0, 2, 2], told
    assert len(reef.good("user", "list", "--json").json["accounts"]) == 1


def test_a_new_registry_never_finds_the_accounts_of_another(ada):
    ada.registry.unlink()
    new = ("new", "--programme", "Tern Reefs", "--frame", "EPSG:6318")
    ada(*new).is_told("leadline.gpkg.accounts", "another registry", code=2)
    (ada.folder / "leadline.gpkg.accounts").rename(ada.folder / "aside")
    ada.good(*new)


def test_a_backup_that_takes_the_place_of_the_registry_keeps_its_accounts(ada):
    ada.good("backup", "backup.gpkg")
    for path in ada.folder.glob("leadline.gpkg*"):
        if not path.name.endswith((".accounts", ".families")):
            path.unlink()
    (ada.folder / "backup.gpkg").rename(ada.registry)
    assert comes_in(ada)
