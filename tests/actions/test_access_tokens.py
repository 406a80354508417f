"""Tokens of the HTTP interface and links of families: shown once, kept as digests, ended at once."""

from datetime import timedelta

import pytest

from registry.actions.add_token import add_token
from registry.actions.open_family_link import open_family_link
from registry.actions.recall_family_link import recall_family_link
from registry.actions.recall_token import recall_token
from registry.actions.revoke_family_link import revoke_family_link
from registry.actions.revoke_token import revoke_token
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, UnprintableTextError
from registry.records.secret_digest import digest_of_secret
from tests.actions.stocked import a_register
from tests.builders import ACTOR, a_memorial, a_module
from tests.fakes import FixedClock
from tests.memory_accounts import MemoryAccounts

YEAR = timedelta(days=365)


@pytest.fixture
def clock() -> FixedClock:
    return FixedClock()


@pytest.fixture
def accounts() -> MemoryAccounts:
    return MemoryAccounts()


@pytest.fixture
def register():
    return a_register(modules=[a_module(tag="MR-0001", memorial=a_memorial()), a_module(tag="MR-0003")])


def made(accounts, clock, label="chart office", scopes=("public:read",), lasts=YEAR):
    return add_token(
        accounts, clock, label=label, scopes=scopes, expires_at=clock.instant + lasts, actor=ACTOR
    )


def test_a_token_is_recalled_by_its_secret_alone(accounts, clock):
    one = made(accounts, clock, scopes=["public:read", "placements:write"])
    assert one.secret.startswith("leadline_")
    assert one.secret not in repr(one)
    token = recall_token(accounts, clock, one.secret)
    assert token is not None
    assert (token.label, sorted(token.scopes)) == ("chart office", ["placements:write", "public:read"])
    assert token.digest == digest_of_secret(one.secret)
    for other in (
        "",
        token.digest,
        token.token_id,
        one.secret[:-1],
        one.secret.removeprefix("leadline_"),
        "\ud800",
    ):
        assert recall_token(accounts, clock, other) is None


def test_a_token_ends_with_its_time_and_when_it_is_revoked(accounts, clock):
    one, two = made(accounts, clock), made(accounts, clock, label="weather buoy")
    assert revoke_token(accounts, clock, token="weather buoy", actor=ACTOR).revoked_at == clock.instant
    assert recall_token(accounts, clock, two.secret) is None
    clock.instant += YEAR
    assert recall_token(accounts, clock, one.secret) is None
    again = revoke_token(accounts, clock, token=two.token.token_id, actor=ACTOR)
    assert again.revoked_at == clock.instant - YEAR
    assert [(deed.actor, deed.what) for deed in accounts.deeds()] == [
        (ACTOR, "token added"), (ACTOR, "token added"), (ACTOR, "token revoked"),
    ]  # fmt: skip
    with pytest.raises(NotFoundError, match="No token is valid"):
        revoke_token(accounts, clock, token="x", actor=ACTOR)


def test_a_label_names_one_valid_token(accounts, clock):
    one = made(accounts, clock)
    with pytest.raises(ConflictError):
        made(accounts, clock)
    with pytest.raises(NotFoundError, match="chart office"):
        revoke_token(accounts, clock, token="x", actor=ACTOR)
    revoke_token(accounts, clock, token=one.token.token_id, actor=ACTOR)
    two = made(accounts, clock)
    assert recall_token(accounts, clock, two.secret)


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"label": ""}, InvalidRecordError),
        ({"label": "x\ny"}, UnprintableTextError),
        ({"scopes": []}, InvalidRecordError),
        ({"scopes": ["everything"]}, InvalidRecordError),
        ({"lasts": timedelta(0)}, InvalidRecordError),
    ],
)
def test_a_token_that_cannot_be_meant_is_refused(accounts, clock, changes, error):
    with pytest.raises(error):
        made(accounts, clock, **changes)
    assert accounts.tokens() == ()
    assert accounts.deeds() == ()


def test_a_family_comes_by_its_link(register, accounts, clock):
    head = register.head()
    one = open_family_link(register, accounts, clock, tag="MR-0001", actor=ACTOR)
    ends = clock.instant + YEAR
    two = open_family_link(register, accounts, clock, tag="MR-0001", actor=ACTOR, expires_at=ends)
    assert one.path == f"/family/{one.secret}"
    assert one.secret not in repr(one)
    assert [recall_family_link(accounts, clock, each.secret) for each in (one, two)] == ["MR-0001"] * 2
    for other in ("", "MR-0001", one.link.digest, one.secret + "x"):
        assert recall_family_link(accounts, clock, other) is None
    clock.instant = ends
    assert [recall_family_link(accounts, clock, each.secret) for each in (one, two)] == ["MR-0001", None]
    assert revoke_family_link(accounts, clock, tag="MR-0001", actor=ACTOR) == 1
    assert recall_family_link(accounts, clock, one.secret) is None
    assert register.head() == head


def test_a_link_of_nobody_is_refused(register, accounts, clock):
    for tag, said in (("MR-0009", "MR-0009"), ("MR-0003", "remembers nobody")):
        with pytest.raises(NotFoundError, match=said):
            open_family_link(register, accounts, clock, tag=tag, actor=ACTOR)
    with pytest.raises(InvalidRecordError, match="already"):
        open_family_link(register, accounts, clock, tag="MR-0001", actor=ACTOR, expires_at=clock.instant)
    with pytest.raises(NotFoundError, match="No link"):
        revoke_family_link(accounts, clock, tag="MR-0001", actor=ACTOR)
    assert accounts.family_links() == ()
