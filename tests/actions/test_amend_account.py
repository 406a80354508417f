"""Somebody can always come in as office; and whoever changes their password proves the old one."""

import pytest

from registry.actions.add_account import add_account
from registry.actions.amend_account import amend_account
from registry.actions.change_password import change_own_password
from registry.actions.recall_session import recall_session
from registry.actions.sign_in import sign_in
from registry.errors import AccessDeniedError, ConflictError, InvalidRecordError, TooManyAttemptsError
from registry.records.access_trail import Outcome
from tests.builders import ACTOR
from tests.fakes import FixedClock
from tests.memory_accounts import MemoryAccounts

GOOD, BETTER, HERE = "seven gannets over grey water", "nine terns above the outer bar", "192.0.2.7"


@pytest.fixture
def clock():
    return FixedClock()


@pytest.fixture
def accounts(clock):
    accounts = MemoryAccounts()
    add_account(accounts, clock, name="Ada", roles=["office", "officer"], password=GOOD, actor=ACTOR)
    add_account(accounts, clock, name="Ben", roles=["dive team"], password=GOOD, actor=ACTOR)
    return accounts


@pytest.mark.parametrize("change", [{"disabled": True}, {"roles": ["officer"]}])
def test_the_last_who_runs_the_office_stays(accounts, clock, change):
    before = accounts.accounts()
    with pytest.raises(ConflictError, match="the last who can come in as office"):
        amend_account(accounts, clock, name="ADA", actor=ACTOR, **change)
    assert accounts.accounts() == before


@pytest.mark.parametrize("change", [{"disabled": True}, {"roles": ["officer"]}])
def test_one_of_two_may_go_but_not_both(accounts, clock, change):
    add_account(accounts, clock, name="Eve", roles=["office"], password=GOOD, actor=ACTOR)
    amend_account(accounts, clock, name="Ada", actor=ACTOR, **change)
    with pytest.raises(ConflictError):
        amend_account(accounts, clock, name="Eve", actor=ACTOR, **change)


def test_a_disabled_colleague_does_not_count(accounts, clock):
    add_account(accounts, clock, name="Eve", roles=["office"], password=GOOD, actor=ACTOR)
    amend_account(accounts, clock, name="Eve", actor=ACTOR, disabled=True)
    with pytest.raises(ConflictError):
        amend_account(accounts, clock, name="Ada", actor=ACTOR, disabled=True)
    amend_account(accounts, clock, name="Eve", actor=ACTOR, roles=["officer"])


def test_others_may_go(accounts, clock):
    assert amend_account(accounts, clock, name="Ben", actor=ACTOR, disabled=True).disabled


def came_in(accounts, clock, password=GOOD):
    return sign_in(accounts, clock, name="Ada", password=password, address=HERE).secret


def test_ones_own_password_is_changed_and_other_sessions_end(accounts, clock):
    mine, other = came_in(accounts, clock), came_in(accounts, clock)
    change_own_password(accounts, clock, name="Ada", old=GOOD, new=BETTER, address=HERE, keep=mine)
    assert recall_session(accounts, clock, mine) is not None
    assert recall_session(accounts, clock, other) is None
    assert came_in(accounts, clock, BETTER)
    with pytest.raises(AccessDeniedError):
        came_in(accounts, clock, GOOD)
    assert accounts.sign_ins()[2].outcome is Outcome.OPENED


def test_the_old_one_is_proved_and_guesses_are_counted(accounts, clock):
    told = {"name": "Ada", "new": BETTER, "address": HERE}
    refused = []
    for _ in range(50):
        with pytest.raises(AccessDeniedError) as error:
            change_own_password(accounts, clock, old="not the one", **told)
        refused.append(type(error.value))
    assert refused[0] is AccessDeniedError
    assert refused[-1] is TooManyAttemptsError
    assert not [deed for deed in accounts.deeds() if deed.what == "password changed"]


def test_a_poor_new_one_is_refused_and_the_old_one_stays(accounts, clock):
    with pytest.raises(InvalidRecordError):
        change_own_password(accounts, clock, name="Ada", old=GOOD, new="reef", address=HERE)
    assert came_in(accounts, clock)
