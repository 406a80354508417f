"""One tag in one place, one memorial in one module."""

from tests.rules.one_case import BAD, OK, a_table, at, judged, verdicts


def test_a_tag_recorded_twice_fails_in_both_places():
    found = judged("duplicate", a_table(3, tag=["A", "B", "A"]))
    assert verdicts(found) == [BAD, OK, BAD]
    assert found.measured.tolist() == [2, 1, 2]
    assert found.message[0] == "Tag A is recorded in 2 places; one module lies in one place."
    assert found.message[1] == "Recorded once."


def test_the_other_place_may_be_under_another_permit():
    found = judged("duplicate", a_table(2, tag="A", permit=["HB-0417", "TN-0033"]))
    assert verdicts(found) == [BAD]


def test_a_memorial_recorded_in_two_modules_fails_without_its_name_being_told():
    found = judged(
        "duplicate", a_table(3, memorial=["Zoë Quill", "", "Zoë Quill"], **at((0, 0), (20, 0), (40, 0)))
    )
    assert verdicts(found) == [BAD, OK, BAD]
    assert "Quill" not in found.message[0]
    assert found.message[0] == "The memorial of MR-0001 is recorded in 2 modules."


def test_modules_that_remember_nobody_are_no_duplicates():
    assert verdicts(judged("duplicate", a_table(4))) == [OK] * 4


def test_tags_differ_by_their_letters():
    assert verdicts(judged("duplicate", a_table(3, tag=["MR-1", "mr-1", "MR-01"]))) == [OK] * 3
