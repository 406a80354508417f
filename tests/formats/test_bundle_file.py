"""Bundles as files: every byte counts, and nothing hostile gets further than a clear error."""

import hashlib
import json
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import InvalidRecordError, LeadlineError, NewerRegistryError, UnreadableFileError
from registry.formats import bundle_file
from registry.formats.bundle_file import looks_like_bundle, read_bundle, write_bundle
from registry.formats.signed_statement import payload_of, sign
from registry.records.bundle import Bundle
from registry.records.device import Device
from registry.records.entry import GENESIS, Draft, Entry, canonical_json, digest_of, seal
from registry.records.programme_key import public_key_text
from registry.storage.keys import SigningKey, create_key
from tests.builders import ACTOR, NOON
from tests.fakes import FakeSigner


@pytest.fixture(scope="module")
def key(tmp_path_factory) -> SigningKey:
    return create_key(tmp_path_factory.mktemp("keys"))


def entries(count: int, origin: str = "b0a7b0a7") -> tuple[Entry, ...]:
    made: list[Entry] = []
    for n in range(count):
        previous = made[-1].digest if made else GENESIS
        draft = Draft(
            kind="intake.read", actor=ACTOR, body={"file": f"Möwe {n}.csv", "name": "../../etc/passwd"}
        )
        made.append(seal(draft, origin=origin, sequence=n + 1, time=NOON, previous=previous))
    return tuple(made)


def a_bundle(key: SigningKey) -> Bundle:
    return Bundle(
        programme="Marram Coast Memorial Reefs",
        registry="0badcafe",
        founded="ab" * 32,
        sender=Device(
            origin="b0a7b0a7",
            name="Petrel",
            key_id=key.key_id,
            public_key=public_key_text(key.public_key),
        ),
        made_at="2026-06-01T16:00:00.000Z",
        held={"b0a7b0a7": 3},
        entries=entries(3),
    )


@pytest.fixture(scope="module")
def data(key) -> bytes:
    return write_bundle(a_bundle(key), key)


def resigned(key: SigningKey, data: bytes, rest: bytes | None = None, **changes) -> bytes:
    """Sign another first line, as whoever holds a key can."""
    line, _, body = data.partition(b"\n")
    body = body if rest is None else rest
    statement = payload_of(line.decode()) | {"size": len(body), "sha256": hashlib.sha256(body).hexdigest()}
    statement |= changes
    return f"{sign({k: v for k, v in statement.items() if v is not ...}, key)}\n".encode() + body


def test_what_is_written_is_read(key, data):
    bundle = a_bundle(key)
    found = read_bundle(data)
    assert found.entries == bundle.entries
    assert (found.sender, found.held, found.brought) == (bundle.sender, bundle.held, {"b0a7b0a7": (1, 3)})
    assert len(found.sha256) == 64
    assert write_bundle(a_bundle(key), key) == data
    assert looks_like_bundle(data)
    assert not looks_like_bundle(b"tag,type\nMC-1,hump")


def test_a_bundle_is_signed_with_the_key_that_it_names(key):
    with pytest.raises(InvalidRecordError, match="is to be signed with a-test-key"):
        write_bundle(a_bundle(key), FakeSigner())


def test_a_byte_altered_anywhere_is_noticed(data):
    chance = random.Random(7)
    for at in range(len(data)):
        changed = bytearray(data)
        changed[at] ^= 1 << chance.randrange(8)
        with pytest.raises(UnreadableFileError):
            read_bundle(bytes(changed))


def test_a_bundle_cut_short_anywhere_or_with_more_behind_it_is_noticed(data):
    for length in range(len(data)):
        with pytest.raises(UnreadableFileError):
            read_bundle(data[:length])
    with pytest.raises(UnreadableFileError, match="cut short"):
        read_bundle(data[:-1])
    for more in (b"\n", b" ", b"\0", data):
        with pytest.raises(UnreadableFileError):
            read_bundle(data + more)


@given(st.binary(max_size=400))
def test_whatever_is_no_bundle_is_told_as_that(noise):
    with pytest.raises(UnreadableFileError):
        read_bundle(noise)


@pytest.mark.parametrize(
    "noise",
    [
        b"",
        b"\n",
        b"a.b.c\n",
        b"[" * 100_000,
        b"eyJ9.eyJ9.eyJ9",
        b"PK\x03\x04",
        b"SQLite format 3\0",
        b"\xff\xfe.x.y",
    ],
)
def test_other_files_are_no_bundles(noise):
    with pytest.raises(UnreadableFileError) as told:
        read_bundle(noise)
    assert told.value.exit_code == 4
    assert "nothing was taken in" in told.value.remedy


def test_a_bundle_that_is_too_large_is_not_read(data, monkeypatch):
    monkeypatch.setattr(bundle_file, "LARGEST", len(data) - 1)
    with pytest.raises(UnreadableFileError, match="no more than"):
        read_bundle(data)


WRONG = [None, True, -1, 1.5, 2**60, "", "x", "../../x", [], {}, ["0badcafe"], {"../x": 1}, {"0badcafe": "1"},
         {"0badcafe": -1}, {"0badcafe": True}, ...]  # fmt: skip


@pytest.mark.parametrize(
    "name", ["bundle", "registry", "founded", "sender", "made_at", "held", "entries", "size", "sha256"]
)
@pytest.mark.parametrize("value", WRONG, ids=repr)
def test_a_field_of_a_wrong_type_is_refused_though_it_is_signed(key, data, name, value):
    with pytest.raises(LeadlineError) as told:
        read_bundle(resigned(key, data, **{name: value}))
    assert told.value.exit_code == 4


@pytest.mark.parametrize("name", ["origin", "name", "key_id", "public_key"])
@pytest.mark.parametrize("value", [*WRONG[:9], "A" * 100, "a\nb"], ids=repr)
def test_a_sender_that_is_none_is_refused(key, data, name, value):
    if name == "name" and value in ("x", "../../x"):
        pytest.skip("a name is shown, and names no file")
    sender = payload_of(data.split(b"\n")[0].decode())["sender"]
    with pytest.raises(LeadlineError) as told:
        read_bundle(resigned(key, data, sender=sender | {name: value}))
    assert told.value.exit_code == 4


def test_a_later_form_asks_for_the_later_version(key, data):
    with pytest.raises(NewerRegistryError, match="form 2"):
        read_bundle(resigned(key, data, bundle=2))


def lines_of(data: bytes) -> list[list]:
    return [json.loads(line) for line in data.split(b"\n")[1:-1]]


def written(lines: list) -> bytes:
    return "".join(f"{canonical_json(line)}\n" for line in lines).encode()


@pytest.mark.parametrize("field", range(8))
@pytest.mark.parametrize(
    "value", [None, True, 0, -1, 1.5, "", "../../etc", [], {}, "\u0000", 2**60], ids=repr
)
@pytest.mark.parametrize("redigested", [False, True])
def test_an_entry_of_wrong_types_is_refused_though_it_is_signed(key, data, field, value, redigested):
    lines = lines_of(data)
    lines[2][field] = value
    if redigested and field != 7:
        try:
            lines[2][7] = digest_of(tuple(lines[2][:7]))
        except (TypeError, AttributeError):
            pytest.skip("nobody can make a digest of that")
    if field == 3 and isinstance(value, str) and redigested:
        pytest.skip("any text may be the name of who acted")
    with pytest.raises(UnreadableFileError, match="cannot be used"):
        read_bundle(resigned(key, data, written(lines)))


@pytest.mark.parametrize(
    "body",
    ["[]", "1", "{", '{"a": 1}', '{"b":1,"a":2}', '{"a":1,"a":2}', '{"a":NaN}', '{"a":1e999}', '{"a":"\\ud800"}',
     '{"a":' + "[" * 5000 + "]" * 5000 + "}"],
)  # fmt: skip
def test_a_body_that_is_not_canonical_json_is_refused(key, data, body):
    lines = lines_of(data)
    lines[2][5] = body
    lines[2][7] = digest_of(tuple(lines[2][:7]))
    with pytest.raises(UnreadableFileError, match="cannot be used"):
        read_bundle(resigned(key, data, written(lines)))


@pytest.mark.parametrize(
    "rest",
    [
        b"[]\n[]\n[]\n",
        b"\n\n\n",
        b"null\n" * 3,
        b"[" * 50_000 + b"\n\n\n",
        b"\xff\n" * 3,
        b"{}\n{}\n{}\n",
        b"1\n2\n3",
    ],
)
def test_lines_that_are_no_entries_are_refused(key, data, rest):
    with pytest.raises(UnreadableFileError, match="cannot be used"):
        read_bundle(resigned(key, data, rest))


def test_entries_in_disorder_or_with_a_gap_are_refused(key, data):
    lines = lines_of(data)
    for wrong in ([lines[1], lines[0], lines[2]], [lines[0], lines[2]], [*lines, lines[2]]):
        with pytest.raises(UnreadableFileError, match="After b0a7b0a7-"):
            read_bundle(resigned(key, data, written(wrong), entries=len(wrong)))
    with pytest.raises(UnreadableFileError, match="holds other entries"):
        read_bundle(resigned(key, data, held={"b0a7b0a7": 4}))
