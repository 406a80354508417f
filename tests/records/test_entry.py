"""Nothing in the journal can be changed without breaking its digest."""

import hashlib
import json
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.errors import InvalidRecordError
from registry.records.entry import GENESIS, Draft, canonical_json, seal

NOW = datetime(2026, 6, 1, 16, 0, 0, 123456, tzinfo=UTC)


def an_entry(**changes):
    said: dict[str, Any] = {"origin": "0badcafe", "sequence": 7, "time": NOW, "previous": GENESIS}
    return seal(Draft(kind="module.added", actor="Ada", body={"tag": "A", "mass": 1.5}), **(said | changes))


def test_the_digest_is_the_sha_256_of_everything_else():
    entry = an_entry()
    line = json.dumps(
        ["0badcafe", 7, "2026-06-01T16:00:00.123Z", "Ada", "module.added", '{"mass":1.5,"tag":"A"}', GENESIS],
        separators=(",", ":"),
    )
    assert entry.digest == hashlib.sha256(line.encode()).hexdigest() == entry.expected_digest()
    assert (entry.reference, entry.content()) == ("0badcafe-7", {"mass": 1.5, "tag": "A"})


@pytest.mark.parametrize(
    "change",
    [
        {"origin": "0badcaff"},
        {"sequence": 8},
        {"time": NOW + timedelta(milliseconds=1)},
        {"actor": "Ben"},
        {"kind": "module.added "},
        {"body": '{"mass":1.6,"tag":"A"}'},
        {"previous": "1" + GENESIS[1:]},
    ],
    ids=lambda change: next(iter(change)),
)
def test_any_change_shows(change):
    entry = replace(an_entry(), **change)
    assert entry.expected_digest() != entry.digest


def test_the_same_instant_in_another_zone_is_the_same_entry():
    assert an_entry(time=NOW.astimezone(timezone(timedelta(hours=-4)))) == an_entry()


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@settings(deadline=None)
@given(VALUES)
def test_canonical_json_keeps_every_value_and_is_written_in_one_way(value):
    text = canonical_json(value)
    assert json.loads(text) == value
    assert canonical_json(json.loads(text)) == text


def test_the_order_of_keys_does_not_matter():
    assert canonical_json({"b": 1, "a": 2}) == canonical_json({"a": 2, "b": 1}) == '{"a":2,"b":1}'


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, object(), {1, 2}, b"bytes", [math.nan]])
def test_what_has_no_form_is_refused(value):
    with pytest.raises(InvalidRecordError, match="cannot be written down"):
        canonical_json({"x": value})
