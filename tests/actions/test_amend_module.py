"""What is recorded of a module can be mended; the journal keeps what it said before."""

from datetime import UTC, date, datetime

import pytest

from registry.actions.amend_module import amend_module
from registry.actions.publish_site import publish_site
from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.records.module import Memorial
from registry.records.module_words import module_version
from tests.actions.stocked import a_register, logged
from tests.builders import ACTOR, a_module

NOW = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LISTED = Memorial(name="Ada Qill", consent_listed=True)


@pytest.fixture
def register():
    return a_register(modules=[a_module(tag="MR-0001", memorial=LISTED), a_module(tag="MR-0002")])


def amend(register, tag="MR-0001", *, reason="letter of the family", **changes):
    return amend_module(register, tag, reason=reason, actor=ACTOR, **changes)


def test_a_misspelt_name_is_mended_and_the_consent_stays(register):
    before, after = amend(register, memorial="Ada Quill", reason=" misspelt ")
    assert before.memorial == LISTED
    assert after.memorial == Memorial(name="Ada Quill", consent_listed=True)
    assert register.module("MR-0001") == after
    *_, last = register.journal()
    assert (last.kind, last.content()["reason"]) == ("module.amended", "misspelt")
    assert [e.content()["memorial"]["name"] for e in register.journal() if "MR-0001" in e.body] == [
        "Ada Qill",
        "Ada Quill",
    ]


def test_what_is_not_given_stays(register):
    _, after = amend(register, type_id="cube-90", mass_kg=612.0, cast_on=date(2026, 3, 2))
    assert (after.type_id, after.mass_kg, after.cast_on) == ("cube-90", 612.0, date(2026, 3, 2))
    assert after.memorial == LISTED
    _, after = amend(register, consent_listed=False)
    assert (after.type_id, after.mass_kg, after.cast_on) == ("cube-90", 612.0, date(2026, 3, 2))


@pytest.mark.parametrize("change", [{"consent_listed": False}, {"no_memorial": True}])
def test_a_withdrawn_consent_takes_the_name_off_the_map_at_once(register, change):
    logged(register)
    assert publish_site(register, now=NOW).modules[0].name == "Ada Qill"
    amend(register, **change)
    assert publish_site(register, now=NOW).modules[0].name is None
    assert "Qill" not in repr(publish_site(register, now=NOW))


def test_a_language_is_that_of_the_name_and_stays_with_a_mended_one(register):
    amend(register, language="fr")
    _, after = amend(register, memorial="Ada Quill")
    assert after.memorial == Memorial(name="Ada Quill", consent_listed=True, language="fr")
    assert register.module("MR-0001") == after


def test_a_first_name_is_private_until_the_family_agrees(register):
    _, after = amend(register, "MR-0002", memorial="Ib Tarn")
    assert after.memorial == Memorial(name="Ib Tarn", consent_listed=False)
    _, after = amend(register, "MR-0002", consent_listed=True)
    assert after.memorial == Memorial(name="Ib Tarn", consent_listed=True)


@pytest.mark.parametrize(
    ("tag", "changes", "error", "words"),
    [
        ("MR-0001", {"reason": "  ", "mass_kg": 1.0}, InvalidRecordError, "no reason"),
        ("MR-0001", {}, ConflictError, "already"),
        ("MR-0001", {"memorial": "Ada Qill"}, ConflictError, "already"),
        ("MR-0001", {"memorial": "  "}, InvalidRecordError, "memorial name"),
        ("MR-0001", {"memorial": ""}, InvalidRecordError, "memorial name"),
        ("MR-0001", {"memorial": "A", "no_memorial": True}, InvalidRecordError, "both"),
        ("MR-0002", {"consent_listed": True}, InvalidRecordError, "remembers nobody"),
        ("MR-0002", {"language": "vi"}, InvalidRecordError, "no name that has a language"),
        ("MR-0001", {"language": "vi", "no_memorial": True}, InvalidRecordError, "both"),
        ("MR-0001", {"language": "Viet nam"}, InvalidRecordError, "not a language tag"),
        ("MR-0001", {"type_id": "pyramid"}, NotFoundError, "pyramid"),
        ("MR-0001", {"mass_kg": -1.0}, InvalidRecordError, "mass"),
        ("MR-0099", {"mass_kg": 1.0}, NotFoundError, "MR-0099"),
    ],
)
def test_what_cannot_be_amended_is_told_and_nothing_is_written(register, tag, changes, error, words):
    head = register.head()
    with pytest.raises(error, match=words):
        amend(register, tag, **changes)
    assert register.head() == head


def test_who_mends_what_somebody_else_changed_meanwhile_is_told_who_changed_what(register):
    seen = module_version(register.module("MR-0001"))
    amend(register, memorial="Ada Quill", seen=seen)
    length = register.journal_length()
    with pytest.raises(ConflictError) as told:
        amend(register, memorial="Ada Quell", seen=seen)
    assert "memorial from “Ada Qill” to “Ada Quill”" in told.value.what
    assert ACTOR in told.value.what
    assert "2026-06-01" in told.value.what
    assert register.journal_length() == length


def test_what_was_seen_last_can_be_mended(register):
    amend(register, memorial="Ada Quill")
    _, after = amend(register, memorial="Ada Q.", seen=module_version(register.module("MR-0001")))
    assert after.memorial.name == "Ada Q."


def test_only_what_changed_since_it_was_seen_is_told(register):
    amend(register, memorial="Ada Quill")
    seen = module_version(register.module("MR-0001"))
    amend(register, mass_kg=612.0)
    with pytest.raises(ConflictError) as told:
        amend(register, language="fr", seen=seen)
    assert "mass from “that of its type” to “612 kg”" in told.value.what
    assert "Quill" not in told.value.what
