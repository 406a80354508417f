"""
The keepers' chain: whole, with a gap, with a mismatch.

Source: common practice of chains of custody, no source.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from registry.records.custody import Step
from registry.records.custody_chain import Chain, FaultKind, forge_chain
from tests.builders import NOON, a_hand_over, a_side, a_whole_chain

GAP, MISMATCH = FaultKind.GAP, FaultKind.MISMATCH


def forged(hand_overs, **known) -> Chain:
    return forge_chain("MR-0001", hand_overs, zone="America/New_York", **known)


def told(chain: Chain) -> list[FaultKind]:
    return [fault.kind for fault in chain.faults]


def test_a_whole_chain_has_nothing_to_tell():
    chain = forged(a_whole_chain(), placed_at=[NOON], cast_on=date(2026, 5, 2))
    assert chain.whole
    assert [each.step for each in chain.hand_overs] == list(Step)


def test_the_order_in_which_it_was_recorded_makes_no_difference():
    assert forged(a_whole_chain()[::-1]) == forged(a_whole_chain())


@pytest.mark.parametrize("step", list(Step)[:-1])
def test_a_station_that_nobody_recorded_is_named(step):
    chain = forged([each for each in a_whole_chain() if each.step is not step], placed_at=[NOON])
    gap = next(fault for fault in chain.faults if "recorded" in fault.sentence)
    assert gap.kind is GAP
    assert f"“{step.value}” is not recorded" in gap.sentence


def test_several_missing_stations_are_one_gap():
    received, *_, placed = a_whole_chain()
    chain = forged([received, placed])
    assert "“cast”, “cured”, “loaded” are not recorded" in chain.faults[0].sentence
    assert chain.faults[0].reference == placed.reference


def test_the_end_is_a_gap_once_the_module_is_placed_and_before_that_still_to_come():
    loaded = a_whole_chain()[:4]
    (ahead,) = forged(loaded).faults
    assert (ahead.kind, "still to come: “placed”" in ahead.sentence) == (FaultKind.NOT_FINISHED, True)
    (gap,) = forged(loaded, placed_at=[NOON]).faults
    assert (gap.kind, "“placed” is not recorded" in gap.sentence) == (GAP, True)


def test_no_hand_over_at_all_is_a_gap_once_the_module_is_placed():
    assert told(forged([])) == [FaultKind.NOT_FINISHED]
    assert told(forged([], placed_at=[NOON])) == [GAP]


def test_who_hands_on_must_be_who_took():
    chain = a_whole_chain()
    chain[3] = replace(chain[3], giver=a_side("Dov"))
    (gap,) = forged(chain).faults
    assert gap.kind is GAP
    assert "Marram yard took it at “cured”" in gap.sentence
    assert "Dov handed it on at “loaded”" in gap.sentence
    chain[3] = replace(chain[3], giver=a_side("MARRAM  yard"))
    assert forged(chain).whole


def test_a_boat_that_turned_back_breaks_nothing():
    """Loaded, brought ashore again, loaded anew: in the same hands throughout."""
    *ashore, loaded, placed = a_whole_chain()
    back = replace(
        loaded, giver=loaded.taker, taker=loaded.giver, step=Step.CURED, at=loaded.at + timedelta(hours=8)
    )
    again = replace(loaded, at=loaded.at + timedelta(days=2))
    assert forged([*ashore, loaded, back, again, placed]).whole


@pytest.mark.parametrize("side", ["giver", "taker"])
def test_a_tag_read_otherwise_is_a_mismatch_that_names_the_side(side):
    chain = a_whole_chain()
    read = replace(getattr(chain[2], side), tag="MR-0010")
    chain[2] = replace(chain[2], **{side: read})
    (fault,) = forged(chain).faults
    assert fault.kind is MISMATCH
    assert "read the tag MR-0010, not MR-0001" in fault.sentence
    assert ("handing" if side == "giver" else "taking") in fault.sentence


@pytest.mark.parametrize("at", range(5))
def test_a_number_read_otherwise_is_a_mismatch_where_it_was_read(at):
    chain = a_whole_chain()
    chain[at] = replace(chain[at], taker=replace(chain[at].taker, identification_digest="cd" * 32))
    (fault,) = forged(chain).faults
    assert fault.kind is MISMATCH
    assert f"“{chain[at].step.value}”" in fault.sentence
    assert "cd" * 4 not in fault.sentence


def test_numbers_swapped_by_both_sides_alike_are_found_against_the_crematory():
    """Two modules cast on one day, each side reading the wrong disc: they agree with one another."""
    chain = a_whole_chain()
    other = {"identification_digest": "cd" * 32}
    for index in (1, 2, 3, 4):
        chain[index] = replace(
            chain[index],
            giver=replace(chain[index].giver, **other),
            taker=replace(chain[index].taker, **other),
        )
    assert told(forged(chain)) == [MISMATCH] * 4


def test_digests_of_different_secrets_are_not_compared():
    chain = a_whole_chain()
    fresh = {"identification_digest": "ef" * 32}
    for index in (3, 4):
        chain[index] = replace(
            chain[index],
            secret="fedcba9876543210",
            giver=replace(chain[index].giver, **fresh),
            taker=replace(chain[index].taker, **fresh),
        )
    assert told(forged(chain)) == [FaultKind.NOT_COMPARABLE]


def test_days_of_the_record_and_of_the_chain_must_agree():
    chain = a_whole_chain()
    (cast,) = forged(chain, cast_on=date(2026, 5, 3), placed_at=[NOON]).faults
    assert (cast.kind, "cast 2026-05-03" in cast.sentence) == (MISMATCH, True)
    (placed,) = forged(chain, placed_at=[NOON + timedelta(hours=25)]).faults
    assert placed.kind is MISMATCH
    assert forged(chain, placed_at=[NOON + timedelta(days=90), NOON + timedelta(hours=23)]).whole
    # Late on the second of May in New York it is the third in Greenwich.
    late = [replace(a_hand_over(Step.CAST), at=NOON.replace(month=5, day=3, hour=2))]
    assert not forged(late, cast_on=date(2026, 5, 2)).has(MISMATCH)


def test_what_is_not_there_yet_is_told_last():
    chain = a_whole_chain()[:4]
    chain[3] = replace(chain[3], giver=a_side("Dov"))
    assert told(forged(chain)) == [GAP, FaultKind.NOT_FINISHED]
