"""Several machines that write apart: whatever the order of the bundles, all come to the same registry."""

import itertools
import os
import random
import shutil
import signal
import subprocess
import sys
import textwrap
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from registry.actions.decide_contest import decide_contest
from registry.actions.import_bundle import import_bundle
from registry.actions.rotate_key import rotate_key
from registry.actions.trust_device import distrust_device
from registry.errors import ConflictError, LeadlineError, NotFoundError, RejectedError, UnavailableError
from registry.formats.bundle_file import read_bundle
from registry.formats.signed_statement import sign, verify
from registry.records.certificate import key_thumbprint
from registry.records.custody import Step
from registry.records.entry import Draft, Entry, canonical_json, seal
from registry.records.programme_key import KeyEnd
from registry.storage.clock import SystemClock
from registry.storage.geopackage import backup, open_register
from registry.storage.journal_head import find_head
from registry.storage.keys import create_key
from registry.storage.replay import rebuild_tables, registry_as_of, verify_tables
from tests.builders import (
    ACTOR,
    NOON,
    a_baseline,
    a_hand_over,
    a_keep_out,
    a_module,
    a_permit,
    a_placement,
    a_resurvey,
    a_stocked_registry,
    a_target,
    a_type,
    amended,
    baseline_added,
    certificate_issued,
    custody_handed,
    custody_withdrawn,
    keep_out_added,
    module_added,
    module_amended,
    permit_added,
    permit_amended,
    placement_corrected,
    placement_logged,
    placement_resurveyed,
    placement_withdrawn,
    target_added,
    type_added,
)
from tests.machines import Machine, an_office, opened


@pytest.fixture
def office(tmp_path: Path) -> Machine:
    office = an_office(tmp_path)
    office.writes(*a_stocked_registry())
    return office


@pytest.fixture
def boat(office: Machine, tmp_path: Path) -> Machine:
    boat = office.copied_to(tmp_path / "boat.gpkg").named("Petrel")
    office.trusts(boat)
    boat.imports(office.exports())
    return boat


def exchange_all(*machines: Machine) -> None:
    """Let everybody have everything."""
    for _ in range(2):
        bundles = [machine.exports() for machine in machines]
        for machine, data in itertools.product(machines, bundles):
            machine.imports(data)
    for machine in machines:
        machine.is_sound()
    assert len({machine.register.head() for machine in machines}) == 1
    assert all(machine.tables() == machines[0].tables() for machine in machines)


def subjects(machine: Machine) -> list[str]:
    return [f"{each.subject} {each.name}" for each in machine.exchange.contests()]


# One origin, one file


def test_a_copy_writes_under_an_origin_of_its_own(office, tmp_path):
    copy = office.copied_to(tmp_path / "copy.gpkg")
    (first,) = copy.writes(module_added(a_module(tag="MR-0100")))
    (second,) = copy.writes(module_added(a_module(tag="MR-0101")))
    assert first.endswith("-1")
    assert second == first.replace("-1", "-2")
    assert copy.origin == first[:-2] != office.origin
    assert copy.register.origin == office.register.origin
    copy.is_sound()
    (mine,) = office.writes(module_added(a_module(tag="MR-0102")))
    assert mine.startswith(office.register.origin)


def test_a_backup_put_back_counts_apart_and_gets_what_was_lost_from_the_boat(office, boat, tmp_path):
    backup(office.register, tmp_path / "old.gpkg")
    (lost,) = office.writes(module_added(a_module(tag="MR-0100")))
    boat.imports(office.exports())
    restored = opened(tmp_path / "old.gpkg", office.key)
    (after,) = restored.writes(module_added(a_module(tag="MR-0200")))
    assert not after.startswith(office.origin)
    restored.imports(boat.exports())
    assert {module.tag for module in restored.register.modules()} >= {"MR-0100", "MR-0200"}
    restored.is_sound()
    assert lost in {entry.reference for entry in restored.register.journal()}


def test_a_file_that_gets_entries_of_its_own_origin_counts_apart_from_then_on(office, boat, tmp_path):
    shutil.copy(office.path, tmp_path / "twin.gpkg")
    office.writes(module_added(a_module(tag="MR-0100")))
    boat.imports(office.exports())
    twin = opened(tmp_path / "twin.gpkg", office.key)
    twin.imports(boat.exports())
    (after,) = twin.writes(module_added(a_module(tag="MR-0200")))
    assert not after.startswith(office.origin)
    twin.is_sound()


def test_two_files_that_wrote_as_one_device_are_told_and_nothing_is_taken_in(office, boat, tmp_path):
    shutil.copy(office.path, tmp_path / "twin.gpkg")
    twin = opened(tmp_path / "twin.gpkg", office.key)
    (mine,) = office.writes(module_added(a_module(tag="MR-0100")))
    twin.writes(module_added(a_module(tag="MR-0200")))
    before = office.tables()
    with pytest.raises(
        ConflictError, match=f"Two machines wrote as {office.origin}: {mine} is one entry"
    ) as told:
        office.imports(twin.exports())
    assert "leadline backup" in told.value.remedy
    assert office.tables() == before


def test_a_copy_without_a_name_exports_nothing(office, tmp_path):
    copy = office.copied_to(tmp_path / "copy.gpkg")
    with pytest.raises(ConflictError, match="no machine of its own"):
        copy.exports()
    with pytest.raises(ConflictError, match="made the registry"):
        office.named("Office")
    with pytest.raises(ConflictError, match="is Petrel already"):
        copy.named("Petrel").named("Tern")


# Trust


def test_nobody_is_trusted_without_an_act_and_that_travels(office, tmp_path):
    boat, tern = (office.copied_to(tmp_path / f"{n}.gpkg").named(n) for n in ("Petrel", "Tern"))
    boat.writes(placement_logged())
    before = office.tables()
    with pytest.raises(RejectedError, match="nobody vouches"):
        office.imports(boat.exports())
    assert office.tables() == before
    with pytest.raises(RejectedError, match="nobody vouches"):
        tern.imports(boat.exports())
    office.trusts(boat)
    assert office.imports(boat.exports()).signed_by == "Petrel"
    # The other boat hears of it from the office, or from the very bundle that the office's word is in.
    boat.imports(office.exports())
    assert tern.imports(boat.exports()).signed_by == "Petrel"
    with pytest.raises(ConflictError, match="trusted already"):
        office.trusts(boat)


def test_a_machine_that_is_trusted_no_longer_is_refused(office, boat):
    boat.writes(placement_logged())
    office.imports(boat.exports())
    distrust_device(office.register, office.exchange, "petrel", reason="stolen in port", actor=ACTOR)
    boat.writes(placement_logged(a_placement(tag="MR-0002")))
    with pytest.raises(RejectedError, match="nobody vouches"):
        office.imports(boat.exports())
    assert len(office.register.placements()) == 1
    with pytest.raises(ConflictError, match="stolen in port"):
        office.trusts(boat)
    # The word by which it was trusted once is still in the thief's hands.
    (word,) = boat.register.journal(kind="device.trusted")
    boat.writes(Draft(kind="device.trusted", actor="thief", body=word.content()))
    with pytest.raises(RejectedError, match="nobody vouches"):
        office.imports(boat.exports())


def test_a_machine_cannot_vouch_for_another(office, boat, tmp_path):
    rogue = office.copied_to(tmp_path / "rogue.gpkg").named("Rogue")
    boat.trusts(rogue)  # Signed with the boat's key, which is not the programme's.
    office.imports(boat.exports())
    for machine in (boat, office):
        with pytest.raises(RejectedError, match="nobody vouches"):
            machine.imports(rogue.exports())


@pytest.mark.parametrize("ended", list(KeyEnd))
def test_a_new_key_of_the_programme_comes_with_the_word_of_the_old_or_of_a_person(
    office, boat, tmp_path, ended
):
    old, new = office.key, create_key(tmp_path / "new.keys")
    office.imports(boat.exports())
    endorse = (lambda statement: sign(statement, old)) if ended is KeyEnd.RETIRED else None
    rotate_key(
        office.register, new.public_key, ended=ended, reason="five years", actor=ACTOR, endorse=endorse
    )
    stolen, office.key = office.exports(), new
    data = office.exports()
    if ended is not KeyEnd.RETIRED:
        with pytest.raises(RejectedError, match="nobody vouches"):
            boat.imports(data)
        with pytest.raises(RejectedError, match="nobody vouches"):
            boat.imports(data, compared=old.key_id)
    boat.imports(data, compared="" if endorse else new.key_id)
    boat.is_sound()
    boat.writes(placement_logged())
    if ended is KeyEnd.STOLEN:
        # Neither the thief is heard any more, nor the machines for which the stolen key vouched.
        with pytest.raises(RejectedError, match="nobody vouches"):
            boat.imports(stolen)
        with pytest.raises(RejectedError, match="nobody vouches"):
            office.imports(boat.exports())
        office.trusts(boat)
    assert office.imports(boat.exports()).signed_by == "Petrel"


def test_another_registry_is_refused(office, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    other = an_office(tmp_path / "elsewhere")
    with pytest.raises(ConflictError, match="another registry"):
        office.imports(other.exports())


# Exchange


def test_an_import_is_idempotent_and_heads_are_equal(office, boat):
    boat.writes(placement_logged())
    office.writes(module_added(a_module(tag="MR-0100")))
    done = office.imports(boat.exports())
    assert dict(done.brought) == {boat.origin: (2, 2)} or dict(done.brought) == {boat.origin: (1, 2)}
    before = office.tables()
    again = office.imports(boat.exports())
    assert again.count == 0
    assert office.tables() == before
    assert boat.imports(office.exports()).head == office.register.head() == done.head


def test_a_gap_names_what_is_missing_and_writes_nothing(office, boat, tmp_path):
    office.imports(boat.exports())
    tern = office.copied_to(tmp_path / "tern.gpkg").named("Tern")
    boat.writes(*[placement_logged(a_placement(tag=f"MR-010{i}")) for i in range(3)])
    office.imports(boat.exports())
    # What the office is known to hold is left out: nobody else can use that bundle alone.
    office.writes(module_added(a_module(tag="MR-0900")))
    boat.imports(office.exports())
    boat.writes(placement_logged(a_placement(tag="MR-0200")))
    part = boat.exports(to=office.origin)
    assert [entry.content()["tag"] for entry in read_bundle(part).entries] == ["MR-0200"]
    before = tern.tables()
    with pytest.raises(ConflictError, match=f"missing between.*: {boat.origin}-2 to {boat.origin}-4") as told:
        tern.imports(part)
    assert "earlier bundle first" in told.value.remedy
    assert tern.tables() == before
    tern.imports(boat.exports())
    assert tern.imports(part).count == 0
    tern.is_sound()


def test_a_correction_of_what_is_unknown_here_waits_for_it(office, boat, tmp_path):
    office.imports(boat.exports())
    tern = office.copied_to(tmp_path / "tern.gpkg").named("Tern")
    office.trusts(tern)
    (placed,) = tern.writes(placement_logged())
    boat.imports(office.exports())
    boat.imports(tern.exports())
    boat.imports(office.exports())
    boat.writes(placement_corrected(a_placement(), supersedes=placed))
    office.imports(boat.exports())
    assert len(office.register.placements()) == 1
    office.is_sound()


OPERATIONS = (
    "module", "amend", "place", "correct", "withdraw", "resurvey", "target", "move", "permit", "version",
    "type", "keepout", "baseline", "certificate", "custody", "custody-back", "declare", "decide", "row",
)  # fmt: skip


def draft_of(machine: Machine, chance: random.Random, number: int) -> list[Draft]:
    """Give something that somebody at this machine could write, of few names so that machines meet."""
    register = machine.register
    tag, kind = f"MR-000{chance.randrange(1, 5)}", chance.choice(OPERATIONS)
    standing = [str(each) for each in register.placements().placement_id]
    memorial = f"Name {number}"
    if kind == "amend":
        return [module_amended(a_module(tag=tag, mass_kg=500.0 + number))]
    if kind in ("place", "row"):
        source = {"key": f"row {chance.randrange(3)}"} if kind == "row" else {}
        return [placement_logged(a_placement(tag=tag, source=source, charted_depth_m=15.0 + number / 100))]
    if kind in ("correct", "withdraw", "resurvey") and standing:
        old = chance.choice(standing)
        placement = register.placement(old)
        if kind == "correct":
            return [placement_corrected(a_placement(tag=placement.tag), supersedes=old)]
        if kind == "withdraw":
            return [placement_withdrawn(old, tag=placement.tag)]
        before = register.resurveys(placement.tag)
        newest = str(before[-1]["reference"]) if before and chance.random() < 0.5 else ""
        return [placement_resurveyed(a_resurvey(tag=placement.tag, placement_id=old), supersedes=newest)]
    if kind in ("target", "move"):
        planned = [each for each in register.targets() if each.tag == tag]
        target = a_target(tag=tag, target_id=f"T-{chance.randrange(6)}")
        return [target_added(target, supersedes=planned[0].target_id if planned else "")]
    if kind == "permit":
        return [permit_added(a_permit(number=f"P-{chance.randrange(3)}", holder=memorial))]
    if kind == "version":
        return [permit_amended(amended(holder=memorial))]
    if kind == "type":
        return [type_added(a_type(type_id=f"t-{chance.randrange(3)}", note=memorial))]
    if kind == "keepout":
        return [keep_out_added(a_keep_out(keep_out_id=f"k-{chance.randrange(3)}", setback_m=50.0 + number))]
    if kind == "baseline":
        return [baseline_added(a_baseline(baseline_id=f"b-{chance.randrange(2)}", name=memorial))]
    if kind == "certificate":
        version = len(register.certificate_versions(tag)) + 1
        return [certificate_issued(tag=tag, number=f"N-{tag}", version=version)]
    if kind == "custody":
        return [custody_handed(a_hand_over(Step.RECEIVED, tag=tag))]
    if kind == "custody-back":
        there = register.hand_overs(tag)
        return [custody_withdrawn(str(there[-1]["reference"]), tag=tag)] if there else []
    if kind == "declare":
        return [Draft(kind="programme.declared", actor=ACTOR, body={"about": "visitors", "words": memorial})]
    if kind == "decide":
        for contest in machine.exchange.contests()[:1]:
            if contest.subject != "declaration":
                chosen = chance.choice([contest.stands, contest.against])
                decide_contest(register, machine.exchange, chosen, reason="looked", actor=ACTOR)
        return []
    return [module_added(a_module(tag=f"MR-00{chance.randrange(10, 14)}", mass_kg=400.0 + number))]


@pytest.mark.parametrize("seed", range(8))
def test_every_order_of_import_gives_the_same_registry(office, tmp_path, seed):
    chance = random.Random(seed)
    ahead = (0.0, chance.uniform(-7200, 7200), chance.uniform(-7200, 7200))
    fleet = [office]
    for name, s in zip(("Petrel", "Tern"), ahead[1:], strict=True):
        fleet.append(office.copied_to(tmp_path / f"{name}.gpkg", ahead_s=s).named(name))
        office.trusts(fleet[-1])
    for machine in fleet[1:]:
        machine.imports(office.exports())
    written = 0
    for step in range(60):
        machine = chance.choice(fleet)
        if chance.random() < 0.12:
            machine.imports(chance.choice([other for other in fleet if other is not machine]).exports())
            continue
        try:
            written += len(machine.register.append(draft_of(machine, chance, step)))
        except LeadlineError:
            continue  # Refused here as it would be in any registry.
    assert written > 25
    for machine in fleet:
        machine.is_sound()
    bundles = [machine.exports() for machine in fleet]
    found = []
    for n, order in enumerate(itertools.permutations(bundles)):
        seen = (
            office.copied_to(tmp_path / f"seen{n}.gpkg")
            if n % 2
            else fleet[2].copied_to(tmp_path / f"s{n}.gpkg")
        )
        for data in order:
            seen.imports(data)
        seen.is_sound()
        found.append((seen.register.head(), seen.tables()))
        with seen.register.writing():
            rebuild_tables(seen.register)
        assert seen.tables() == found[-1][1]
        seen.register.close()
    assert all(each == found[0] for each in found)
    # Nothing is lost: every entry that anybody wrote is there, once.
    entries = {entry.digest for machine in fleet for entry in machine.register.journal()}
    assert {row[-1] for row in found[0][1]["journal"]} == entries
    exchange_all(*fleet)


# What contradicts itself


def test_one_tag_placed_on_both_stands_twice_until_it_is_decided(office, boat):
    (here,) = office.writes(placement_logged())
    (there,) = boat.writes(placement_logged(a_placement(charted_depth_m=12.0)))
    exchange_all(office, boat)
    (twice,) = office.exchange.placed_twice()
    assert (twice.tag, set(twice.placements)) == ("MR-0001", {here, there})
    boat.writes(placement_withdrawn(here))
    exchange_all(office, boat)
    assert office.exchange.placed_twice() == ()
    assert office.register.placement_ids("MR-0001") == (there,)


@pytest.mark.parametrize(
    ("draft", "subject", "read"),
    [
        (lambda n: module_added(a_module(tag="MR-0077", mass_kg=400.0 + n)), "module MR-0077",
         lambda r, n: r.module("MR-0077").mass_kg == 400.0 + n),
        (lambda n: module_amended(a_module(tag="MR-0001", mass_kg=400.0 + n)), "module MR-0001",
         lambda r, n: r.module("MR-0001").mass_kg == 400.0 + n),
        (lambda n: type_added(a_type(type_id="own", note=f"n{n}")), "type own",
         lambda r, n: r.module_type("own").note == f"n{n}"),
        (lambda n: permit_added(a_permit(number="P-9", holder=f"H{n}")), "permit P-9 from 2024-05-01",
         lambda r, n: r.permit("P-9").holder == f"H{n}"),
        (lambda n: permit_amended(amended(holder=f"H{n}")), None,
         lambda r, n: r.permit_versions(amended().number)[-1].holder == f"H{n}"),
        (lambda n: keep_out_added(a_keep_out(keep_out_id="w", setback_m=50.0 + n)), "keep-out w",
         lambda r, n: [k.setback_m for k in r.keep_outs() if k.keep_out_id == "w"] == [50.0 + n]),
        (lambda n: baseline_added(a_baseline(baseline_id="w", name=f"B{n}")), "baseline w",
         lambda r, n: [b.name for b in r.baselines() if b.baseline_id == "w"] == [f"B{n}"]),
        (lambda n: target_added(a_target(tag="MR-0001", target_id=f"T-9{n}")), None,
         lambda r, n: [t.target_id for t in r.targets() if t.tag == "MR-0001"] == [f"T-9{n}"]),
    ],
    ids=["module", "amended", "type", "permit", "version", "keepout", "baseline", "target"],
)  # fmt: skip
@pytest.mark.parametrize("chosen", [0, 1])
def test_of_two_facts_the_first_stands_until_somebody_decides(office, boat, draft, subject, read, chosen):
    references = [office.writes(draft(0))[0], boat.writes(draft(1))[0]]
    exchange_all(office, boat)
    (contest,) = office.exchange.contests()
    assert subject in (None, f"{contest.subject} {contest.name}")
    assert {contest.stands, contest.against} == set(references)
    assert read(office.register, references.index(contest.stands))
    closed = decide_contest(
        boat.register, boat.exchange, references[chosen], reason="seen ashore", actor=ACTOR
    )
    assert closed == (contest,)
    exchange_all(office, boat)
    assert office.exchange.contests() == ()
    assert read(office.register, chosen)
    with pytest.raises(NotFoundError, match="no open contest"):
        decide_contest(boat.register, boat.exchange, references[0], reason="again", actor=ACTOR)


def test_the_same_fact_from_both_is_no_contest(office, boat):
    for machine in (office, boat):
        machine.writes(module_added(a_module(tag="MR-0077")))
    exchange_all(office, boat)
    assert office.exchange.contests() == ()


def test_an_amendment_by_who_knew_both_closes_the_contest(office, boat):
    office.writes(module_amended(a_module(mass_kg=501.0)))
    boat.writes(module_amended(a_module(mass_kg=502.0)))
    exchange_all(office, boat)
    assert subjects(office) == ["module MR-0001"]
    boat.writes(module_amended(a_module(mass_kg=503.0)))
    exchange_all(office, boat)
    assert office.exchange.contests() == ()
    assert office.register.module("MR-0001").mass_kg == 503.0


def test_corrected_here_and_withdrawn_there_is_shown_and_the_correction_stands(office, boat):
    (placed,) = office.writes(placement_logged())
    exchange_all(office, boat)
    (better,) = office.writes(placement_corrected(a_placement(charted_depth_m=12.0), supersedes=placed))
    boat.writes(placement_withdrawn(placed))
    exchange_all(office, boat)
    assert office.register.placement_ids("MR-0001") == (better,)
    (contest,) = office.exchange.contests()
    assert "corrected on one machine and withdrawn on another" in contest.sentence
    office.writes(placement_withdrawn(better))
    exchange_all(office, boat)
    assert office.exchange.contests() == ()
    assert office.register.placement_ids("MR-0001") == ()


def test_one_certificate_number_on_two_machines_keeps_both_papers(office, boat):
    office.writes(certificate_issued(tag="MR-0001", number="N-1"))
    boat.writes(certificate_issued(tag="MR-0002", number="N-1"))
    exchange_all(office, boat)
    versions = office.register.certificate_versions()
    assert [(each.number, each.tag, str(each.state)) for each in versions] == [
        ("N-1", tag, "current") for tag in sorted(("MR-0001", "MR-0002"), key=[v.tag for v in versions].index)
    ]
    assert subjects(office) == ["certificate N-1"]


def test_a_decision_on_each_machine_is_shown_again(office, boat):
    here, there = (
        office.writes(type_added(a_type(type_id="own")))[0],
        boat.writes(type_added(a_type(type_id="own", mass_kg=999.0)))[0],
    )
    exchange_all(office, boat)
    decide_contest(office.register, office.exchange, here, reason="the drawing", actor=ACTOR)
    decide_contest(boat.register, boat.exchange, there, reason="the scales", actor=ACTOR)
    exchange_all(office, boat)
    (contest,) = office.exchange.contests()
    assert "decided on two machines" in contest.sentence
    decide_contest(office.register, office.exchange, there, reason="weighed again", actor=ACTOR)
    exchange_all(office, boat)
    assert office.exchange.contests() == ()
    assert office.register.module_type("own").mass_kg == 999.0


# Proof, heads and what was known


def test_papers_of_before_and_after_a_merge_are_found(office, boat):
    papers = [office.register.head()]
    office.writes(module_added(a_module(tag="MR-0100")))
    papers.append(office.register.head())
    boat.writes(placement_logged())
    office.imports(boat.exports())
    merged = office.register.head()
    assert merged not in {entry.digest for entry in office.register.journal()}
    covered = office.register.journal_length()
    office.writes(module_added(a_module(tag="MR-0101")))
    papers += [merged, office.register.head()]
    exchange_all(office, boat)
    for machine in (office, boat):
        assert all(find_head(machine.register, digits[:16]) for digits in papers)
    found = find_head(office.register, merged)
    assert found is not None
    assert (found.covered, found.added, found.since) == (covered, 1, {"module.added": 1})
    assert find_head(office.register, "0" * 64) is None


def test_a_certificate_that_cites_several_ends_is_in_its_place(office, boat):
    office.writes(module_added(a_module(tag="MR-0100")))
    boat.writes(placement_logged())
    office.imports(boat.exports())
    statement = {"name": "Ada", "journal": office.register.head()}
    office.writes(certificate_issued(statement=statement))
    exchange_all(office, boat)


def test_what_was_known_here_counts_from_its_import(office, boat):
    office.imports(boat.exports())
    boat.writes(placement_logged())
    written = boat.clock.instant
    office.clock.instant = written + (NOON.replace(hour=20) - NOON)
    before = office.clock.instant
    office.writes(module_added(a_module(tag="MR-0100")))
    office.imports(boat.exports())
    after = office.clock.instant
    with registry_as_of(office.register, before) as then:
        assert len(then.placements()) == 0
        assert verify_tables(then) == ()
    with registry_as_of(office.register, after) as now:
        assert len(now.placements()) == 1
        assert now.head() == office.register.head()
    # On the boat it was known from the moment it was written.
    with registry_as_of(boat.register, written) as then:
        assert len(then.placements()) == 1


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("DELETE FROM journal WHERE position = 9", "removed"),
        ("UPDATE journal SET body = replace(body, 'MR', 'XX') WHERE position = 9", "changed"),
        ("DELETE FROM journal WHERE position = (SELECT max(position) FROM journal)", "removed"),
        ("DELETE FROM machine WHERE name = 'ends'", "removed"),
        ("DELETE FROM contests", "Table contests"),
    ],
)
def test_what_was_changed_after_a_merge_is_found(office, boat, change, told):
    office.writes(module_added(a_module(tag="MR-0100", mass_kg=1.0)))
    boat.writes(module_added(a_module(tag="MR-0100", mass_kg=2.0)))
    exchange_all(office, boat)
    for name in ("keeps_every_entry", "changes_no_entry"):
        office.register.connection.execute(f"DROP TRIGGER journal_{name}")
    office.register.connection.execute(change)
    with pytest.raises(AssertionError, match=told):
        office.is_sound()


def test_entries_put_in_another_order_are_found(office, boat):
    office.clock.instant += timedelta(days=1)
    office.writes(module_added(a_module(tag="MR-0100")))
    boat.writes(module_added(a_module(tag="MR-0101")))
    exchange_all(office, boat)
    connection = office.register.connection
    connection.execute("DROP TRIGGER journal_changes_no_entry")
    last = office.register.journal_length()
    for old, new in ((last, -1), (last - 1, last), (-1, last - 1)):
        connection.execute("UPDATE journal SET position = ? WHERE position = ?", (new, old))
    with pytest.raises(AssertionError, match="stands where"):
        office.is_sound()


# Nothing half done


def test_an_import_that_fails_takes_all_of_it_back(office, boat, monkeypatch):
    boat.writes(placement_logged())
    office.clock.instant += timedelta(days=1)
    office.writes(module_added(a_module(tag="MR-0100")))
    data = boat.exports()
    before = office.tables()

    def fail(*_, **__):
        raise RuntimeError("the battery")

    for moment in ("fill_tables", "verify_journal", "insert_entry"):
        with monkeypatch.context() as patch:
            patch.setattr(f"registry.storage.exchange.{moment}", fail)
            with pytest.raises(RuntimeError, match="battery"):
                office.imports(data)
        assert office.tables() == before
        office.is_sound()
    assert office.imports(data).count > 0


KILLED = """
import os, signal, sys
from pathlib import Path
import registry.storage.exchange as exchange
from registry.storage.geopackage import open_register
from registry.storage.clock import SystemClock
from registry.actions.import_bundle import import_bundle
from registry.formats.bundle_file import read_bundle
from registry.formats.signed_statement import verify
kept = getattr(exchange, sys.argv[3])
def killed(*a, **k):
    kept(*a, **k)
    os.kill(os.getpid(), signal.SIGKILL)
setattr(exchange, sys.argv[3], killed)
register = open_register(sys.argv[1], clock=SystemClock())
bundle = read_bundle(Path(sys.argv[2]).read_bytes())
import_bundle(register, exchange.RegisterExchange(register), bundle, actor="Ada", verify=verify)
"""


@pytest.mark.parametrize("moment", ["insert_entry", "fill_tables", "note", "verify_journal"])
def test_a_process_killed_in_the_midst_leaves_the_registry_as_it_was(office, boat, tmp_path, moment):
    boat.writes(placement_logged())
    (tmp_path / "boat.bundle").write_bytes(boat.exports())
    office.clock.instant += timedelta(days=1)
    office.writes(module_added(a_module(tag="MR-0100")))
    before = office.tables()
    office.register.close()
    line = [sys.executable, "-c", textwrap.dedent(KILLED), office.path, tmp_path / "boat.bundle", moment]
    done = subprocess.run(
        [str(word) for word in line], capture_output=True, check=False, env=dict(os.environ)
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    again = opened(office.path, office.key)
    assert again.tables() == before
    again.is_sound()
    assert again.imports(boat.exports()).count > 0
    again.is_sound()


def test_what_a_stolen_key_forged_is_noticed(office, boat):
    """A thief with a trusted machine writes an entry that passes over the one before it."""
    boat.writes(placement_logged())
    connection = boat.register.connection
    origin, previous = connection.execute(
        "SELECT origin, previous FROM journal ORDER BY position DESC"
    ).fetchone()
    forged = seal(placement_logged(), origin=origin, sequence=3, time=NOON, previous=previous)
    connection.execute(
        "INSERT INTO journal (origin, sequence, time, actor, kind, body, previous, digest)"
        " VALUES (?, 3, '2026-06-01T16:00:00.000Z', ?, ?, ?, ?, ?)",
        (origin, forged.actor, forged.kind, forged.body, previous, forged.digest),
    )
    before = office.tables()
    with pytest.raises(LeadlineError):
        office.imports(boat.exports())
    assert office.tables() == before


def test_a_reader_beside_an_import_sees_one_state(office, boat):
    boat.writes(placement_logged())
    with open_register(office.path, clock=SystemClock(), writable=False) as reader, reader.reading():
        head = reader.head()
        office.imports(boat.exports())
        assert reader.head() == head
    assert len(key_thumbprint(office.key.public_key)) == 43


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Give the way to everything in plain data."""
    yield path
    for key, below in (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    ):
        yield from leaves(below, (*path, key))


def bent(body: Any, path: tuple[Any, ...], value: Any) -> str:
    """Give a body in which one thing is another, or is missing."""
    at = body
    for key in path[:-1]:
        at = at[key]
    if value is ...:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    return canonical_json(body)


@pytest.mark.parametrize("seed", range(2))
def test_bodies_bent_by_who_holds_a_trusted_key_are_refused_or_can_be_read(office, boat, seed):
    chance = random.Random(seed)
    office.imports(boat.exports())
    (placed,) = boat.writes(placement_logged())
    boat.writes(
        type_added(a_type(type_id="own")),
        permit_added(a_permit(number="P-9")),
        keep_out_added(a_keep_out(keep_out_id="w")),
        baseline_added(a_baseline(baseline_id="w")),
        target_added(a_target(tag="MR-0002", target_id="T-9")),
        placement_resurveyed(a_resurvey(placement_id=placed)),
        custody_handed(a_hand_over()),
        certificate_issued(tag="MR-0003", number="N-3"),
        placement_corrected(a_placement(), supersedes=placed),
        module_amended(a_module(tag="MR-0002")),
    )
    bundle, held, before = read_bundle(boat.exports()), office.exchange.held(), office.tables()
    new = [entry for entry in bundle.entries if entry.sequence > held.get(entry.origin, 0)]
    values: list[Any] = [None, True, -1, 1e300, "x", [], {}, "../../x", 10**30, "2026-13-45", ...]
    refused: list[tuple[LeadlineError, str, Any]] = []
    for _ in range(40):
        at = chance.randrange(len(new))
        path = chance.choice([path for path in leaves(new[at].content()) if path])
        made: list[Entry] = []
        for n, entry in enumerate(new):
            body = bent(entry.content(), path, chance.choice(values)) if n == at else entry.body
            previous = made[-1].digest if made else entry.previous
            changed = replace(entry, body=body, previous=previous)
            made.append(replace(changed, digest=changed.expected_digest()))
        try:
            with office.register.writing():
                kept = tuple(entry for entry in bundle.entries if entry not in new)
                whole = replace(bundle, entries=(*kept, *made))
                import_bundle(office.register, office.exchange, whole, actor=ACTOR, verify=verify)
                office.register.placements()
                office.register.permit_history()
                office.register.resurveys()
                office.register.certificate_versions()
                office.is_sound()
                raise InterruptedError
        except InterruptedError:
            continue
        except LeadlineError as error:
            refused.append((error, new[at].kind, path))
        finally:
            assert office.tables() == before
    assert len(refused) > 12
    assert [each for each in refused if isinstance(each[0], UnavailableError)] == []
