"""What entries of several devices knew of each other, and their one order."""

import hashlib
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.errors import RejectedError
from registry.records.branches import Branches, Link, cited, in_order, joined, open_ends, printed_head
from registry.records.entry import GENESIS


def a_link(origin: str, sequence: int, previous: str, *, time: int = 0) -> Link:
    text = f"2026-06-01T{time:02d}:00:00.000Z"
    digest = hashlib.sha256(f"{origin}-{sequence}-{previous}".encode()).hexdigest()
    return Link(origin, sequence, text, previous, digest)


@st.composite
def histories(draw: st.DrawFn) -> list[Link]:
    """Give what three devices wrote, with clocks that go anyhow, and merged anyhow."""
    first = a_link("aa", 1, GENESIS)
    held: dict[str, list[Link]] = {"aa": [first], "bb": [first], "cc": [first]}
    count = {"aa": 1, "bb": 0, "cc": 0}
    every = [first]
    for device, other, writes, time in draw(
        st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from("abc"), st.booleans(), st.integers(0, 23)),
                 max_size=25)
    ):  # fmt: skip
        own = held[device * 2]
        if writes:
            count[device * 2] += 1
            link = a_link(device * 2, count[device * 2], joined(open_ends(own)), time=time)
            own.append(link)
            every.append(link)
        else:
            own += [link for link in held[other * 2] if link not in own]
    return every


@given(histories(), st.randoms(use_true_random=False))
def test_the_order_hangs_on_the_entries_alone(history: list[Link], chance: random.Random):
    ordered = in_order(history)
    shuffled = list(history)
    chance.shuffle(shuffled)
    assert in_order(shuffled) == ordered
    assert sorted(ordered) == sorted(history)


@given(histories())
def test_nothing_stands_before_what_it_builds_on(history: list[Link]):
    branches = Branches()
    assert all(branches.add(link) for link in in_order(history))


@given(histories(), st.data())
def test_what_is_left_out_at_the_end_moves_nothing(history: list[Link], data: st.DataObject):
    ordered = in_order(history)
    branches = Branches()
    for link in ordered:
        branches.add(link)
    tip = data.draw(st.sampled_from(ordered))
    known = branches.known_to(tip.origin, tip.sequence)
    kept = [link for link in ordered if link.sequence <= known.get(link.origin, 0)]
    assert in_order(kept) == kept


@given(histories(), st.data())
def test_what_an_entry_knew_is_what_its_links_reach(history: list[Link], data: st.DataObject):
    by_digest = {link.digest: link for link in history}
    branches = Branches()
    for link in in_order(history):
        branches.add(link)
    one, other = data.draw(st.sampled_from(history)), data.draw(st.sampled_from(history))
    reached, waiting = {one}, [one]
    while waiting:
        for digest in cited(waiting.pop().previous):
            if by_digest[digest] not in reached:
                reached.add(by_digest[digest])
                waiting.append(by_digest[digest])
    assert branches.knows(one[:2], other[:2]) == (other in reached)


def test_of_what_may_come_next_the_earlier_stands_first_then_the_lower_origin():
    first = a_link("aa", 1, GENESIS)
    late, early, same = (
        a_link("aa", 2, first.digest, time=9),
        a_link("bb", 1, first.digest, time=8),
        a_link("cc", 1, first.digest, time=9),
    )
    assert in_order([same, late, early, first]) == [first, early, late, same]


def test_what_builds_on_nothing_that_is_there_is_refused():
    first = a_link("aa", 1, GENESIS)
    with pytest.raises(RejectedError, match="aa-3 builds on an entry that is not there"):
        in_order([first, a_link("aa", 3, first.digest)])
    with pytest.raises(RejectedError, match="bb-1"):
        in_order([first, a_link("bb", 1, "ab" * 32)])


def test_an_entry_that_passes_over_its_own_device_does_not_follow():
    first = a_link("aa", 1, GENESIS)
    second = a_link("aa", 2, first.digest)
    branches = Branches()
    assert branches.add(first)
    assert branches.add(second)
    assert not branches.add(a_link("aa", 3, first.digest))


def test_a_paper_prints_one_digest_of_several_ends():
    ends = joined(["cd" * 32, "ab" * 32])
    assert ends == f"{'ab' * 32},{'cd' * 32}"
    assert printed_head(ends) == hashlib.sha256(ends.encode()).hexdigest()
    assert cited(GENESIS) == ()
