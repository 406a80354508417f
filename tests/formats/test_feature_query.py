"""Questions to a collection of features: read as OGC API - Features writes them, or refused in words."""

from contextlib import suppress
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import RequestError
from registry.formats.feature_query import read_box, read_period


@pytest.mark.parametrize(
    "text", ["", "1,2,3", "a,b,c,d", "1,2,3,nan", "0,10,1,-10", "0,0,0,0,0", "181,0,0,0", "1,2,3,4,5,6,7"]
)
def test_what_is_no_box_is_refused(text):
    with pytest.raises(RequestError, match="no bounding box"):
        read_box(text)


def test_a_box_may_cross_the_180th_meridian():
    """OGC 17-069r4, 7.15.3: the western bound is then greater than the eastern one."""
    assert read_box("177,-20,-178,-10") == (177.0, -20.0, -178.0, -10.0)


@pytest.mark.parametrize(
    ("text", "period"),
    [  # OGC 17-069r4, 7.15.4 gives the first four forms
        ("2018-02-12T23:20:50Z", (date(2018, 2, 12), date(2018, 2, 12))),
        ("2018-02-12T00:00:00Z/2018-03-18T12:31:12Z", (date(2018, 2, 12), date(2018, 3, 18))),
        ("2018-02-12T00:00:00Z/..", (date(2018, 2, 12), None)),
        ("../2018-03-18T12:31:12Z", (None, date(2018, 3, 18))),
        ("/2018-03-18", (None, date(2018, 3, 18))),
        ("../..", (None, None)),
    ],
)
def test_periods_are_read_as_the_standard_writes_them(text, period):
    assert read_period(text) == period


@pytest.mark.parametrize(
    "text",
    ["", "..", "yesterday", "2018-13-01", "2018-02-12T23:20:50", "2019-01-01/2018-01-01", "2018-01-01/x"],
)
def test_what_is_no_period_is_refused(text):
    with pytest.raises(RequestError, match="RFC 3339"):
        read_period(text)


@given(st.text(max_size=60), st.sampled_from([read_box, read_period]))
def test_any_text_is_read_or_refused(text, read):
    with suppress(RequestError):
        assert len(read(text)) in {2, 4}
