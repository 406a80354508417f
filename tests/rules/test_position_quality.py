"""Known as well as the permit asks."""

import math
from typing import Any

import pytest

from registry.errors import QuantityError
from tests.rules.one_case import BAD, OK, UNSURE, a_table, feet, judged, verdicts


@pytest.mark.parametrize(("r95_m", "verdict"), [(2.999, OK), (3.0, OK), (3.001, BAD)])
def test_the_radius_is_compared_as_it_stands(r95_m, verdict):
    assert verdicts(judged("position-quality", a_table(r95_m=r95_m), {"greatest": 3.0})) == [verdict]


@pytest.mark.parametrize(("r95_m", "said"), [
    (2.999, "3.0 m"), (3.001, "3.1 m"), (1043.0, "1.1 km"), (123456.0, "130 km"),
])  # fmt: skip
def test_a_radius_is_never_written_with_an_exponent(r95_m, said):
    found = judged("position-quality", a_table(r95_m=r95_m), {"greatest": 3.0})
    assert found.message[0].startswith(f"Known within {said} (95 %);")


def test_an_order_depends_on_the_depth():
    found = judged("position-quality", a_table(2, depth_m=[20.0, 40.0], r95_m=6.5), {"order": "1a"})
    assert verdicts(found) == [BAD, OK]
    assert found.limit.tolist() == [6.0, 7.0]


def test_an_order_of_unknown_depth_is_inconclusive_unless_it_needs_none():
    table = a_table(depth_m=math.nan)
    found = judged("position-quality", table, {"order": "1a"})
    assert verdicts(found) == [UNSURE]
    assert found.message[0].endswith("S-44 order 1a (depends on the unknown depth) is asked.")
    assert verdicts(judged("position-quality", table, {"order": "Special"})) == [OK]


def test_the_tighter_of_radius_and_order_decides():
    both = dict[str, Any](greatest=feet(10), order="1a")
    found = judged("position-quality", a_table(3, r95_m=[3.0, 3.1, 7.0]), both)
    assert verdicts(found) == [OK, BAD, BAD]
    assert found.limit == pytest.approx([3.048] * 3)
    assert "at most 10 ft (3.05 m) and S-44 order 1a (6.00 m)" in found.message[0]


def test_a_radius_that_breaks_its_own_limit_is_broken_whatever_the_depth():
    found = judged(
        "position-quality", a_table(2, depth_m=math.nan, r95_m=[2.0, 4.0]), {"greatest": 3.0, "order": "1a"}
    )
    assert verdicts(found) == [UNSURE, BAD]
    assert found.limit[1] == 3.0


def test_an_order_that_nobody_knows_is_never_guessed():
    with pytest.raises(QuantityError, match="no order"):
        judged("position-quality", a_table(), {"order": "3"})
