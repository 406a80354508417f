"""Windows of a season are read in one way only."""

import pytest

from registry.errors import PermitError
from registry.records.season_windows import read_windows


@pytest.mark.parametrize(
    "text",
    [
        "05-01 to 10-31",
        "1 May to 31 October",
        "May 1 to October 31",
        "1 may to 31 oct",
        "1. May to 31. October",
    ],
)
def test_every_way_of_writing_a_window_means_the_same(text):
    assert read_windows(text) == (((5, 1), (10, 31)),)


def test_windows_may_be_several_or_none_and_one_may_be_a_day():
    assert read_windows("12-24 to 01-02, 07-04") == (((12, 24), (1, 2)), ((7, 4), (7, 4)))
    assert read_windows(None) == read_windows("") == ()
    assert read_windows("02-29 to 03-15") == (((2, 29), (3, 15)),)


@pytest.mark.parametrize(
    "text",
    [
        "5-1 to 10-31",
        "31-05 to 10-31",
        "02-30 to 03-01",
        "May to October",
        "05-01 to 06-01 to 07-01",
        "1 Mai",
    ],
)
def test_what_could_mean_something_else_is_refused_with_the_form(text):
    with pytest.raises(PermitError, match="05-01 to 10-31"):
        read_windows(text)
