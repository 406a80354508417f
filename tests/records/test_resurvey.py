"""Resurveys as data and back."""

from datetime import datetime

import pytest

from registry.errors import InvalidRecordError
from registry.records.entry import canonical_json
from registry.records.resurvey import resurvey_body, resurvey_from_body
from tests.builders import a_resurvey


def test_there_and_back():
    seen = a_resurvey(warnings=("look again",), lon_deg=-77.0 + 1e-13)
    body = resurvey_body(seen)
    assert canonical_json(body)
    assert body["movement"]["verdict"] == "not shown to have moved"
    assert resurvey_from_body(body | {"reference": "a-1", "reason": "x"}) == seen


def test_an_instant_has_its_zone():
    with pytest.raises(InvalidRecordError, match="no zone"):
        a_resurvey(observed_at=datetime(2027, 1, 1))  # noqa: DTZ001
