"""The file of accounts: private, made in one step, safe between processes, told where it is damaged."""

import contextlib
import multiprocessing
import os
import sqlite3
import stat
import threading
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from registry.actions.sign_in import sign_in
from registry.errors import (
    AccessDeniedError,
    BusyError,
    NewerRegistryError,
    RegistryError,
    TooManyAttemptsError,
    UnreadableFileError,
    UnwritableError,
)
from registry.records.access_token import Scope, Token
from registry.records.access_trail import Deed, Outcome, SignIn, Way
from registry.records.account import Account, BoatPin, Role, Session
from registry.records.family_link import FamilyLink
from registry.storage.account_file import AccountFile, open_accounts
from registry.storage.account_schema import account_file_of
from registry.storage.clock import StandingClock
from registry.storage.geopackage import create_registry
from registry.storage.passwords import Argon2Passwords
from tests.builders import ACTOR, NOON, a_programme
from tests.fakes import FixedClock
from tests.memory_accounts import MemoryAccounts

ADA = Account(
    name="Ada Quill-Sørensen",
    roles=frozenset({Role.OFFICE, Role.DIVE_TEAM}),
    password_hash="$argon2id$x",
    password_set_at=NOON,
    made_at=NOON,
    made_by="Ben",
)
BEN = Account(name="ben", roles=frozenset({Role.OFFICER}), made_at=NOON, disabled=True)
SESSION = Session(
    digest="5e55", account="Ada", opened_at=NOON, last_seen=NOON, expires_at=NOON + timedelta(1), csrf="c5"
)
TOKEN = Token(
    token_id="0a1b",
    label="chart office",
    digest="70",
    scopes=frozenset({Scope.PUBLIC_READ, Scope.OFFICE_WRITE}),
    made_by="Ada",
    made_at=NOON,
    expires_at=NOON + timedelta(1),
)
LINK = FamilyLink(tag="MR-0001", digest="11a4", made_by="Ada", made_at=NOON)
ATTEMPT = SignIn(time=NOON, name="Ada", address="192.0.2.7", way=Way.PASSWORD, outcome=Outcome.WRONG)
DEED = Deed(time=NOON, actor="Ada", what="account added", about="Ben (officer)")
#: Cheap ones: what they cost is no matter here.
PASSWORDS = Argon2Passwords(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))


@pytest.fixture
def registry(tmp_path: Path) -> Path:
    path = tmp_path / "leadline.gpkg"
    create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock()).close()
    return path


@pytest.fixture
def file(registry: Path) -> AccountFile:
    return open_accounts(registry, make=True)


def raw(file: AccountFile, *statements: str) -> None:
    with contextlib.closing(sqlite3.connect(file.path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def everything(accounts) -> None:
    """Keep one of each, and read each back; memory and file must answer alike."""
    for account in (BEN, replace(ADA, made_by=""), ADA):
        accounts.keep_account(account)
    assert accounts.accounts() == (ADA, BEN)
    assert (accounts.account("ADA quill-SØRENSEN"), accounts.account("Cy")) == (ADA, None)
    assert accounts.boat_pin() is None
    for pin in (
        BoatPin(pin_hash="$a", set_at=NOON, set_by="Ada"),
        BoatPin(pin_hash="$b", set_at=NOON, set_by="B"),
    ):
        accounts.keep_boat_pin(pin)
        assert accounts.boat_pin() == pin
    accounts.keep_boat_pin(None)
    assert accounts.boat_pin() is None
    boat = replace(SESSION, digest="b0a7", boat=True, opened_at=NOON - timedelta(1))
    for session in (SESSION, boat, replace(SESSION, last_seen=NOON + timedelta(hours=1))):
        accounts.keep_session(session)
    assert [each.digest for each in accounts.sessions()] == ["b0a7", "5e55"]
    assert accounts.session("5e55").last_seen == NOON + timedelta(hours=1)
    accounts.end_sessions(["5e55", "none"])
    assert (accounts.session("5e55"), accounts.session("b0a7")) == (None, boat)
    for token in (TOKEN, replace(TOKEN, token_id="2c", digest="71"), replace(TOKEN, revoked_at=NOON)):
        accounts.keep_token(token)
    assert [each.token_id for each in accounts.tokens()] == ["0a1b", "2c"]
    assert (accounts.token("70"), accounts.token("x")) == (replace(TOKEN, revoked_at=NOON), None)
    other = replace(LINK, tag="MR-0002", digest="22", expires_at=NOON + timedelta(1))
    for link in (LINK, other, replace(LINK, digest="33", revoked_at=NOON)):
        accounts.keep_family_link(link)
    assert [each.digest for each in accounts.family_links("MR-0001")] == ["11a4", "33"]
    assert (accounts.family_link("22"), accounts.family_link("x")) == (other, None)
    assert (accounts.remove_family_links("MR-0001"), accounts.remove_family_links("MR-0001")) == (2, 0)
    assert accounts.family_links() == (other,)
    earlier = replace(ATTEMPT, time=NOON - timedelta(1), name="Ben")
    first, second = accounts.note_sign_in(ATTEMPT), accounts.note_sign_in(earlier)
    assert first != second
    accounts.settle_sign_in(first, Outcome.OPENED)
    settled = replace(ATTEMPT, outcome=Outcome.OPENED)
    assert accounts.sign_ins() == (earlier, settled)
    assert accounts.sign_ins(since=NOON) == accounts.sign_ins(name="Ada") == (settled,)
    assert accounts.sign_ins(since=NOON, name="Ben") == ()
    accounts.forget_sign_ins(NOON)
    assert accounts.sign_ins() == (settled,)
    accounts.note_deed(DEED)
    accounts.note_deed(DEED)
    assert accounts.deeds() == (DEED, DEED)
    assert accounts.pseudonym("x") == accounts.pseudonym("x") != accounts.pseudonym("y")
    assert len({accounts.fresh_secret() for _ in range(20)}) == 20


def test_what_is_kept_comes_back_from_the_file(file, registry):
    everything(file)
    assert open_accounts(registry).accounts() == (ADA, BEN)


def test_what_is_kept_comes_back_from_memory():
    everything(MemoryAccounts())


def test_where_there_is_no_file_nobody_is_known_and_nothing_is_kept(registry):
    accounts = open_accounts(registry)
    assert [*accounts.accounts(), *accounts.sessions(), *accounts.family_links(), *accounts.deeds()] == []
    found = (accounts.session("x"), accounts.token("x"), accounts.family_link("x"), accounts.boat_pin())
    assert found == (None,) * 4
    assert accounts.remove_family_links("MR-0001") == 0
    accounts.end_sessions(["x"])
    with pytest.raises(UnreadableFileError, match="leadline user add"):
        accounts.keep_account(ADA)
    with pytest.raises(UnreadableFileError, match="no accounts yet"):
        sign_in(accounts, FixedClock(), name="Ada", password="x", address="::1")
    assert not accounts.path.exists()


@pytest.mark.skipif(os.name != "posix", reason="rights of POSIX")
def test_it_is_its_owners_alone_and_wider_rights_are_mended_and_told(file, registry):
    assert stat.S_IMODE(file.path.stat().st_mode) == 0o600
    with file.writing():
        file.keep_account(ADA)
        beside = {
            path.name: stat.S_IMODE(path.stat().st_mode) for path in registry.parent.glob("*.accounts*")
        }
        assert set(beside.values()) == {0o600}
    file.path.chmod(0o644)
    opened = open_accounts(registry)
    assert stat.S_IMODE(file.path.stat().st_mode) == 0o600
    assert "0644" in opened.notes[0]


def test_it_is_made_once_and_leaves_nothing_beside(file, registry):
    file.keep_account(ADA)
    assert open_accounts(registry, make=True).accounts() == (ADA,)
    names = {path.name for path in registry.parent.iterdir() if "accounts" in path.name}
    assert names == {"leadline.gpkg.accounts"}
    assert file.path == account_file_of(registry)


def test_where_it_cannot_be_made_nothing_is_left(registry, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "link", full)
    monkeypatch.setattr(Path, "rename", full)
    with pytest.raises(UnwritableError, match="No space"):
        open_accounts(registry, make=True)
    assert not [path for path in registry.parent.iterdir() if "accounts" in path.name]


def test_secrets_of_this_file_are_no_other_files(file, tmp_path):
    other = tmp_path / "other.gpkg"
    create_registry(other, a_programme(), actor=ACTOR, clock=FixedClock()).close()
    assert open_accounts(other, make=True).pseudonym("x") != file.pseudonym("x")
    assert len(file.fresh_secret()) == 43


def test_all_of_a_transaction_stands_or_none(file):
    with contextlib.suppress(KeyboardInterrupt), file.writing():
        file.keep_account(ADA)
        with file.writing():
            file.note_deed(DEED)
        raise KeyboardInterrupt
    assert (file.accounts(), file.deeds()) == ((), ())
    with file.writing():
        file.keep_account(ADA)
        assert file.accounts() == (ADA,)
    assert file.accounts() == (ADA,)


def test_a_thread_sees_nothing_of_what_another_has_not_finished(file):
    seen = []
    with file.writing():
        file.keep_account(ADA)
        thread = threading.Thread(target=lambda: seen.append(file.accounts()))
        thread.start()
        thread.join()
    assert seen == [()]


def test_another_writer_is_waited_for_and_then_told(file, monkeypatch):
    monkeypatch.setattr("registry.storage.account_file._WAIT_S", 0.05)
    other = AccountFile(file.path, origin=file._origin)
    with file.writing(), pytest.raises(BusyError):
        other.keep_account(ADA)


def test_what_was_done_cannot_be_changed(file):
    file.note_deed(DEED)
    for statement in ("DELETE FROM deeds", "UPDATE deeds SET actor = 'Ben'"):
        with pytest.raises(sqlite3.IntegrityError, match="stays"):
            raw(file, statement)


def test_what_is_forgotten_is_written_over(file):
    digest = "feedfacefeedfacefeedfacefeedface"
    file.keep_family_link(replace(LINK, digest=digest))
    assert digest.encode() in file.path.read_bytes()
    file.remove_family_links("MR-0001")
    assert digest.encode() not in file.path.read_bytes()


@pytest.mark.parametrize("size", [0, 60, 100, 4096, 9000, -1])
def test_a_file_that_was_cut_short_is_told(file, registry, size):
    for number in range(60):
        file.note_deed(replace(DEED, about=f"{number} " * 40))
    data = file.path.read_bytes()
    file.path.write_bytes(data[:size])
    with pytest.raises(UnreadableFileError, match="damaged"):
        open_accounts(registry).deeds()


@pytest.mark.parametrize("content", [b"x", b"\x00" * 5000, b"SQLite format 3\x00" + b"\xff" * 5000])
def test_a_file_that_is_something_else_is_told_and_stays(file, registry, content):
    file.path.write_bytes(content)
    for make in (False, True):
        with pytest.raises(UnreadableFileError, match="damaged"):
            open_accounts(registry, make=make)
    assert file.path.read_bytes() == content


@pytest.mark.parametrize(
    ("statement", "error", "said"),
    [
        ("PRAGMA user_version = 2", NewerRegistryError, "later version"),
        ("PRAGMA application_id = 7", UnreadableFileError, "something else"),
        (
            "UPDATE about SET value = '00000000' WHERE key = 'registry'",
            UnreadableFileError,
            "another registry",
        ),
        ("DELETE FROM about", UnreadableFileError, "another registry"),
        ("DROP TABLE accounts", UnreadableFileError, "damaged"),
        ("UPDATE accounts SET roles = 'captain'", UnreadableFileError, "damaged"),
        ("UPDATE accounts SET made_at = 'yesterday'", UnreadableFileError, "damaged"),
        ("UPDATE accounts SET name = ''", UnreadableFileError, "damaged"),
    ],
)
def test_what_is_not_as_it_should_be_is_told_without_a_word_of_it(file, registry, statement, error, said):
    file.keep_account(ADA)
    raw(file, statement)
    with pytest.raises(error, match=said) as told:
        open_accounts(registry).accounts()
    assert "Quill" not in str(told.value)
    assert "captain" not in str(told.value)


def test_where_there_is_no_registry_there_are_no_accounts(tmp_path):
    with pytest.raises(RegistryError, match="no registry"):
        open_accounts(tmp_path / "none.gpkg", make=True)


def test_a_registry_that_was_put_in_the_place_of_another_is_seen(file, registry, tmp_path):
    registry.unlink()
    new = tmp_path / "new.gpkg"
    create_registry(new, a_programme(), actor=ACTOR, clock=FixedClock()).close()
    new.rename(registry)
    with pytest.raises(UnreadableFileError, match="another registry"):
        open_accounts(registry)


def guess(registry: Path, answers) -> None:
    """Try a wrong password ten times, in a process of its own."""
    accounts = open_accounts(registry)
    told = AccountFile(accounts.path, origin=accounts._origin, passwords=PASSWORDS)
    for _ in range(10):
        try:
            sign_in(told, StandingClock(NOON), name="Ada", password="x", address="192.0.2.7")
        except TooManyAttemptsError:
            answers.put("wait")
        except AccessDeniedError:
            answers.put("wrong")


def test_two_processes_together_are_heard_five_times(file, registry):
    context = multiprocessing.get_context("spawn")
    answers = context.Queue()
    guessing = [context.Process(target=guess, args=(registry, answers)) for _ in range(2)]
    for process in guessing:
        process.start()
    found = [answers.get(timeout=60) for _ in range(20)]
    for process in guessing:
        process.join(60)
        assert process.exitcode == 0
    answers.close()
    assert (found.count("wrong"), found.count("wait")) == (5, 15)
    assert len(file.sign_ins()) == 6


def make_and_note(registry: Path, name: str) -> None:
    accounts = open_accounts(registry, make=True)
    for number in range(20):
        accounts.note_deed(replace(DEED, actor=name, about=str(number)))


def test_two_processes_make_one_file_and_lose_nothing(registry):
    context = multiprocessing.get_context("spawn")
    making = [context.Process(target=make_and_note, args=(registry, name)) for name in ("Ada", "Ben")]
    for process in making:
        process.start()
    for process in making:
        process.join(60)
        assert process.exitcode == 0
    deeds = open_accounts(registry).deeds()
    for name in ("Ada", "Ben"):
        assert [deed.about for deed in deeds if deed.actor == name] == [str(number) for number in range(20)]


def test_passwords_are_argon2id_and_normalised():
    kept = PASSWORDS.hash("Zoe\u0308 of the \ufb01sh")
    assert kept.startswith("$argon2id$v=19$")
    assert PASSWORDS.verify(kept, "Zo\u00eb of the fish")
    assert kept != PASSWORDS.hash("Zo\u00eb of the fish")
    for wrong in ("", "zo\u00eb of the fish", "\ud800", "x" * 100_000):
        assert not PASSWORDS.verify(kept, wrong)
    for damaged in ("", "x", "$argon2id$v=19$m=8", kept[:-4]):
        assert not PASSWORDS.verify(damaged, "x")
    assert not PASSWORDS.verify(PASSWORDS.nobody, "x")
    assert PASSWORDS.nobody == PASSWORDS.nobody


def test_a_hash_of_other_parameters_is_known_for_that():
    """RFC 9106, section 4: the second recommended choice is 3 passes over 64 MiB with 4 lanes."""
    standard = Argon2Passwords()
    kept = standard.hash("seven gannets over grey water")
    assert "m=65536,t=3,p=4" in kept
    assert not standard.needs_rehash(kept)
    assert standard.needs_rehash(PASSWORDS.hash("x"))
    assert standard.needs_rehash("not a hash")


def test_the_reference_hash_of_argon2id_is_verified():
    """From the test program of the reference implementation: Argon2id, v=19, t=2, m=2^16 KiB, p=1."""
    kept = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
    assert Argon2Passwords().verify(kept, "password")
    assert not Argon2Passwords().verify(kept, "differentpassword")
