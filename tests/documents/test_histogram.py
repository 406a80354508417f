import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from registry.documents.histogram import draw_histogram
from registry.measure.decision import Verdict, at_least


def drawn(values, u95=0.5, limit=6.0, **changes):
    values = np.asarray(values, dtype=float)
    doubts = np.broadcast_to(np.asarray(u95, dtype=float), values.shape)
    said = {
        "title": "Spacing",
        "axis": "metres, edge to edge",
        "name": "h",
        "limits": [(limit, "at least 6 m")],
        "verdict": at_least(values, doubts, limit),
    } | changes
    limits, verdict = said.pop("limits"), said.pop("verdict")
    return draw_histogram(values, doubts, verdict, limits, **said)


def bars(histogram):
    """Give the bars as (left, right, height) in pixels, all verdicts."""
    found = []
    for path in ET.fromstring(histogram.svg).iter("path"):
        for left, high, wide in re.findall(r"M([\d.]+) [\d.]+v-([\d.]+)h([\d.]+)v[\d.]+z", path.get("d", "")):
            found.append((float(left), float(left) + float(wide), float(high)))
    return found


def line_of(histogram):
    """Give where the line of the limit stands."""
    (line,) = (path for path in ET.fromstring(histogram.svg).iter("path") if path.get("stroke-dasharray"))
    return float(re.findall(r"^M([\d.]+)", line.get("d", ""))[0])


@pytest.mark.parametrize("u95", [0.1, 0.5, 2.1, 7.0])
def test_no_bar_is_narrower_than_the_doubt(u95):
    rng = np.random.default_rng(20260601)
    histogram = drawn(rng.normal(14.0, 4.0, 500), u95)
    width = float(re.findall(r"Each bar is ([\d.]+) m wide", histogram.told)[0])
    assert width >= u95


def test_no_bar_lies_across_the_limit():
    rng = np.random.default_rng(3)
    histogram = drawn(rng.normal(8.0, 3.0, 400), 0.3)
    x = line_of(histogram)
    assert all(right <= x + 0.1 or left >= x - 0.1 for left, right, _ in bars(histogram))


def test_every_known_value_is_in_a_bar():
    values = [5.0, 6.1, 7.0, 7.1, 12.0, 13.0, np.nan]
    histogram = drawn(values, 0.5)
    heights = [high for _, _, high in bars(histogram)]
    # The scale follows from the tallest bar of all: as many pixels for each module in all of them.
    unit = min(heights)
    assert sum(round(high / unit) for high in heights) == 6
    assert "Not drawn, for want of a measured value: 1." in histogram.told


def test_verdicts_read_without_colour():
    histogram = drawn([4.0, 6.2, 9.0], 0.5)
    fills = {
        path.get("fill")
        for path in ET.fromstring(histogram.svg).iter("path")
        if re.search(r"v-[\d.]+h", path.get("d", ""))
    }
    assert fills == {"#a9d3db", "#7c1108", "#fff"}

    def lightness(colour):
        red, green, blue = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    assert lightness("#a9d3db") - lightness("#7c1108") > 0.5


def test_a_stray_is_told_and_does_not_flatten_the_rest():
    values = np.append(np.random.default_rng(1).normal(14.0, 2.0, 300), 13_000.0)
    histogram = drawn(values)
    assert "1 beyond" in histogram.svg
    assert len(bars(histogram)) >= 5


def test_what_is_not_asked_is_not_drawn():
    verdict = np.array([Verdict.CONFORMING, Verdict.NOT_APPLICABLE], dtype=np.int8)
    assert len(bars(drawn([10.0, 11.0], verdict=verdict))) == 1
    assert drawn([10.0], verdict=np.array([Verdict.NOT_APPLICABLE], dtype=np.int8)) is None
    assert drawn([np.nan]) is None


@pytest.mark.parametrize(
    ("values", "u95"),
    [([6.0], 0.0), ([6.0, 6.0], 0.5), ([1e-6, 2e-6], 1e-7), ([0.0, 2e7], 30.0), ([6.0], np.nan)],
    ids=["exact", "the same twice", "tiny", "half round the world", "doubt unknown"],
)
def test_anything_measured_can_be_drawn(values, u95):
    histogram = drawn(values, u95)
    assert bars(histogram)
    assert not re.search(r"nan|inf\b", histogram.svg)
    assert len(histogram.svg) < 20_000


def test_words_are_text_and_never_markup():
    histogram = drawn([7.0, 8.0], title="<b>&", axis="<i>", limits=[(6.0, "<script>")])
    tags = {element.tag for element in ET.fromstring(histogram.svg).iter()}
    assert not {"b", "i", "script"} & tags
