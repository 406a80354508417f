"""Corners that cannot bound an area are told apart, each with its reason."""

import numpy as np
import pytest

from registry.measure.ring import ring_problem

SQUARE = [(-77.0, 34.0), (-76.9, 34.0), (-76.9, 34.1), (-77.0, 34.1)]


@pytest.mark.parametrize(
    "corners",
    [
        SQUARE,
        [*SQUARE, SQUARE[0]],
        SQUARE[::-1],
        [(179.9, 0.0), (-179.9, 0.0), (-179.9, 0.1), (179.9, 0.1)],
        [(179.9, 0.0), (180.1, 0.0), (180.1, 0.1), (179.9, 0.1)],
        [(0, 89.9), (90, 89.9), (180, 89.9), (-90, 89.9)],
        [(0.0, 0.0), (1e-4, 0.0), (1e-4, 1e-4)],
    ],
    ids=["open", "closed", "clockwise", "jumping", "past 180", "round the pole", "11 m"],
)
def test_good_rings_have_no_problem(corners):
    assert ring_problem(corners) is None


@pytest.mark.parametrize(
    ("corners", "reason"),
    [
        ([], "not pairs"),
        ([1.0, 2.0, 3.0], "not pairs"),
        ([(0, 0), (1, 1)], "at least three different corners; here are 2"),
        ([(0, 0), (1, 1), (0, 0), (1, 1)], "at least three different corners"),
        ([(0, 0), (0, 0), (0, 0)], "at least three different corners; here are 0"),
        ([(0, 0), (np.nan, 1), (1, 1)], "Corner 2 is not a number"),
        ([(0, 0), (np.inf, 1), (1, 1)], "Corner 2 is not a number"),
        ([(0, 0), (1, 0), (34.0, -91.0)], "Corner 3 is no place: latitude -91, longitude 34"),
        ([(0, 0), (1, 0), (2, 0)], "enclose no area"),
        ([(0, 0), (0, 1), (0, 2), (0, 1.5)], "enclose no area"),
        (
            [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]],
            "from corner 1 to 2 crosses the edge from corner 3 to 4 near latitude 34.05",
        ),
        (
            [(0, 0), (0, 0), (1, 1), (1, 0), (0, 1)],
            "from corner 2 to 3 crosses the edge from corner 4 to 5",
        ),
        (
            [*SQUARE, (-77.0, 34.2), (-77.0, 34.1)],
            "from corner 4 to 5 runs back along the edge from corner 5 to 6",
        ),
        ([(0, 0), (1, 1), (2, 0), (2, 2), (1, 1), (0, 2)], "touches the edge"),
    ],
)
def test_bad_rings_say_why(corners, reason):
    assert reason in (ring_problem(corners) or "")
