"""Accounts, sessions, tokens and links: what cannot be meant is refused, and each lives as long as it may."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, UnprintableTextError
from registry.records.access_token import SCOPES, Scope, Token, read_scopes
from registry.records.access_trail import Deed, Outcome, SignIn, Way
from registry.records.account import ROLES, Account, BoatPin, Role, Session, name_key, read_roles
from registry.records.family_link import FamilyLink
from registry.records.network_address import is_local, neighbourhood
from registry.records.new_password import checked_password, checked_pin
from registry.records.secret_digest import digest_of_secret
from tests.builders import NOON

NAIVE = datetime(2026, 6, 1, 12, 0)  # noqa: DTZ001 - what must be refused
ADA = Account(name="Ada Quill", roles=frozenset({Role.OFFICE}), made_at=NOON)
SESSION = Session(
    digest="d", account="Ada", opened_at=NOON, last_seen=NOON, expires_at=NOON + timedelta(days=14), csrf="c"
)
TOKEN = Token(
    token_id="0a", label="chart office", digest="d", scopes=frozenset({Scope.PUBLIC_READ}), made_by="Ada",
    made_at=NOON, expires_at=NOON + timedelta(days=1),
)  # fmt: skip
LINK = FamilyLink(tag="MR-0001", digest="d", made_by="Ada", made_at=NOON)


def test_every_role_and_scope_is_told_in_a_sentence():
    assert set(ROLES) == set(Role)
    assert set(SCOPES) == set(Scope)
    assert all(text.endswith(".") for text in (*ROLES.values(), *SCOPES.values()))
    assert {*Role} == {"office", "dive team", "officer"}
    assert {*Scope} == {"public:read", "register:read", "placements:write", "office:write"}


def test_roles_and_scopes_are_read_as_typed_and_others_refused():
    assert read_roles(["dive-team", " OFFICE "]) == {"dive team", "office"}
    assert read_scopes(["public:read"]) == {"public:read"}
    for read in (read_roles, read_scopes):
        with pytest.raises(InvalidRecordError, match="'captain' is no"):
            read(["captain"])
        with pytest.raises(InvalidRecordError, match="is given"):
            read([])


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"name": ""}, InvalidRecordError),
        ({"name": " Ada"}, InvalidRecordError),
        ({"name": "A" * 81}, InvalidRecordError),
        ({"name": "Ada\u202eQuill"}, UnprintableTextError),
        ({"name": "Ada\nQuill"}, UnprintableTextError),
        ({"roles": frozenset()}, InvalidRecordError),
        ({"roles": frozenset({"office"})}, InvalidRecordError),
        ({"made_at": NAIVE}, InvalidRecordError),
        ({"password_set_at": NAIVE}, InvalidRecordError),
    ],
)
def test_an_account_that_cannot_be_meant_is_refused(changes, error):
    with pytest.raises(error):
        replace(ADA, **changes)


@pytest.mark.parametrize(
    "make",
    [
        lambda: replace(SESSION, last_seen=NAIVE),
        lambda: replace(TOKEN, expires_at=NAIVE),
        lambda: replace(TOKEN, scopes=frozenset()),
        lambda: replace(TOKEN, label=""),
        lambda: replace(LINK, expires_at=NAIVE),
        lambda: replace(LINK, tag=" "),
        lambda: BoatPin(pin_hash="x", set_at=NAIVE, set_by="Ada"),
        lambda: Deed(time=NAIVE, actor="Ada", what="x", about="y"),
        lambda: SignIn(time=NAIVE, name="x", address="::1", way=Way.PIN, outcome=Outcome.WRONG),
    ],
)
def test_others_that_cannot_be_meant_are_refused(make):
    with pytest.raises(InvalidRecordError):
        make()


def test_nothing_secret_shows_when_a_record_is_printed():
    shown = repr((replace(ADA, password_hash="$argon2id$x"), replace(SESSION, digest="5ec", csrf="5ec2")))
    shown += repr((replace(TOKEN, digest="5ec"), replace(LINK, digest="5ec")))
    shown += repr(BoatPin(pin_hash="$argon2id$x", set_at=NOON, set_by="Ada"))
    assert "5ec" not in shown
    assert "argon2" not in shown


@pytest.mark.parametrize(
    ("roles", "idle", "absolute"),
    [
        ({"dive team"}, timedelta(hours=12), timedelta(days=14)),
        ({"officer"}, timedelta(hours=1), timedelta(hours=12)),
        ({"office", "dive team"}, timedelta(hours=1), timedelta(hours=12)),
    ],
)
def test_a_session_lives_as_long_as_its_roles_allow(roles, idle, absolute):
    moment = timedelta(milliseconds=1)
    assert SESSION.alive(NOON + idle - moment, roles)
    assert not SESSION.alive(NOON + idle, roles)
    used = replace(SESSION, last_seen=NOON + absolute - moment)
    assert used.alive(NOON + absolute - moment, roles)
    assert not used.alive(NOON + absolute, roles)


@given(after=st.timedeltas(min_value=timedelta(0), max_value=timedelta(days=800)))
def test_a_token_and_a_link_end_at_their_instant_and_never_after_they_were_revoked(after):
    end = NOON + timedelta(days=400)
    now = NOON + after
    for each in (replace(TOKEN, expires_at=end), replace(LINK, expires_at=end)):
        assert each.valid(now) == (now < end)
        assert not replace(each, revoked_at=NOON).valid(now)
    assert LINK.valid(now)


def test_names_that_would_be_taken_for_one_another_are_one():
    assert (
        len({name_key(name) for name in ("Ada Quill", "ADA  QUILL", "ａｄａ quill", "Ada\u00a0Quill")}) == 1
    )
    assert name_key("Zoe\u0308") == name_key("ZO\u00cb")
    assert name_key("Ada Quill") != name_key("Ada Quills")


@pytest.mark.parametrize(
    "password",
    [
        "seven gannets over",
        "8391 2847 5510",
        "Ölfässer im Watt",
        "海の底に静かに眠る祖母へ手紙",
        "correct horse battery",
        "x9!kQ2#vLp0z",
    ],
)
def test_a_password_may_be_anything_long(password):
    assert checked_password(password, name="Ada Quill")


@pytest.mark.parametrize(
    "password",
    [
        "", "short", "elevenchars", "a" * 40, "abababababab", "123456789012", "098765432109", "abcdefghijklmnop",
        "qwertyuiop123456", "Ada Quill 2026", "adaquill2026!", "LEADLINE2026", "passwordpassword", "Password123456",
        "x" * 513, "letmein letmein", "\ud800" * 3 + "seven gannets over",
    ],
)  # fmt: skip
def test_a_password_that_somebody_would_try_first_is_refused_without_quoting_it(password):
    with pytest.raises(InvalidRecordError) as told:
        checked_password(password, name="Ada Quill")
    assert not password or password not in str(told.value)


def test_length_is_counted_as_it_is_hashed():
    # One ligature is two letters once it is normalised (Unicode UAX 15, NFKC: U+FB01 is "fi").
    assert checked_password("\ufb01sh and crane", name="Ada") == "fish and crane"


@pytest.mark.parametrize("pin", ["482195", "4821 95", "１９４７３８", "90210777"])
def test_a_pin_of_digits_is_taken(pin):
    assert checked_pin(pin).isdigit()


@pytest.mark.parametrize(
    "pin",
    ["", "48219", "48219a", "000000", "112112", "123456", "987654", "121212", "٤٨٢١٩٥x", "4" * 21, "①②③④⑤⑥x"],
)
def test_a_pin_that_somebody_would_try_first_is_refused(pin):
    with pytest.raises(InvalidRecordError):
        checked_pin(pin)


@pytest.mark.parametrize(
    ("address", "local"),
    [
        # RFC 1918, RFC 3927, RFC 4193, RFC 4291: first and last of each, and their neighbours.
        ("10.0.0.0", True), ("10.255.255.255", True), ("11.0.0.0", False), ("172.15.255.255", False),
        ("172.16.0.0", True), ("172.31.255.255", True), ("172.32.0.0", False), ("192.168.0.0", True),
        ("192.169.0.0", False), ("169.254.1.1", True), ("127.0.0.1", True), ("::1", True), ("fc00::", True),
        ("fdff::1", True), ("fe00::", False), ("fe80::1%eth0", True), ("2001:db8::1", False),
        ("::ffff:192.168.1.1", True), ("::ffff:8.8.8.8", False), ("100.64.0.1", False), ("0.0.0.0", False),
        ("", False), ("localhost", False), ("unknown", False),
    ],
)  # fmt: skip
def test_an_address_is_local_where_no_router_leads_on(address, local):
    assert is_local(address) is local


def test_attempts_are_counted_by_whoever_has_the_address():
    assert neighbourhood("192.0.2.7") == neighbourhood("::ffff:192.0.2.7") != neighbourhood("192.0.2.8")
    assert neighbourhood("2001:db8:0:1::5") == neighbourhood("2001:db8:0:1:ffff::") == "2001:db8:0:1::/64"
    assert neighbourhood("2001:db8:0:2::5") != neighbourhood("2001:db8:0:1::5")
    assert neighbourhood("fe80::1%eth0") == neighbourhood("fe80::2%eth1")
    assert neighbourhood("unknown") == "unknown"


def test_a_secret_is_kept_as_its_sha_256():
    # FIPS 180-4, the two-block message of its examples.
    text = "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"
    assert digest_of_secret(text) == "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    assert NOON.tzinfo is UTC


@pytest.mark.parametrize(
    "name", ["family of MC-0001", "Family  of MC-0001", "yard (token 1)", "Yard (TOKEN 1)"]
)
def test_nobody_bears_the_name_of_a_family_or_a_program(name):
    """The journal names them so: a person's deeds must not be taken for theirs."""
    with pytest.raises(InvalidRecordError, match="family or a program"):
        Account(name=name, roles=frozenset({Role.OFFICE}), made_at=datetime(2026, 6, 14, tzinfo=UTC))
