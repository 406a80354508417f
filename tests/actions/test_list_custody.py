"""The chains of all modules at once are those of each one by one."""

from datetime import UTC, datetime

from registry.actions.follow_custody import follow_custody
from registry.actions.list_custody import list_custody
from registry.actions.record_hand_over import record_hand_overs
from registry.records.custody import HandOverDraft, Step, WrittenSide
from tests.actions.stocked import a_register, logged
from tests.builders import ACTOR
from tests.fakes import MemoryFamilies


def draft(tag, step, day, giver, taker, *, read=None):
    at = datetime(2026, 1, day, 12, tzinfo=UTC)
    sides = (
        WrittenSide(name=giver, tag=tag, identification="C-1"),
        WrittenSide(name=taker, tag=read or tag, identification="C-1"),
    )
    return HandOverDraft(tag=tag, step=step, at=at, at_text=at.isoformat(), giver=sides[0], taker=sides[1])


def test_all_chains_are_told_as_each_alone():
    register = a_register()
    logged(register)
    drafts = [
        draft("MR-0001", Step.RECEIVED, 3, "Skua Crematory", "yard"),
        draft("MR-0001", Step.CURED, 5, "yard", "yard", read="MR-0007"),
        draft("MR-0002", Step.RECEIVED, 3, "Skua Crematory", "yard"),
        draft("MR-0777", Step.RECEIVED, 3, "Skua Crematory", "yard"),
    ]
    record_hand_overs(register, MemoryFamilies(), drafts, actor=ACTOR)
    chains = {chain.tag: chain for chain in list_custody(register)}
    assert len(chains) == 10
    assert "MR-0777" in chains
    for tag, chain in chains.items():
        assert chain == follow_custody(register, tag)
    assert len(chains["MR-0001"].faults) >= 3
