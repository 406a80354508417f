import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPoint, Point, Polygon

from registry.measure.antimeridian_cut import cut_at_antimeridian, single_parts

AREA = Polygon([(179.0, 0.0), (181.0, 0.0), (181.0, 1.0), (179.0, 1.0)])


@pytest.mark.parametrize(
    "line", [[(179.0, 0.0), (181.0, 1.0)], [(179.0, 0.0), (-179.0, 1.0)]], ids=["on", "jump"]
)
def test_a_line_is_cut_where_it_crosses(line):
    cut = cut_at_antimeridian(LineString(line))
    assert [list(part.coords) for part in single_parts(cut)] == [
        [(179.0, 0.0), (180.0, 0.5)],
        [(-180.0, 0.5), (-179.0, 1.0)],
    ]


@pytest.mark.parametrize("lon", [-77.0, 180.0, -180.0, 190.0, -190.0, 540.0])
def test_points_come_home(lon):
    point = cut_at_antimeridian(Point(lon, 3.0))
    assert isinstance(point, Point)
    assert -180 <= point.x <= 180
    assert (point.x - lon) % 360 == 0
    assert point.y == 3.0


def test_collections_keep_their_kinds():
    mixed = GeometryCollection([Point(190, 0), LineString([(0, 0), (1, 1)]), AREA])
    kinds = [part.geom_type for part in single_parts(cut_at_antimeridian(mixed))]
    assert kinds == ["Point", "LineString", "Polygon", "Polygon"]
    assert cut_at_antimeridian(MultiPoint([(181, 0), (1, 1)])).equals(MultiPoint([(-179, 0), (1, 1)]))


@pytest.mark.parametrize("lon", [180.0, -180.0, 540.0])
def test_a_line_along_the_meridian(lon):
    cut = cut_at_antimeridian(LineString([(lon, 0.0), (lon, 1.0)]))
    assert list(cut.coords) == [(-180.0, 0.0), (-180.0, 1.0)]


def test_what_does_not_cross_is_left_alone():
    line = LineString([(-77.0, 34.0), (-76.0, 35.0)])
    assert cut_at_antimeridian(line).equals_exact(line)


@given(
    st.lists(st.tuples(st.floats(-100, 100), st.floats(-60, 60)), min_size=2, max_size=6, unique=True),
    st.floats(100, 260),
)
def test_no_length_is_lost(steps, start):
    line = LineString([(start + lon / 2, lat) for lon, lat in steps])
    # A line that runs back over itself is drawn once, and one along the meridian on both sides.
    assume(line.is_simple and all(x % 360 != 180 for x, _ in line.coords))
    cut = cut_at_antimeridian(line)
    west, _, east, _ = cut.bounds
    assert -180 <= west <= east <= 180
    assert cut.length == pytest.approx(line.length, rel=1e-9, abs=1e-9)
