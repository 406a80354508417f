"""A name that no certificate could print is refused when it is recorded, by the certificate's own check."""

import pytest

from registry.errors import InvalidRecordError, UnprintableTextError
from registry.records.module import Memorial
from registry.records.printed_words import LONGEST_NAME, printed_words


@pytest.mark.parametrize(
    ("name", "error", "told"),
    [
        ("", InvalidRecordError, "empty"),
        ("  ", InvalidRecordError, "empty"),
        (" Ada", InvalidRecordError, "blanks around"),
        ("Ada\u00a0", InvalidRecordError, "blanks around"),
        ("x" * 121, InvalidRecordError, "121 characters.*at most 120"),
        ("Ada\nQuill", UnprintableTextError, r"U\+000A"),
        ("Ada\u2028Quill", UnprintableTextError, "LINE SEPARATOR"),
        ("Ada\u200bQuill", UnprintableTextError, "ZERO WIDTH SPACE"),
        ("Ada\u00adQuill", UnprintableTextError, "SOFT HYPHEN"),
        ("Ada\u202eQuill", UnprintableTextError, "RIGHT-TO-LEFT OVERRIDE"),
        ("Ada\u2067Quill", UnprintableTextError, "RIGHT-TO-LEFT ISOLATE"),
        ("Ada\x07", UnprintableTextError, r"U\+0007"),
    ],
)
def test_a_name_that_cannot_be_printed_is_not_recorded(name, error, told):
    with pytest.raises(error, match=told):
        printed_words("memorial name", name)
    with pytest.raises(error, match=told):
        Memorial(name=name)


@pytest.mark.parametrize(
    "name", ["Zoë Ångström-O'Hara", "علی\u200cرضا", "สมชาย", "山田 花子", "x" * LONGEST_NAME, "e\u0301" * 120]
)
def test_a_name_of_any_script_is_recorded_as_typed(name):
    assert Memorial(name=name).name == name


def test_only_a_note_may_be_empty():
    assert printed_words("note", "", may_be_empty=True) == ""
    with pytest.raises(InvalidRecordError, match="empty"):
        printed_words("note", " ", may_be_empty=True)
