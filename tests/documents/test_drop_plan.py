"""The plan of a drop: to scale, north up, escaped, and without a style of its own."""

import itertools
import math
import re
import xml.etree.ElementTree as ET

import pytest
from shapely import Polygon

from registry.documents.drop_plan import PlanMark, draw_drop
from registry.measure.clear_ground import Move
from registry.measure.geodesic import direct
from registry.records.permit import Area
from registry.records.position import Position
from registry.records.target import Target

HOOK = Position(lat_deg=34.0, lon_deg=-77.0, frame="EPSG:6318", epoch=2010.0, r95_m=3.0)
NEAR = PlanMark(name="MC-0001", distance_m=6.0, bearing_deg=90.0, radius_m=0.5)


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def texts(svg: str) -> list[str]:
    return [text for text in drawn(svg).itertext() if text.strip()]


def test_a_neighbour_to_the_east_stands_to_the_right_at_the_distance_that_the_bar_tells():
    svg = draw_drop(HOOK, neighbours=[NEAR])
    box = re.search(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)"', svg.split("<g", 1)[1])
    assert box
    x, y, width = map(float, box.groups())
    bar = re.search(r"v7h([\d.]+)v-7", svg)
    assert bar
    told_m = float(next(t for t in texts(svg) if t.endswith(" m"))[:-2])
    per_m = float(bar[1]) / told_m
    assert (x + width / 2 - 180) / per_m == pytest.approx(6.0, abs=0.1)
    assert y + width / 2 == pytest.approx(180, abs=0.2)


def test_the_circle_is_that_of_95_percent():
    svg = draw_drop(HOOK, neighbours=[NEAR])
    bar, radius = re.search(r"v7h([\d.]+)v-7", svg), re.search(r'<circle [^>]*r="([\d.]+)"', svg)
    assert bar
    assert radius
    told_m = float(next(t for t in texts(svg) if t.endswith(" m"))[:-2])
    assert float(radius[1]) / (float(bar[1]) / told_m) == pytest.approx(3.0, abs=0.06)


@pytest.mark.parametrize("bearing", [0.0, 45.0, 200.0])
def test_the_arrow_leads_where_the_hook_should_go(bearing):
    svg = draw_drop(HOOK, move=Move(distance_m=8.0, bearing_deg=bearing, lon=-77.0, lat=34.0))
    tip = re.search(r'<path d="M([\d.]+) ([\d.]+)L[^"]*Z" fill="#0b1c26"/>', svg)
    assert tip
    dx, dy = float(tip[1]) - 180, 180 - float(tip[2])
    assert math.degrees(math.atan2(dx, dy)) % 360 == pytest.approx(bearing, abs=0.5)


def test_the_edge_of_the_area_is_drawn_only_where_it_is_seen():
    def area(half_m: float) -> Area:
        corners = [
            tuple(float(v) for v in direct(HOOK.lon_deg, HOOK.lat_deg, b, half_m)[:2])
            for b in (45.0, 135.0, 225.0, 315.0)
        ]
        return Area(
            area_id="a", shape=Polygon(corners), edges="geodesic", frame="EPSG:6318", epoch=2010.0,
            written="", operation="",
        )  # fmt: skip

    def numbers(svg: str) -> list[float]:
        found = re.search(r'<path d="([^"]+)" fill="#e3eef3"', svg)
        assert found
        return [float(value) for value in re.findall(r"-?[\d.]+", found[1])]

    near, far = (draw_drop(HOOK, neighbours=[NEAR], areas=[area(size)]) for size in (8.0, 5_000.0))
    assert all(0 < value < 360 for value in numbers(near))
    assert not any(0 < value < 360 for value in numbers(far))
    assert len(far) < 4_000


def test_what_people_typed_cannot_leave_the_drawing():
    evil = PlanMark(name='<a href="x">"&', distance_m=3.0, bearing_deg=10.0)
    svg = draw_drop(HOOK, neighbours=[evil])
    assert '<a href="x">"&' in texts(svg)
    assert "style=" not in svg


def test_the_target_is_shown_where_it_is():
    lon, lat = (float(v) for v in direct(HOOK.lon_deg, HOOK.lat_deg, 180.0, 5.0)[:2])
    target = Target(
        target_id="t", permit="p", tag="MC-0001", lon_deg=lon, lat_deg=lat, frame="EPSG:6318", epoch=None,
        written="", operation="",
    )  # fmt: skip
    svg = draw_drop(HOOK, target=target)
    diamond = re.search(r'd="M([\d.]+) ([\d.]+)l10 10', svg)
    assert diamond
    assert float(diamond[1]) == pytest.approx(180, abs=0.2)
    assert float(diamond[2]) + 10 > 185
    assert "target" in texts(svg)


def test_no_name_is_written_over_another():
    marks = [PlanMark(name=f"MC-{k:04d}", distance_m=6.0 + 0.2 * k, bearing_deg=100.0) for k in range(4)]
    svg = draw_drop(HOOK, neighbours=marks)
    heights = sorted(float(y) for y in re.findall(r'<text x="[\d.]+" y="([\d.]+)" text-anchor="end"', svg))
    assert len(heights) == 4
    assert all(after - before >= 14 for before, after in itertools.pairwise(heights))
