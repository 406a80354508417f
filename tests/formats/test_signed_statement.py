"""Signed statements hold against the published vector and against every changed character."""

import base64
import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from registry.errors import InvalidRecordError, RejectedError
from registry.formats.signed_statement import key_id_of, sign, verify
from registry.records.certificate import key_thumbprint

# RFC 8037, Appendix A.1 to A.4 (from memory; the signature and the thumbprint are computed anew below and agree).
RFC_D = "nWGxne_9WmC6hEr0kuwsxERJxWl7MmkZcDusAxyuf2A"
RFC_X = "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"
RFC_THUMBPRINT = "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
RFC_JWS = (
    "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc.hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhij"
    "cNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
)
URL_ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"


def decoded(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def encoded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


class Key:
    """A signer that holds a private key in memory."""

    def __init__(self, private: bytes) -> None:
        self._private = Ed25519PrivateKey.from_private_bytes(private)
        self.public = self._private.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)

    @property
    def key_id(self) -> str:
        return key_thumbprint(self.public)

    def sign(self, message: bytes) -> bytes:
        return self._private.sign(message)


KEY = Key(decoded(RFC_D))
TRUSTED = {KEY.key_id: KEY.public}
STATEMENT = {"name": "Nguyễn Thị Phương", "lat": 34.019277, "depth_m": None, "version": 1}


def test_key_and_signature_of_rfc_8037() -> None:
    signed, _, signature = RFC_JWS.rpartition(".")
    assert KEY.public == decoded(RFC_X)
    assert key_thumbprint(KEY.public) == RFC_THUMBPRINT
    assert encoded(KEY.sign(signed.encode())) == signature


def test_key_of_another_length_has_no_name() -> None:
    with pytest.raises(InvalidRecordError, match="31 bytes"):
        key_thumbprint(bytes(31))


def test_what_is_signed_comes_back() -> None:
    text = sign(STATEMENT, KEY)
    assert verify(text, TRUSTED) == STATEMENT
    assert key_id_of(text) == RFC_THUMBPRINT
    header, payload, signature = (decoded(part) for part in text.split("."))
    assert json.loads(header) == {"alg": "EdDSA", "kid": RFC_THUMBPRINT}
    assert json.loads(payload) == STATEMENT
    assert len(signature) == 64
    assert sign(STATEMENT, KEY) == text


def test_every_changed_character_is_found() -> None:
    text = sign({"a": 1, "bc": "é"}, KEY)
    for i, char in enumerate(text):
        near = URL_ALPHABET[(URL_ALPHABET.find(char) + 1) % 64]
        far = URL_ALPHABET[(URL_ALPHABET.find(char) + 33) % 64]
        for other in (near, far, "A", "_", "=", " ", "\n", ".", "é", "+", "/", ""):
            if other != char:
                with pytest.raises(RejectedError):
                    verify(text[:i] + other + text[i + 1 :], TRUSTED)
        for more in ("A", "=", " ", "\n", "."):
            with pytest.raises(RejectedError):
                verify(text[:i] + more + text[i:], TRUSTED)


@pytest.mark.parametrize("payload", [{"a": 1}, {"a": 12}, {"a": 123}], ids=["2 mod 3", "0 mod 3", "1 mod 3"])
def test_every_other_last_character_is_found(payload: dict) -> None:
    """Base64 spells a last group in several ways where its spare bits are ignored."""
    text = sign(payload, KEY)
    ends = [i - 1 for i, char in enumerate(text + ".") if char == "."]
    for end in ends:
        for other in set(URL_ALPHABET) - {text[end]}:
            with pytest.raises(RejectedError):
                verify(text[:end] + other + text[end + 1 :], TRUSTED)


@pytest.mark.parametrize("end", ["=", "==", "\n", " ", ".", "\x00"])
def test_nothing_may_be_appended(end: str) -> None:
    with pytest.raises(RejectedError):
        verify(sign(STATEMENT, KEY) + end, TRUSTED)


def test_an_unknown_key_is_told_from_a_bad_signature() -> None:
    other = Key(bytes(range(32)))
    text = sign(STATEMENT, other)
    with pytest.raises(RejectedError, match="not known here") as unknown:
        verify(text, TRUSTED)
    assert other.key_id in str(unknown.value)
    with pytest.raises(RejectedError, match="changed after signing"):
        verify(text, {other.key_id: KEY.public})


@pytest.mark.parametrize(
    ("header", "payload"),
    [
        ('{"alg":"EdDSA", "kid":"%s"}', '{"a":1}'),
        ('{"kid":"%s","alg":"EdDSA"}', '{"a":1}'),
        ('{"alg":"EdDSA","b64":false,"kid":"%s"}', '{"a":1}'),
        ('{"alg":"EdDSA","kid":"%s"}', '{"a": 1}'),
        ('{"alg":"EdDSA","kid":"%s"}', '{"a":1,"a":1}'),
        ('{"alg":"EdDSA","kid":"%s"}', '{"b":1,"a":1}'),
    ],
)
def test_only_the_one_form_is_accepted_even_when_signed(header: str, payload: str) -> None:
    signed = f"{encoded((header % KEY.key_id).encode())}.{encoded(payload.encode())}"
    with pytest.raises(RejectedError, match="one form"):
        verify(f"{signed}.{encoded(KEY.sign(signed.encode()))}", TRUSTED)


@pytest.mark.parametrize(
    "header",
    [
        '{"alg":"none","kid":"%s"}',
        '{"alg":"HS256","kid":"%s"}',
        '{"alg":"EdDSA"}',
        '{"alg":"EdDSA","kid":7}',
        "[]",
        "{",
    ],
)
def test_another_algorithm_or_no_key_is_refused(header: str) -> None:
    head = header.replace("%s", KEY.key_id).encode()
    signed = f"{encoded(head)}.{encoded(b'{}')}"
    with pytest.raises(RejectedError):
        verify(f"{signed}.{encoded(KEY.sign(signed.encode()))}", TRUSTED)


@pytest.mark.parametrize("text", ["", "abc", "a.b", "..", "a.b.c.d", "é.é.é", RFC_JWS])
def test_what_is_not_a_statement_is_told_plainly(text: str) -> None:
    with pytest.raises(RejectedError, match="statement"):
        verify(text, TRUSTED)


def test_numbers_that_json_cannot_hold_are_not_signed() -> None:
    with pytest.raises(InvalidRecordError):
        sign({"a": float("nan")}, KEY)
