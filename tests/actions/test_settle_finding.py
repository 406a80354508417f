import re
from dataclasses import replace

import numpy as np
import pytest

from registry.actions.audit_registry import audit_registry
from registry.actions.settle_finding import settle_findings
from registry.measure.decision import Verdict
from registry.measure.geodesic import direct
from registry.records.permit import Condition
from registry.records.quantity import Quantity
from tests.actions.stocked import a_register, logged
from tests.audited import audit_summary, audited_registry, faulty_placements, strict_permit
from tests.builders import (
    a_module,
    a_permit,
    a_placement,
    a_quantity,
    module_added,
    placement_logged,
    target_added,
)
from tests.rules.one_case import SEA, asked, ratio


def settled(register, rule, tag):
    """Give what would settle what one rule says of one module."""
    summary = settle_findings(register, audit_summary(register))
    permit = summary.permits[0]
    row = permit.placements.tag.tolist().index(tag)
    (sentence,) = (
        each.sentence
        for each in permit.settlements
        if each.row == row and permit.conditions[each.condition].condition.rule == rule
    )
    return sentence


def with_one(**changes):
    """Give the audited registry with one more module under test, MR-0009."""
    permit = changes.pop("permit", None)
    return audited_registry(
        module_added(a_module(tag="MR-0009")),
        placement_logged(a_placement(tag="MR-0009", **changes)),
        permit=permit,
    )


def test_every_flagged_finding_is_answered():
    register = audited_registry()
    summary = settle_findings(register, audit_summary(register))
    flagged = {
        (place, int(row)) for place, one in enumerate(summary.permits[0].conditions) for row in one.flagged()
    }
    assert {(each.condition, each.row) for each in summary.permits[0].settlements} == flagged
    assert all(each.sentence for each in summary.permits[0].settlements)


def test_a_move_leads_to_ground_where_the_rules_themselves_find_nothing():
    register = audited_registry()
    told = settled(register, "inside-area", "MR-0005")
    ((distance_text, bearing_text),) = re.findall(r"A move of ([\d.]+) m toward (\d+)°", told)
    distance_m, bearing_deg = float(distance_text), float(bearing_text)
    # 184.8 m outside, 50 m of setback and 1.5 m of doubt: 236.3 m.
    assert distance_m == pytest.approx(236.3, abs=0.3)
    assert bearing_deg == pytest.approx(270, abs=1)
    old = next(each for each in faulty_placements() if each.tag == "MR-0005").home.position
    lon, lat = direct(old.lon_deg, old.lat_deg, bearing_deg, distance_m)
    there = with_one(lon_deg=float(lon), lat_deg=float(lat))
    (audit, *_) = audit_registry(there).permits
    row = audit.placements.tag.tolist().index("MR-0009")
    asked = [found for found in audit.findings if found.rule in ("inside-area", "keep-out", "spacing")]
    assert [Verdict(int(found.verdict[row])) for found in asked] == [Verdict.CONFORMING] * 3


def test_what_misses_by_far_no_survey_mends():
    # 14.6 m of water less 1.2 m of module against 15.24 m: short by 1.84 m, known to 0.401 m (JCGM 100).
    told = settled(audited_registry(), "clearance", "MR-0007")
    assert told == "No survey is likely to: it misses by 4.6 times its uncertainty."


@pytest.mark.parametrize(
    ("depth_m", "needed"),
    # 15.24 m and 1.2 m of module want 16.44 m; the height is good to 0.03 m, which the sounding must make up for.
    [(16.74, np.sqrt(0.30**2 - 0.03**2)), (16.24, np.sqrt(0.20**2 - 0.03**2))],
    ids=["inside the limit", "beyond it"],
)
def test_a_sounding_good_enough_would_settle_it_and_a_worse_one_would_not(depth_m, needed):
    register = with_one(lat_deg=33.995, charted_depth_m=depth_m, depth_u95_m=0.5)
    told = settled(register, "clearance", "MR-0009")
    asked = float(re.findall(r"good to ± ([\d.]+) m", told)[0])
    assert asked <= needed
    assert asked == pytest.approx(needed, rel=0.1)

    def verdict(u95_m):
        again = with_one(lat_deg=33.995, charted_depth_m=depth_m, depth_u95_m=u95_m)
        (audit, *_) = audit_registry(again).permits
        row = audit.placements.tag.tolist().index("MR-0009")
        return Verdict(int(next(f for f in audit.findings if f.rule == "clearance").verdict[row]))

    assert verdict(asked) is not Verdict.INCONCLUSIVE
    assert verdict(asked * 1.2) is Verdict.INCONCLUSIVE


def test_an_unknown_depth_asks_for_a_sounding():
    register = with_one(lat_deg=33.995, charted_depth_m=None, depth_u95_m=None)
    assert settled(register, "clearance", "MR-0009") == "A sounding: the depth is not known."
    assert settled(register, "depth-band", "MR-0009") == "A sounding: the depth is not known."


def test_a_coarse_fix_is_told_the_radius_that_is_asked():
    register = with_one(lat_deg=33.995, r95_m=9.0)
    assert settled(register, "position-quality", "MR-0009") == "A fix good to 5.0 m (R95) or better."


def test_the_less_sure_of_two_fixes_is_to_be_bettered():
    sound = faulty_placements()[0].home.position
    # 9.0 m between centres, 1.5 m of bases: 7.5 m, 1.5 m more than asked; known to hypot(4.0, 1.5).
    lon, lat = direct(sound.lon_deg, sound.lat_deg, 0.0, 9.0)
    register = with_one(lon_deg=float(lon), lat_deg=float(lat), r95_m=4.0)
    told = settled(register, "spacing", "MR-0009")
    assert "Better both fixes, MR-0009 (4.0 m) and MR-0001 (1.5 m): 1.0 m (R95)" in told
    # With half a metre more, bettering the one is enough: sqrt(2.0^2 - 1.5^2) = 1.32 m.
    lon, lat = direct(sound.lon_deg, sound.lat_deg, 0.0, 9.5)
    register = with_one(lon_deg=float(lon), lat_deg=float(lat), r95_m=4.0)
    told = settled(register, "spacing", "MR-0009")
    assert told.startswith("Better the fix of MR-0009 (now 4.0 m): with 1.3 m (R95) or better it is decided")


def test_a_place_without_clear_ground_says_so():
    crowded = Condition(rule="spacing", cite="4", limits={"least": a_quantity(9_000.0, written="9 km")})
    register = audited_registry(permit=strict_permit(conditions=(crowded,)))
    assert "No place inside the permit's areas" in settled(register, "spacing", "MR-0001")


def test_what_no_move_or_survey_changes_says_what_would():
    full = Condition(
        rule="capacity", cite="6", limits={"greatest_count": a_quantity(4.0, "count", written="4")}
    )
    register = audited_registry(permit=strict_permit(conditions=(full,)))
    assert settled(register, "capacity", "MR-0008").startswith("No move or survey")


def test_of_very_many_only_those_that_are_listed_are_looked_into(monkeypatch):
    monkeypatch.setattr("registry.actions.settle_finding.MOST_OF_AUDIT", 3)
    register = audited_registry()
    summary = settle_findings(register, audit_summary(register))
    assert sum(len(each.settlements) for each in summary.permits) == 3


def test_nothing_else_of_the_audit_is_changed():
    register = audited_registry()
    before = audit_summary(register)
    after = settle_findings(register, before)
    assert [replace(each, settlements=()).counts for each in after.permits] == [
        each.counts for each in before.permits
    ]


SLIDES: dict[str, Quantity | float | str] = {"least_sliding_factor": ratio(1.5), **SEA}
#: Rule, its limits, where the module lies, how deep, and what would settle it.
OF_THE_FOUR = [
    ("season", {"closed": "1 May to 31 October"}, {}, "No move or survey: check the day"),
    ("stability", SLIDES, {"depth": "5.0 m"}, "An engineer's own figures"),
    ("stability", SLIDES, {"depth": "8.0 m", "depth_u95": "2.5 m"}, "A better sounding may decide it"),
    ("stability", SLIDES, {"depth": None, "depth_u95": None}, "A sounding: the depth is not known."),
    (
        "target-offset",
        {"greatest": 5.0},
        {"position": "34 00.0100 N 077 00.0000 W"},
        "No survey is likely to: it misses by 9.0 times its uncertainty. A move of 15.0 m toward 180° true",
    ),
    (
        "target-offset",
        {"greatest": 18.0},
        {"position": "34 00.0100 N 077 00.0000 W"},
        "A fix good to 0.48 m (R95) or better would decide it where it lies. A move of 2.0 m toward 180° true",
    ),
    (
        "target-offset",
        {"greatest": 5.0},
        {"tag": "MR-0002"},
        "What it is measured from must be recorded first.",
    ),
    ("offshore-distance", {"least": 9.0}, {}, "What it is measured from must be recorded first."),
]


@pytest.mark.parametrize(("rule", "limits", "said", "told"), OF_THE_FOUR)
def test_what_would_settle_a_season_a_shore_a_plan_and_a_wave(rule, limits, said, told):
    register = a_register(permits=[a_permit(conditions=(asked(rule, **limits),))])
    register.append([target_added()])
    logged(register, **said)
    assert told in settled(register, rule, said.get("tag", "MR-0001"))
