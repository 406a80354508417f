"""Names cut to what a plotter shows: whatever is given, no two become one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import RequestError
from registry.records.short_names import LongName, short_names

long_names = st.builds(
    LongName,
    st.lists(st.text(max_size=20), min_size=1, max_size=3).map(tuple),
    st.booleans(),
)


@given(st.lists(long_names, max_size=60), st.integers(4, 25))
def test_no_two_are_alike_and_none_is_too_long_or_empty(names, longest):
    short = short_names(names, longest)
    assert len(short) == len(names)
    assert len({name.upper() for name in short}) == len(names)
    assert all(0 < len(name) <= longest and name == name.strip() for name in short)


@given(st.lists(st.text("ABab-1 ", min_size=1, max_size=8), max_size=30), st.integers(4, 8))
def test_a_name_that_fits_whole_is_never_changed_for_another(words, longest):
    """Whoever comes first among those that are alike keeps it."""
    names = [LongName((word,)) for word in words]
    short = short_names(names, longest)
    seen = set()
    for word, name in zip(words, short, strict=True):
        plain = " ".join(word.split())
        if plain and len(plain) <= longest and plain.upper() not in seen:
            assert name == plain
            seen.add(plain.upper())


@given(st.lists(st.text("ABC", min_size=1, max_size=9), max_size=20), st.integers(4, 9))
def test_the_same_names_are_cut_alike_each_time_and_earlier_ones_do_not_change(words, longest):
    names = [LongName((word,), keep_tail=True) for word in words if len(word) > longest]
    assert short_names(names, longest) == short_names(names, longest)
    assert short_names(names[:-1], longest) == short_names(names, longest)[: max(len(names) - 1, 0)]


def test_names_that_are_taken_are_not_given_again():
    assert short_names([LongName(("MC-1",))], 8, besides=["mc-1"]) == ["MC-1~2"]


def test_a_hundred_thousand_names_that_are_cut_to_the_same_are_told_apart():
    names = short_names([LongName(("Memorial",))] * 100_000, 8)
    assert len(set(names)) == 100_000


@pytest.mark.parametrize(("count", "longest"), [(2, 1), (11, 2), (1, 0)])
def test_what_cannot_be_told_apart_is_refused(count, longest):
    with pytest.raises(RequestError):
        short_names([LongName(("ABCDEFG",))] * count, longest)
