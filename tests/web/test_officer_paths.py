import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import NotFoundError
from registry.web.officer_paths import RESERVED, address, segment, text_of

#: Any text that a permit's number or a tag may be.
TEXTS = st.text(alphabet=st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30)


@given(TEXTS)
def test_a_segment_is_one_says_nothing_to_a_browser_and_is_read_back(text):
    written = segment(text)
    assert text_of(written) == text
    assert all(c.isascii() and (c.isalnum() or c in "-_.~") for c in written)
    assert written not in RESERVED
    assert not written.startswith(".")


@pytest.mark.parametrize("name", sorted(RESERVED))
def test_a_permit_named_as_a_page_has_an_address_of_its_own(name):
    assert address(name) != f"/officer/{name}"
    assert text_of(segment(name)) == name


def test_bytes_that_are_no_text_lead_nowhere():
    with pytest.raises(NotFoundError):
        text_of("~ff~fe")
