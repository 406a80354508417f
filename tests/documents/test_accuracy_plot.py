"""The plot of a check survey: well-formed, to scale, nothing typed can act."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from registry.documents.accuracy_plot import CENTRE_X, CENTRE_Y, REACH_PX, PlotPoint, draw_accuracy
from registry.measure.accuracy import assess

SVG = "{http://www.w3.org/2000/svg}"


def drawn(east, north, wild=(), **more):
    points = [
        PlotPoint(tag=f"MR-{i:04d}", east_m=float(e), north_m=float(n), outlier=i in wild)
        for i, (e, n) in enumerate(zip(east, north, strict=True))
    ]
    return draw_accuracy(points, assess(east, north), **({"title": "Check survey"} | more))


def marks(page: str) -> list[tuple[float, float]]:
    root = ET.fromstring(page)
    found = [c for c in root.iter(f"{SVG}circle") if c.get("fill-opacity") == "0.75"]
    return [(float(c.get("cx", "")), float(c.get("cy", ""))) for c in found]


def test_marks_lie_to_scale_with_north_up():
    east, north = np.array([1.0, 0.0, -2.0]), np.array([0.0, 3.0, 0.0])
    page = drawn(east, north)
    reach = 1.08 * max(3.0, assess(east, north).ellipse_r95_m)
    expected = [
        (CENTRE_X + e * REACH_PX / reach, CENTRE_Y - n * REACH_PX / reach)
        for e, n in zip(east, north, strict=True)
    ]
    for got, wanted in zip(marks(page), expected, strict=True):
        assert got == pytest.approx(wanted, abs=0.06)


def test_outliers_are_crosses_with_their_tags():
    page = drawn([0.1, -0.2, 9.0], [0.2, 0.1, 0.0], wild={2})
    assert len(marks(page)) == 2
    assert "MR-0002" in page
    assert "outlier, counted in" in page
    assert "MR-0001" not in page


@pytest.mark.parametrize("size_m", [0.004, 0.3, 7.0, 900.0])
def test_every_size_is_drawn_inside_the_page(size_m):
    d = np.random.default_rng(1).normal(0.0, size_m, (2, 40))
    page = drawn(*d)
    for x, y in marks(page):
        assert np.hypot(x - CENTRE_X, y - CENTRE_Y) <= REACH_PX
    assert page == drawn(*d)


def test_what_was_typed_cannot_act():
    page = drawn([1.0], [1.0], title="<script>alert(1)</script>", lines=("a & b",))
    assert "<script>" not in page
    assert "a &amp; b" in page
    ET.fromstring(page)
