"""Coming in: by password and by PIN, how often one may be wrong, and how long it lasts."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.actions.add_account import add_account
from registry.actions.amend_account import amend_account
from registry.actions.change_password import change_password
from registry.actions.end_session import end_session
from registry.actions.recall_session import recall_session
from registry.actions.set_boat_pin import set_boat_pin
from registry.actions.sign_in import proved_account, sign_in, sign_in_by_pin
from registry.actions.sign_in_limits import KEPT
from registry.errors import (
    AccessDeniedError,
    ConflictError,
    InvalidRecordError,
    NotFoundError,
    TooManyAttemptsError,
    UnprintableTextError,
)
from registry.records.access_trail import Outcome, Way
from registry.records.account import Role
from registry.records.secret_digest import digest_of_secret
from tests.builders import ACTOR
from tests.fakes import FixedClock
from tests.memory_accounts import MemoryAccounts, PlainPasswords

GOOD = "seven gannets over grey water"
PIN = "482195"
HERE, THERE, BOAT = "192.0.2.7", "198.51.100.9", "192.168.8.20"


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock()


@pytest.fixture
def accounts(clock) -> MemoryAccounts:
    return stocked(clock)


def stocked(clock) -> MemoryAccounts:
    accounts = MemoryAccounts()
    add_account(accounts, clock, name="Ada Quill", roles=["office"], password=GOOD, actor=ACTOR)
    add_account(accounts, clock, name="Ben", roles=["dive-team"], password=GOOD + "!", actor=ACTOR)
    set_boat_pin(accounts, clock, pin=PIN, actor=ACTOR)
    return accounts


def comes_in(accounts, clock, name="Ada Quill", password=GOOD, address=HERE):
    return sign_in(accounts, clock, name=name, password=password, address=address)


def by_pin(accounts, clock, name="Cy of the crew", pin=PIN, address=BOAT):
    return sign_in_by_pin(accounts, clock, name=name, pin=pin, address=address)


def is_wrong(accounts, clock, times=1, way=comes_in, **told):
    told = ({"password": "not the one"} if way is comes_in else {"pin": "111111"}) | told
    for _ in range(times):
        with pytest.raises(AccessDeniedError) as error:
            way(accounts, clock, **told)
        assert not isinstance(error.value, TooManyAttemptsError)


def must_wait(accounts, clock, way=comes_in, **told) -> float:
    with pytest.raises(TooManyAttemptsError) as error:
        way(accounts, clock, **told)
    assert error.value.exit_code == 2
    return error.value.retry_after_s


def outcomes(accounts) -> list[Outcome]:
    return [each.outcome for each in accounts.sign_ins()]


def later(clock, **passed) -> None:
    clock.instant += timedelta(**passed)


def test_whoever_knows_the_password_comes_in_and_is_recalled(accounts, clock):
    opened = comes_in(accounts, clock, name="ada  QUILL")
    recalled = recall_session(accounts, clock, opened.secret)
    assert recalled is not None
    assert (recalled.account.name, set(recalled.account.roles)) == ("Ada Quill", {Role.OFFICE})
    assert recalled.session.csrf == opened.session.csrf
    assert opened.secret not in (opened.session.csrf, *repr(opened).split("'"))
    (attempt,) = accounts.sign_ins()
    assert (attempt.name, attempt.address, attempt.way, attempt.outcome) == (
        "Ada Quill", HERE, Way.PASSWORD, Outcome.OPENED,
    )  # fmt: skip


def test_of_a_secret_only_the_digest_is_kept(accounts, clock):
    opened = comes_in(accounts, clock)
    (session,) = accounts.sessions()
    assert session.digest == digest_of_secret(opened.secret)
    assert recall_session(accounts, clock, session.digest) is None
    assert opened.secret not in str([session.digest, session.csrf])


def test_an_unknown_name_a_wrong_password_and_a_disabled_account_are_told_alike(accounts, clock):
    amend_account(accounts, clock, name="Ben", disabled=True, actor=ACTOR)
    told = set()
    for name, password in (
        ("Nobody", GOOD),
        ("Ada Quill", "x"),
        ("Ben", GOOD + "!"),
        ("", ""),
        ("\x00" * 200, ""),
    ):
        with pytest.raises(AccessDeniedError) as error:
            comes_in(accounts, clock, name=name, password=password)
        told.add(str(error.value))
    assert len(told) == 1
    assert outcomes(accounts) == [*[Outcome.WRONG] * 2, Outcome.DISABLED, *[Outcome.WRONG] * 2]


def test_the_same_work_is_done_whether_or_not_there_is_an_account(accounts, clock):
    """One hash is verified each time; where there is no account, one that was made with the same parameters."""
    passwords = accounts.passwords
    for name in ("Ada Quill", "Nobody"):
        passwords.asked.clear()
        is_wrong(accounts, clock, name=name)
        assert len(passwords.asked) == 1
    assert passwords.asked == [passwords.nobody]
    accounts.keep_boat_pin(None)
    passwords.asked.clear()
    is_wrong(accounts, clock, way=by_pin, pin=PIN)
    assert passwords.asked == [passwords.nobody]


def test_what_was_typed_as_a_name_is_kept_nowhere_where_there_is_no_such_account(accounts, clock):
    is_wrong(accounts, clock, name="my very own password", times=2)
    first, second = accounts.sign_ins()
    assert first.name == second.name != "my very own password"


def test_after_five_wrong_ones_a_name_waits_a_quarter_of_an_hour_there(accounts, clock):
    for name in ("ada quill", "Nobody"):
        is_wrong(accounts, clock, 5, name=name)
        assert must_wait(accounts, clock, name=name) == 900
    later(clock, minutes=5)
    assert must_wait(accounts, clock) == 600
    comes_in(accounts, clock, address=THERE)
    later(clock, minutes=10)
    comes_in(accounts, clock)


def test_an_unknown_name_waits_as_a_known_one(accounts, clock):
    def seen(name):
        own = stocked(clock)
        found = []
        for _ in range(30):
            with pytest.raises(AccessDeniedError) as error:
                comes_in(own, clock, name=name, password="x")
            found.append((type(error.value), str(error.value)))
        return found

    assert seen("Ada Quill") == seen("Nobody")


def test_coming_in_forgives_a_name_but_not_an_address(accounts, clock):
    for _ in range(4):
        is_wrong(accounts, clock, 4)
        comes_in(accounts, clock)
    is_wrong(accounts, clock, 4)
    assert must_wait(accounts, clock) == 900
    assert must_wait(accounts, clock, name="Ben") == 900
    comes_in(accounts, clock, address=THERE)


def test_the_addresses_of_one_subscriber_are_one(accounts, clock):
    for last in range(5):
        is_wrong(accounts, clock, address=f"2001:db8:0:1::{last}")
    must_wait(accounts, clock, address="2001:db8:0:1:ffff::")
    comes_in(accounts, clock, address="2001:db8:0:2::1")


def test_whoever_waits_does_not_fill_the_file_and_does_not_wait_longer(accounts, clock):
    is_wrong(accounts, clock, 5)
    for _ in range(50):
        later(clock, seconds=10)
        must_wait(accounts, clock)
    assert outcomes(accounts) == [*[Outcome.WRONG] * 5, Outcome.WAIT]
    later(clock, minutes=7)
    comes_in(accounts, clock)


def test_a_hundred_in_a_row_are_heard_of_one_name_but_where_it_came_in_before(accounts, clock):
    comes_in(accounts, clock)
    for number in range(100):
        is_wrong(accounts, clock, address=f"198.51.100.{number}")
    assert must_wait(accounts, clock, address="198.51.100.200") == KEPT.total_seconds()
    comes_in(accounts, clock)
    # Having come in, it begins anew; and so it does with another password.
    for number in range(100):
        is_wrong(accounts, clock, address=f"198.51.100.{number}")
    must_wait(accounts, clock, address="203.0.113.1")
    later(clock, seconds=1)
    change_password(accounts, clock, name="Ada Quill", password="eight terns under cloud", actor=ACTOR)
    comes_in(accounts, clock, password="eight terns under cloud", address="203.0.113.1")


def test_many_at_once_are_each_counted_before_they_are_looked_at(accounts, clock):
    """While one attempt is being verified, others come: no more than five are ever heard."""
    heard = []

    class Slow(PlainPasswords):
        def verify(self, kept, password):
            heard.append(1)
            with pytest.raises(AccessDeniedError):
                comes_in(accounts, clock, password="x")
            return super().verify(kept, password)

    accounts.passwords = Slow()
    with pytest.raises(AccessDeniedError):
        comes_in(accounts, clock, password="x")
    assert len(heard) == 5


def test_a_clock_that_was_ahead_shuts_nobody_out(accounts, clock):
    later(clock, days=400)
    is_wrong(accounts, clock, 5)
    later(clock, days=-400)
    comes_in(accounts, clock)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([HERE, THERE]), st.integers(0, 400), st.booleans()), max_size=40))
def test_no_name_is_heard_wrong_more_than_five_times_in_a_quarter_of_an_hour_from_one_address(attempts):
    clock = FixedClock()
    accounts = stocked(clock)
    waits = []
    for address, passed_s, right in attempts:
        later(clock, seconds=passed_s)
        try:
            comes_in(accounts, clock, password=GOOD if right else "x", address=address)
        except TooManyAttemptsError as error:
            waits.append(error.retry_after_s)
        except AccessDeniedError:
            assert not right
    assert all(0 < wait_s <= 900 for wait_s in waits)
    for address in (HERE, THERE):
        row: list = []
        for each in accounts.sign_ins():
            if each.address == address and each.outcome is Outcome.OPENED:
                row = []
            elif each.address == address and each.outcome is Outcome.WRONG:
                row = [*(when for when in row if each.time - when < timedelta(minutes=15)), each.time]
                assert len(row) <= 5


def test_attempts_of_long_ago_are_forgotten_and_dead_sessions_too(accounts, clock):
    is_wrong(accounts, clock)
    comes_in(accounts, clock)
    later(clock, days=91)
    comes_in(accounts, clock)
    assert outcomes(accounts) == [Outcome.OPENED]
    assert len(accounts.sessions()) == 1


def test_a_hash_of_other_parameters_is_made_anew_when_the_password_is_known(accounts, clock):
    accounts.passwords.scheme = "2"
    comes_in(accounts, clock)
    assert accounts.account("Ada Quill").password_hash.startswith("2:")
    assert accounts.account("Ben").password_hash.startswith("1:")
    comes_in(accounts, clock)


def test_an_account_that_is_disabled_while_it_is_looked_at_does_not_come_in(accounts, clock):
    add_account(accounts, clock, name="Eve", roles=["office"], password=GOOD, actor=ACTOR)

    class Slow(PlainPasswords):
        def verify(self, kept, password):
            amend_account(accounts, clock, name="Ada Quill", disabled=True, actor=ACTOR)
            return super().verify(kept, password)

    accounts.passwords = Slow()
    is_wrong(accounts, clock, password=GOOD)
    assert accounts.sessions() == ()


def test_a_session_slides_and_ends(accounts, clock):
    opened = comes_in(accounts, clock, name="Ben", password=GOOD + "!")
    for _ in range(28):
        later(clock, hours=11, minutes=59)
        assert recall_session(accounts, clock, opened.secret)
    later(clock, hours=1)
    assert recall_session(accounts, clock, opened.secret) is None
    assert accounts.sessions() == ()


def test_the_office_is_signed_out_sooner(accounts, clock):
    opened = comes_in(accounts, clock)
    later(clock, minutes=59)
    assert recall_session(accounts, clock, opened.secret)
    later(clock, minutes=61)
    assert recall_session(accounts, clock, opened.secret) is None


def test_new_roles_count_at_once_in_sessions_that_are_open(accounts, clock):
    opened = comes_in(accounts, clock, name="Ben", password=GOOD + "!")
    amend_account(accounts, clock, name="Ben", roles=["officer"], actor=ACTOR)
    recalled = recall_session(accounts, clock, opened.secret)
    assert recalled is not None
    assert recalled.account.roles == {"officer"}
    later(clock, minutes=61)
    assert recall_session(accounts, clock, opened.secret) is None


def test_reading_writes_no_more_than_once_a_minute(accounts, clock):
    opened = comes_in(accounts, clock)
    begun = clock.now()
    later(clock, seconds=59)
    recall_session(accounts, clock, opened.secret)
    assert accounts.sessions()[0].last_seen == begun
    later(clock, seconds=1)
    recall_session(accounts, clock, opened.secret)
    assert accounts.sessions()[0].last_seen == clock.now()


def test_a_session_ends_when_it_is_ended_and_stays_ended(accounts, clock):
    first, second = comes_in(accounts, clock), comes_in(accounts, clock)
    end_session(accounts, first.secret)
    end_session(accounts, first.secret)
    assert recall_session(accounts, clock, first.secret) is None
    assert recall_session(accounts, clock, second.secret)
    for secret in ("", "x", "\ud800", second.secret[:-1]):
        assert recall_session(accounts, clock, secret) is None


def test_another_password_ends_the_other_sessions(accounts, clock):
    mine, other = comes_in(accounts, clock), comes_in(accounts, clock)
    bens = comes_in(accounts, clock, name="Ben", password=GOOD + "!")
    change_password(
        accounts, clock, name="ada quill", password="eight terns under cloud", actor=ACTOR, keep=mine.secret
    )
    alive = [recall_session(accounts, clock, each.secret) is not None for each in (mine, other, bens)]
    assert alive == [True, False, True]
    is_wrong(accounts, clock, password=GOOD)
    comes_in(accounts, clock, password="eight terns under cloud")
    with pytest.raises(NotFoundError, match="Ada Quill, Ben"):
        change_password(accounts, clock, name="Cy", password="eight terns under cloud", actor=ACTOR)
    with pytest.raises(InvalidRecordError):
        change_password(accounts, clock, name="Ben", password="short", actor=ACTOR)


def test_the_old_password_is_proved_under_the_same_limits(accounts, clock):
    told = {"name": "Ada Quill", "address": HERE}
    assert proved_account(accounts, clock, password=GOOD, **told)[0].name == "Ada Quill"
    is_wrong(accounts, clock, 4)
    with pytest.raises(TooManyAttemptsError):
        proved_account(accounts, clock, password=GOOD, **told)


def test_a_disabled_account_is_out_at_once(accounts, clock):
    add_account(accounts, clock, name="Eve", roles=["office"], password=GOOD, actor=ACTOR)
    opened = comes_in(accounts, clock)
    amend_account(accounts, clock, name="Ada Quill", disabled=True, actor=ACTOR)
    assert recall_session(accounts, clock, opened.secret) is None
    amend_account(accounts, clock, name="Ada Quill", disabled=False, actor=ACTOR)
    assert recall_session(accounts, clock, opened.secret) is None
    comes_in(accounts, clock)


def test_a_crew_comes_in_by_pin_on_its_own_network(accounts, clock):
    opened = by_pin(accounts, clock, pin="482 195")
    assert (opened.account.name, set(opened.account.roles)) == ("Cy of the crew", {Role.DIVE_TEAM})
    assert opened.session.boat
    recalled = recall_session(accounts, clock, opened.secret)
    assert recalled is not None
    assert recalled.account == opened.account
    later(clock, hours=13)
    assert recall_session(accounts, clock, opened.secret) is None


@pytest.mark.parametrize("address", ["203.0.113.5", "2001:db8::1", "", "unknown", "100.64.0.1"])
def test_a_pin_is_nothing_elsewhere(accounts, clock, address):
    is_wrong(accounts, clock, way=by_pin, pin=PIN, address=address)
    assert accounts.sessions() == ()
    assert accounts.passwords.asked == []


def test_a_pin_does_not_lend_the_name_of_an_account(accounts, clock):
    for name in ("Ada Quill", "ADA QUILL"):
        with pytest.raises(AccessDeniedError, match="has an account"):
            by_pin(accounts, clock, name=name)
    # Only whoever knows the PIN is told that.
    is_wrong(accounts, clock, way=by_pin, name="Ada Quill")
    assert accounts.sign_ins()[0].outcome is Outcome.NAME_TAKEN


@pytest.mark.parametrize(
    ("name", "error"),
    [("", InvalidRecordError), ("482195", InvalidRecordError), ("Cy\u202e", UnprintableTextError)],
)
def test_a_crew_member_says_a_name(accounts, clock, name, error):
    with pytest.raises(error):
        by_pin(accounts, clock, name=name)
    assert accounts.sign_ins() == ()


def test_a_pin_has_stricter_limits(accounts, clock):
    for number in range(5):
        is_wrong(accounts, clock, way=by_pin, name=f"Cy {chr(97 + number)}")
    assert must_wait(accounts, clock, way=by_pin) == 900
    by_pin(accounts, clock, address="10.0.0.1")
    later(clock, minutes=15)
    for number in range(95):
        is_wrong(accounts, clock, way=by_pin, address=f"10.0.1.{number}")
    assert must_wait(accounts, clock, way=by_pin, address="10.0.2.1") == 86400 - 900
    # Nor does coming in forgive it: somebody of the crew may be the one who tries.
    comes_in(accounts, clock, address=BOAT)
    later(clock, hours=24)
    by_pin(accounts, clock)


def test_another_pin_ends_every_session_of_the_last_and_no_pin_lets_nobody_in(accounts, clock):
    opened, adas = by_pin(accounts, clock), comes_in(accounts, clock)
    set_boat_pin(accounts, clock, pin="730162", actor=ACTOR)
    assert recall_session(accounts, clock, opened.secret) is None
    assert recall_session(accounts, clock, adas.secret)
    is_wrong(accounts, clock, way=by_pin, pin=PIN)
    by_pin(accounts, clock, pin="730162")
    set_boat_pin(accounts, clock, pin=None, actor=ACTOR)
    is_wrong(accounts, clock, way=by_pin, pin="730162")
    with pytest.raises(InvalidRecordError):
        set_boat_pin(accounts, clock, pin="123456", actor=ACTOR)
    assert [deed.what for deed in accounts.deeds()][2:] == [
        "PIN of the boat set", "PIN of the boat set", "PIN of the boat cleared",
    ]  # fmt: skip


def test_nobody_is_added_twice_or_without_a_good_password(accounts, clock):
    with pytest.raises(ConflictError, match="Ada Quill"):
        add_account(accounts, clock, name="ADA QUILL", roles=["office"], password=GOOD, actor=ACTOR)
    changes: dict[str, Any]
    for changes in ({"password": "short"}, {"roles": []}, {"roles": ["captain"]}, {"name": "Cy\n"}):
        told: dict[str, Any] = {"name": "Cy", "roles": ["office"], "password": GOOD} | changes
        with pytest.raises((InvalidRecordError, UnprintableTextError)):
            add_account(accounts, clock, actor=ACTOR, **told)
    assert [account.name for account in accounts.accounts()] == ["Ada Quill", "Ben"]
    first = accounts.deeds()[0]
    assert (first.actor, first.what, first.about) == (ACTOR, "account added", "Ada Quill (office)")


def test_what_is_amended_is_noted_and_nothing_where_nothing_changed(accounts, clock):
    before = len(accounts.deeds())
    amend_account(accounts, clock, name="ben", actor=ACTOR)
    amend_account(accounts, clock, name="ben", actor=ACTOR, disabled=False, roles=["dive team"])
    assert len(accounts.deeds()) == before
    amend_account(accounts, clock, name="ben", actor=ACTOR, disabled=True, roles=["officer"])
    assert [deed.what for deed in accounts.deeds()[before:]] == ["roles changed", "account disabled"]
    with pytest.raises(NotFoundError):
        amend_account(accounts, clock, name="Cy", actor=ACTOR, disabled=True)
    assert replace(accounts.account("Ben"), disabled=False).roles == {"officer"}
