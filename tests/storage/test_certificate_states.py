"""What becomes of certificates and keys: the same by both registers, after a rebuild, and in any order."""

import base64
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.certificate import key_thumbprint
from registry.records.certificate_version import CertificateState, statement_digest
from registry.records.entry import Draft
from registry.records.programme_key import KeyEnd, public_key_bytes, public_key_text
from registry.storage.geopackage import create_registry
from registry.storage.replay import prove, rebuild_tables
from tests.builders import ACTOR, a_programme, a_stocked_registry, certificate_issued
from tests.fakes import FixedClock, MemoryRegister

ONE, TWO = "MC-0001", "MC-0002"


def withdrawal(number: str = ONE, reason: str = "the module was never set down") -> Draft:
    body = {"number": number, "tag": "MR-0001", "reason": reason}
    return Draft(kind="certificate.withdrawn", actor=ACTOR, body=body)


def duplicate(number: str = ONE, version: int = 1, count: int = 1) -> Draft:
    body = {
        "number": number,
        "version": version,
        "duplicate": count,
        "tag": "MR-0001",
        "statement": {"lat": "34.0", "duplicate": count},
        "pdf_sha256": "1" * 64,
    }
    return Draft(kind="certificate.duplicated", actor=ACTOR, body=body)


def rotation(number: int, replaces: str, ended: str = "retired", endorsement: str = "a.b.c") -> Draft:
    key = bytes([number]) * 32
    body = {
        "key_id": key_thumbprint(key),
        "public_key": public_key_text(key),
        "replaces": replaces,
        "ended": ended,
        "reason": "five years in use",
        "endorsement": endorsement,
    }
    return Draft(kind="key.rotated", actor=ACTOR, body=body)


@pytest.fixture(params=["geopackage", "memory"])
def register(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Register]:
    clock = FixedClock(step_s=1.0)
    if request.param == "memory":
        memory = MemoryRegister(a_programme(), actor=ACTOR, clock=clock)
        memory.append(a_stocked_registry())
        yield memory
        return
    with create_registry(tmp_path / "reef.gpkg", a_programme(), actor=ACTOR, clock=clock) as kept:
        kept.append(a_stocked_registry())
        yield kept
        before = (kept.certificate_versions(), kept.certificate_duplicates(), kept.signing_keys())
        assert prove(kept) == ()
        rebuild_tables(kept)
        assert (kept.certificate_versions(), kept.certificate_duplicates(), kept.signing_keys()) == before


def states(register: Register, number: str = ONE) -> list[str]:
    return [str(each.state) for each in register.certificate_versions() if each.number == number]


def test_a_later_version_supersedes_those_before_it_and_no_other_certificate(register: Register) -> None:
    register.append([certificate_issued(), certificate_issued(number=TWO, tag="MR-0002")])
    (entry,) = register.append([certificate_issued(version=2)])
    first, other, second = register.certificate_versions()
    assert [each.state for each in (first, other, second)] == ["superseded", "current", "current"]
    assert first.since == second.issued_at == second.since == entry.time
    assert first.issued_at < first.since
    assert [each.number for each in register.certificate_versions("MR-0002")] == [TWO]


def test_a_version_keeps_the_digest_of_what_it_states(register: Register) -> None:
    statement = {"lat": 34.0, "name": "Zoë Ångström-O'Hara"}
    register.append([certificate_issued(statement=statement, record={"module_type": "dome-120"})])
    (made,) = register.certificate_versions()
    assert made.statement_sha256 == statement_digest(statement)
    assert (made.memorial_name, made.module_type, made.observation) == (
        statement["name"],
        "dome-120",
        made.placement_id,
    )


def test_a_withdrawal_ends_every_version_and_a_later_one_stands_again(register: Register) -> None:
    register.append([certificate_issued(), certificate_issued(version=2)])
    (entry,) = register.append([withdrawal()])
    assert states(register) == ["withdrawn", "withdrawn"]
    assert {(each.since, each.reason) for each in register.certificate_versions()} == {
        (entry.time, "the module was never set down")
    }
    with pytest.raises(ConflictError, match="withdrawn before"):
        register.append([withdrawal()])
    register.append([certificate_issued(version=3)])
    assert states(register) == ["withdrawn", "withdrawn", "current"]
    register.append([withdrawal(reason="again")])
    assert [each.reason for each in register.certificate_versions()][1:] == [
        "the module was never set down",
        "again",
    ]


def test_nothing_is_withdrawn_or_duplicated_that_is_not_there(register: Register) -> None:
    register.append([certificate_issued()])
    head = register.head()
    for draft in (withdrawal(TWO), duplicate(TWO), duplicate(version=2)):
        with pytest.raises(NotFoundError):
            register.append([draft])
    assert register.head() == head


def test_duplicates_are_counted_for_each_version(register: Register) -> None:
    register.append([certificate_issued(), duplicate(), duplicate(count=2), certificate_issued(version=2)])
    register.append([duplicate(version=2)])
    made = register.certificate_duplicates()
    assert [(each["version"], each["duplicate"]) for each in made] == [(1, 1), (1, 2), (2, 1)]
    assert all(each["reference"] and each["time"].endswith("Z") for each in made)
    assert register.certificate_duplicates("MR-0002") == ()
    with pytest.raises(ConflictError, match="before"):
        register.append([duplicate(count=2)])


def test_keys_follow_each_other_and_the_old_public_ones_are_kept(register: Register) -> None:
    (first,) = register.signing_keys()
    assert (first.key_id, first.until, first.ended) == ("a-test-key", None, None)
    (one,) = register.append([rotation(1, "a-test-key")])
    second = one.content()["key_id"]
    (two,) = register.append([rotation(2, second, ended="stolen", endorsement="")])
    keys = register.signing_keys()
    assert [key.key_id for key in keys] == ["a-test-key", second, two.content()["key_id"]]
    assert [key.ended for key in keys] == [KeyEnd.RETIRED, KeyEnd.STOLEN, None]
    assert [key.until for key in keys] == [one.time, two.time, None]
    assert keys[1].since == one.time
    assert [key.endorsement for key in keys] == ["", "a.b.c", ""]
    assert keys[1].public_key == bytes([1]) * 32
    with pytest.raises(ConflictError, match="replaced before"):
        register.append([rotation(3, "a-test-key")])


def test_a_key_of_another_length_is_none() -> None:
    assert public_key_bytes(public_key_text(bytes(32))) == bytes(32)
    with pytest.raises(InvalidRecordError, match="3 bytes"):
        public_key_bytes("AAAA")
    with pytest.raises(InvalidRecordError, match="base64url"):
        public_key_bytes("A")
    assert base64.urlsafe_b64decode(public_key_text(bytes(range(32))) + "=") == bytes(range(32))


@given(st.lists(st.sampled_from(["issue one", "issue two", "withdraw one", "withdraw two"]), max_size=12))
def test_of_each_certificate_at_most_the_latest_version_is_current(acts: list[str]) -> None:
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    latest = {ONE: 0, TWO: 0}
    ended = {ONE: 0, TWO: 0}
    for act in acts:
        number = ONE if act.endswith("one") else TWO
        if act.startswith("issue"):
            latest[number] += 1
            register.append([certificate_issued(number=number, version=latest[number])])
        elif latest[number] > ended[number]:
            register.append([withdrawal(number)])
            ended[number] = latest[number]
        else:
            with pytest.raises((ConflictError, NotFoundError)):
                register.append([withdrawal(number)])
    for number, last in latest.items():
        assert states(register, number) == [
            CertificateState.WITHDRAWN
            if version <= ended[number]
            else CertificateState.CURRENT
            if version == last
            else CertificateState.SUPERSEDED
            for version in range(1, last + 1)
        ]
