"""Contacts of families: kept apart, erased with a receipt, gathered for the family itself."""

from dataclasses import replace
from datetime import timedelta

import pytest

from registry.actions.add_contact import add_contact
from registry.actions.amend_module import amend_module
from registry.actions.erase_family import brought_back, erase_family
from registry.actions.gather_family import gather_family
from registry.actions.open_family_link import open_family_link
from registry.actions.recall_family_link import recall_family_link
from registry.actions.record_hand_over import record_hand_overs
from registry.errors import ConflictError, InvalidRecordError, NotFoundError, UnprintableTextError
from registry.formats.family_record_file import family_record_data, write_family_text
from registry.records.family import Contact
from tests.actions.stocked import a_register, logged
from tests.builders import ACTOR, NOON, a_hand_over_draft, a_memorial, a_module
from tests.fakes import FixedClock, MemoryFamilies, MemoryRegister
from tests.memory_accounts import MemoryAccounts

IDA = Contact(
    name="Ida Quill",
    relation="daughter",
    email="ida@quill.example",
    phone="+1 910 555 0123",
    recorded_at=NOON,
)
TOM = Contact(name="Tom Quill", note="only by post", address="12 Dune Lane", recorded_at=NOON)


@pytest.fixture
def register() -> MemoryRegister:
    modules = [a_module(tag=f"MR-000{k}", memorial=a_memorial()) for k in (1, 2)]
    return a_register(modules=[*modules, a_module(tag="MR-0003")])


@pytest.fixture
def families() -> MemoryFamilies:
    return MemoryFamilies()


@pytest.fixture
def accounts() -> MemoryAccounts:
    return MemoryAccounts()


def journal_text(register) -> str:
    return "".join(entry.body + entry.actor for entry in register.journal())


def gathered(register, families, tag="MR-0001"):
    return gather_family(register, families, tag, write_position=lambda position: f"{position.lat_deg:.4f} N")


def test_contacts_are_kept_and_the_registry_learns_nothing(register, families):
    before = register.head()
    add_contact(register, families, "MR-0001", IDA)
    family = add_contact(register, families, "MR-0001", TOM)
    assert family.contacts == (IDA, TOM)
    assert families.held() == {"MR-0001": family}
    assert register.head() == before


def test_nobody_is_kept_for_a_module_that_remembers_nobody_and_nobody_twice(register, families):
    with pytest.raises(NotFoundError, match="MR-0009"):
        add_contact(register, families, "MR-0009", IDA)
    with pytest.raises(NotFoundError, match="remembers nobody"):
        add_contact(register, families, "MR-0003", IDA)
    add_contact(register, families, "MR-0001", IDA)
    with pytest.raises(ConflictError):
        add_contact(register, families, "MR-0001", replace(IDA, recorded_at=NOON + timedelta(days=1)))
    assert len(families.held()["MR-0001"].contacts) == 1


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        ({"name": ""}, InvalidRecordError),
        ({"email": "ida at quill"}, InvalidRecordError),
        ({"note": "two\nlines"}, UnprintableTextError),
        ({"note": "x" * 401}, InvalidRecordError),
        ({"name": "Ida\u202eQuill"}, UnprintableTextError),
    ],
)
def test_a_contact_that_cannot_be_meant_is_refused(changes, error):
    with pytest.raises(error):
        replace(IDA, **changes)


def test_an_erasure_leaves_a_receipt_that_tells_nothing_of_them(register, families, accounts):
    add_contact(register, families, "MR-0001", IDA)
    add_contact(register, families, "MR-0001", TOM)
    add_contact(register, families, "MR-0002", TOM)
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert list(families.held()) == ["MR-0002"]
    assert (made.contacts, made.fields) == (2, ("name", "relation", "email", "phone", "address", "note"))
    assert made.listed
    (receipt,) = register.erasures()
    assert (receipt["tag"], receipt["contacts"], receipt["reference"]) == ("MR-0001", 2, made.reference)
    assert made.digest == register.head()
    for text in (*IDA.values().values(), *TOM.values().values()):
        assert text not in journal_text(register)
        assert text not in repr(made)
    assert {each.text for each in made.sought} == {*IDA.values().values(), *TOM.values().values()}


def test_one_contact_is_erased_and_the_rest_held(register, families, accounts):
    add_contact(register, families, "MR-0001", IDA)
    add_contact(register, families, "MR-0001", replace(TOM, email=IDA.email))
    record_hand_overs(register, families, [a_hand_over_draft()], actor=ACTOR)
    with pytest.raises(NotFoundError, match="no contact 3"):
        erase_family(register, families, accounts, "MR-0001", actor=ACTOR, contact=3)
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR, contact=1)
    held = families.held()["MR-0001"]
    assert [contact.name for contact in held.contacts] == ["Tom Quill"]
    assert (held.secret, held.identifications) != ("", ())
    assert (made.contacts, made.identifications, made.rest_held) == (1, 0, True)
    # What another relative still has need not be gone.
    assert IDA.email not in {each.text for each in made.sought}


def test_what_the_journal_says_for_reasons_of_its_own_is_named(register, families, accounts):
    add_contact(register, families, "MR-0001", IDA)
    logged(register, note='met by "Ida Quill"')
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    (name,) = (each for each in made.sought if each.entries)
    assert name.label == "the name of contact 1"
    assert "placement.logged" in name.entries[0]


def test_nothing_held_is_told(register, families, accounts):
    with pytest.raises(NotFoundError, match="Nothing is held"):
        erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert register.erasures() == ()


def test_an_old_copy_that_was_put_back_is_found(register, families, accounts):
    old = add_contact(register, families, "MR-0001", IDA)
    erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert brought_back(register, families.held()) == {}
    families.keep([old])
    assert list(brought_back(register, families.held())) == ["MR-0001"]
    erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    add_contact(register, families, "MR-0001", replace(IDA, recorded_at=register.now()))
    assert brought_back(register, families.held()) == {}


def test_all_that_is_held_is_gathered_for_the_family(register, families):
    add_contact(register, families, "MR-0001", IDA)
    record_hand_overs(register, families, [a_hand_over_draft()], actor="Ben of the yard")
    logged(register, crew="Ada and Ben", note="in calm water", r95=None)
    logged(register, "MR-0002", "34 00.0500 N 077 00.0000 W", note="not theirs")
    amend_module(register, "MR-0001", consent_listed=False, reason="letter of the family", actor=ACTOR)
    record = gathered(register, families)
    data = family_record_data(record)
    held = data["held"]
    assert held["contacts"][0]["email"] == IDA.email
    assert held["identification"] == [{"identification": "C-48213"}]
    assert [row["consent_listed"] for row in held["modules"]] == [True, False]
    assert held["modules"][1]["reason"] == "letter of the family"
    assert held["custody"][0]["step"] == "received"
    (placement,) = held["placements"]
    assert (placement["stands"], placement["note"], placement["charted_depth_m"]) == (
        True,
        "in calm water",
        20.36,
    )
    assert placement["r95_m"] == pytest.approx(15.0, abs=0.001)
    text = write_family_text(record).decode()
    for told in (
        IDA.name,
        IDA.email,
        "C-48213",
        "letter of the family",
        "Charted depth             20.36",
        "Within (95 %)             16 m",
        "of which nothing",
    ):
        assert told in text
    for theirs in ("Ada and Ben", "Ben of the yard", "not theirs", "MR-0002"):
        assert theirs not in text
        assert theirs not in str(data)


def test_a_tag_of_which_nothing_is_known_is_told(register, families):
    with pytest.raises(NotFoundError, match="MR-0009"):
        gathered(register, families, "MR-0009")


def links_of(register, accounts, *tags):
    clock = FixedClock(NOON)
    return [open_family_link(register, accounts, clock, tag=tag, actor=ACTOR).secret for tag in tags]


def opens(accounts, secrets):
    return [recall_family_link(accounts, FixedClock(NOON), secret) for secret in secrets]


def test_links_go_with_the_family_and_open_nothing_any_more(register, families, accounts):
    add_contact(register, families, "MR-0001", IDA)
    secrets = links_of(register, accounts, "MR-0001", "MR-0001", "MR-0002")
    digests = {link.digest for link in accounts.family_links("MR-0001")}
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert opens(accounts, secrets) == [None, None, "MR-0002"]
    assert [link.tag for link in accounts.family_links()] == ["MR-0002"]
    assert (made.links, made.links_left) == (2, 0)
    assert digests <= {each.text for each in made.sought}
    assert not [digest for digest in digests if digest in journal_text(register)]
    assert [body["links"] for body in register.erasures()] == [2]
    assert accounts.deeds()[-1].what == "links of a family removed"


def test_links_are_erased_also_where_nothing_else_is_held(register, families, accounts):
    links_of(register, accounts, "MR-0001")
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR)
    assert (made.contacts, made.links, accounts.family_links()) == (0, 1, ())
    with pytest.raises(NotFoundError):
        erase_family(register, families, accounts, "MR-0001", actor=ACTOR)


def test_links_stay_where_only_one_contact_is_erased_and_that_is_told(register, families, accounts):
    add_contact(register, families, "MR-0001", IDA)
    add_contact(register, families, "MR-0001", TOM)
    secrets = links_of(register, accounts, "MR-0001")
    made = erase_family(register, families, accounts, "MR-0001", actor=ACTOR, contact=1)
    assert (made.links, made.links_left) == (0, 1)
    assert opens(accounts, secrets) == ["MR-0001"]
    assert "links" not in register.erasures()[0]
