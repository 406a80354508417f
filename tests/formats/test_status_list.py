"""A published list is proved by a key that is trusted, or by one that it vouches for; by no other."""

import base64
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, RejectedError
from registry.formats.signed_statement import sign
from registry.formats.status_list import read_status_list, write_status_list
from registry.records.certificate import certificate_number, key_thumbprint
from registry.records.certificate_version import CertificateState
from registry.records.programme_key import KeyEnd, ProgrammeKey, endorsement_of
from registry.records.status_list import (
    ListedVersion,
    StatusList,
    status_list_body,
    status_list_from_body,
)

PROGRAMME = "Marram Coast Memorial Reefs"
BEGAN = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)


class Key:
    """A signer that holds a private key in memory."""

    def __init__(self, number: int) -> None:
        self._private = Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)
        self.public = self._private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        self.key_id = key_thumbprint(self.public)

    def sign(self, message: bytes) -> bytes:
        return self._private.sign(message)


ONE, TWO, THREE, OTHER = Key(1), Key(2), Key(3), Key(9)


def chain(*signers: Key, ended: KeyEnd = KeyEnd.RETIRED) -> tuple[ProgrammeKey, ...]:
    """Let keys follow each other, each vouched for by the one before unless that is gone."""
    keys = []
    for place, signer in enumerate(signers):
        vouched = ""
        if place and ended is KeyEnd.RETIRED:
            before = signers[place - 1]
            vouched = sign(
                endorsement_of(
                    PROGRAMME, replaces=before.key_id, key_id=signer.key_id, public_key=signer.public
                ),
                before,
            )
        last = place == len(signers) - 1
        keys.append(
            ProgrammeKey(
                key_id=signer.key_id,
                public_key=signer.public,
                since=BEGAN + timedelta(days=place),
                until=None if last else BEGAN + timedelta(days=place + 1),
                ended=None if last else ended,
                endorsement=vouched,
            )
        )
    return tuple(keys)


def a_list(*signers: Key, ended: KeyEnd = KeyEnd.RETIRED, **changes: object) -> StatusList:
    status = StatusList(
        programme=PROGRAMME,
        made_at=BEGAN,
        renew_by=date(2027, 3, 1),
        serial=17,
        keys=chain(*(signers or (ONE,)), ended=ended),
        versions=(
            ListedVersion(
                number=certificate_number("MCMR", 2026, 1),
                version=1,
                state=CertificateState.SUPERSEDED,
                since=date(2026, 11, 24),
                statements=("0" * 64, "1" * 64),
            ),
            ListedVersion(
                number=certificate_number("MCMR", 2026, 1),
                version=2,
                state=CertificateState.CURRENT,
                since=date(2026, 11, 24),
                statements=("2" * 64,),
            ),
        ),
    )
    return replace(status, **changes)  # type: ignore[arg-type]


def trusting(*keys: Key) -> dict[str, bytes]:
    return {key.key_id: key.public for key in keys}


def test_what_is_written_is_read_back() -> None:
    text = write_status_list(a_list(), ONE)
    assert read_status_list(text, trusting(ONE)) == a_list()
    assert read_status_list("\ufeff" + text[:40] + "\r\n" + text[40:] + "\n", trusting(ONE)) == a_list()


@given(
    st.lists(st.tuples(st.integers(1, 999), st.sampled_from(list(CertificateState))), max_size=8),
    st.integers(0, 10**9),
)
def test_every_list_comes_back(rows: list[tuple[int, CertificateState]], serial: int) -> None:
    counted: dict[int, int] = {}
    versions = []
    for number, state in sorted(rows, key=lambda row: row[0]):
        counted[number] = counted.get(number, 0) + 1
        versions.append(
            ListedVersion(
                number=certificate_number("MCMR", 2026, number),
                version=counted[number],
                state=state,
                since=date(2026, 11, 24),
                statements=(f"{number:064x}",),
            )
        )
    status = a_list(serial=serial, versions=tuple(versions))
    assert status_list_from_body(json.loads(json.dumps(status_list_body(status)))) == status


def test_a_list_with_another_key_is_none() -> None:
    text = write_status_list(a_list(OTHER), OTHER)
    with pytest.raises(RejectedError, match="no key that is trusted here leads"):
        read_status_list(text, trusting(ONE))


def test_a_list_that_claims_the_key_and_was_signed_with_another_is_none() -> None:
    forged = sign(status_list_body(a_list()), OTHER)
    head, payload, signature = forged.split(".")
    named = base64.urlsafe_b64encode(f'{{"alg":"EdDSA","kid":"{ONE.key_id}"}}'.encode()).rstrip(b"=").decode()
    with pytest.raises(RejectedError, match="no key that is trusted"):
        read_status_list(forged, trusting(ONE))
    with pytest.raises(RejectedError, match="changed after signing"):
        read_status_list(f"{named}.{payload}.{signature}", trusting(ONE))
    assert head != named


@settings(max_examples=300)
@given(st.data())
def test_every_changed_character_is_found(data: st.DataObject) -> None:
    text = write_status_list(a_list(), ONE)
    place = data.draw(st.integers(0, len(text) - 1))
    other = data.draw(st.sampled_from("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.=é"))
    if other != text[place]:
        with pytest.raises(RejectedError):
            read_status_list(text[:place] + other + text[place + 1 :], trusting(ONE))


def test_a_retired_key_leads_on_to_the_list_of_decades_later() -> None:
    status = a_list(ONE, TWO, THREE)
    text = write_status_list(status, THREE)
    assert read_status_list(text, trusting(ONE)) == status
    assert read_status_list(text, trusting(THREE)) == status


@pytest.mark.parametrize("ended", [KeyEnd.LOST, KeyEnd.STOLEN])
def test_a_key_that_is_gone_leads_nowhere(ended: KeyEnd) -> None:
    text = write_status_list(a_list(ONE, TWO, ended=ended), TWO)
    with pytest.raises(RejectedError, match="compare the name"):
        read_status_list(text, trusting(ONE))
    assert read_status_list(text, trusting(TWO))


def test_a_stolen_key_cannot_vouch_even_where_the_thief_signs() -> None:
    honest = chain(ONE, TWO)
    stolen = (replace(honest[0], ended=KeyEnd.STOLEN), honest[1])
    with pytest.raises(RejectedError):
        read_status_list(write_status_list(a_list(keys=stolen), TWO), trusting(ONE))


@pytest.mark.parametrize("wrong", ["another key", "another programme", "another signer", "nonsense", ""])
def test_a_word_for_something_else_leads_nowhere(wrong: str) -> None:
    signer, key, programme = ONE, TWO, PROGRAMME
    if wrong == "another key":
        key = OTHER
    elif wrong == "another programme":
        programme = "Another"
    elif wrong == "another signer":
        signer = OTHER
    word = sign(
        endorsement_of(programme, replaces=ONE.key_id, key_id=key.key_id, public_key=key.public), signer
    )
    if wrong in ("nonsense", ""):
        word = wrong
    keys = chain(ONE, TWO)
    with pytest.raises(RejectedError):
        read_status_list(
            write_status_list(a_list(keys=(keys[0], replace(keys[1], endorsement=word))), TWO), trusting(ONE)
        )


def test_a_key_under_the_name_of_another_leads_nowhere() -> None:
    """The name of the new key is vouched for, its bytes are those of somebody else."""
    word = sign(
        endorsement_of(PROGRAMME, replaces=ONE.key_id, key_id=TWO.key_id, public_key=OTHER.public), ONE
    )
    keys = chain(ONE, TWO)
    wrong = replace(keys[1], public_key=OTHER.public, endorsement=word)
    with pytest.raises(RejectedError):
        read_status_list(write_status_list(a_list(keys=(keys[0], wrong)), TWO), trusting(ONE))


def test_an_old_key_does_not_sign_a_new_list() -> None:
    """Whoever kept a retired key could make a list of today: the list must be signed with its last key."""
    status = a_list(ONE, TWO)
    with pytest.raises(InvalidRecordError, match="to be signed with"):
        write_status_list(status, ONE)
    with pytest.raises(RejectedError, match="not signed with the key that it says is in use"):
        read_status_list(sign(status_list_body(status), ONE), trusting(ONE))


@pytest.mark.parametrize(
    "body",
    [
        {"certificate": "MCMR-2026-000017-85"},
        {},
        status_list_body(a_list()) | {"form": 2},
        status_list_body(a_list()) | {"certificates": {"X": [{"state": "gone"}]}},
        status_list_body(a_list()) | {"keys": []},
        status_list_body(a_list()) | {"made": "yesterday"},
    ],
    ids=["a certificate", "nothing", "a later form", "no such state", "no keys", "no instant"],
)
def test_what_is_no_list_is_told(body: dict) -> None:
    with pytest.raises(RejectedError):
        read_status_list(sign(body, ONE), trusting(ONE))


@pytest.mark.parametrize("text", ["", "abc", "a.b.c", "é", "e30.e30.e30"])
def test_what_is_not_signed_is_told(text: str) -> None:
    with pytest.raises(RejectedError):
        read_status_list(text, trusting(ONE))
