"""Modules against the places where the plan wants them."""

import math
from typing import Any

import numpy as np
import pytest

from registry.actions.gather_cases import cases_of
from registry.rules.catalogue import judge
from tests.builders import LAT_DEG, LON_DEG, a_permit, a_target
from tests.rules.one_case import BAD, OK, UNSURE, a_table, asked, at, feet, judged, verdicts

#: R95 of the tests' placements. Units: m.
R95_M = 1.5
MIDDLE = (LON_DEG, LAT_DEG)


@pytest.mark.parametrize(
    ("beyond_m", "verdict"), [(-1.501, OK), (-1.499, UNSURE), (1.499, UNSURE), (1.501, BAD)]
)
@pytest.mark.parametrize("bearing", [(1.0, 0.0), (0.0, -1.0), (0.6, 0.8)])
def test_the_guard_band_lies_on_both_sides_of_the_greatest_offset(beyond_m, verdict, bearing):
    away = tuple((10.0 + beyond_m) * part for part in bearing)
    found = judged("target-offset", a_table(**at(away)), {"greatest": 10.0}, targets=MIDDLE)
    assert verdicts(found) == [verdict]
    assert found.measured[0] == pytest.approx(10.0 + beyond_m, abs=1e-6)
    assert (found.u95[0], found.limit[0], found.unit) == (R95_M, 10.0, "m")


def test_a_known_line_between_two_points():
    """Flinders Peak to Buninyong, 54 972.271 m: the worked example of the GDA technical manual; from memory."""
    flinders: dict[str, Any] = {
        "lon_deg": 144.0 + (25 + 29.52440 / 60) / 60,
        "lat_deg": -(37.0 + (57 + 3.72030 / 60) / 60),
    }
    buninyong = 143.0 + (55 + 35.38390 / 60) / 60, -(37.0 + (39 + 10.15610 / 60) / 60)
    found = judged("target-offset", a_table(1, **flinders), {"greatest": 54_970.0}, targets=buninyong)
    assert found.measured[0] == pytest.approx(54_972.271, abs=1e-3)
    assert verdicts(found) == [BAD]


def test_a_module_of_which_the_plan_says_nothing_is_open_and_the_remedy_is_named():
    table = a_table(3, **at((0, 0), (3, 0), (30, 0)))
    found = judged(
        "target-offset",
        table,
        {"greatest": feet(30.0)},
        targets=([math.nan, LON_DEG, LON_DEG], [math.nan, LAT_DEG, LAT_DEG]),
    )
    assert verdicts(found) == [UNSURE, OK, BAD]
    assert list(found.message) == [
        "No target is recorded for this module: leadline target add; at most 30 ft (9.14 m) is asked.",
        "3.0 ± 1.5 m from its target; at most 30 ft (9.14 m) is asked.",
        "30.0 ± 1.5 m from its target; at most 30 ft (9.14 m) is asked.",
    ]


def test_the_target_is_that_of_the_tag_under_its_own_permit():
    table = a_table(2, **at((0, 0), (50, 0)))
    others = [
        a_target(tag="MR-0002", permit="TN-0033"),
        a_target(tag="MR-0002", lon_deg=at((50.5, 0))["lon_deg"][0]),
    ]
    cases = cases_of(
        asked=[(a_permit(), np.arange(2))],
        keep_outs=(),
        standing=table,
        zone="UTC",
        targets=[a_target(), *others],
    )
    (found,) = judge(cases, [(asked("target-offset", greatest=5.0),)])
    assert verdicts(found[0]) == [OK, OK]
    assert found[0].measured.round(3).tolist() == [0.0, 0.5]


def test_across_the_180th_meridian_it_is_not_far():
    table = a_table(lon_deg=-179.99999, lat_deg=0.0)
    found = judged("target-offset", table, {"greatest": 5.0}, targets=(179.99999, 0.0))
    assert found.measured[0] == pytest.approx(2.226, abs=1e-3)
