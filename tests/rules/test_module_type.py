"""Only types that the permit authorises."""

from tests.rules.one_case import BAD, OK, UNSURE, a_table, judged, verdicts


def test_types_are_compared_word_for_word():
    table = a_table(5, module_type=["dome-120", "cube-90", "dome", "DOME-120", ""])
    found = judged("module-type", table, {"types": "dome-120, cube-90"})
    assert verdicts(found) == [OK, OK, BAD, BAD, UNSURE]
    assert found.message[4] == "Its type is not known; dome-120, cube-90 may be placed."


def test_one_type_alone_may_be_authorised():
    assert verdicts(judged("module-type", a_table(), {"types": "dome-120"})) == [OK]
