import pytest
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from registry.errors import GeometryError
from registry.measure.area_shape import checked_shape, shape_from_corners

SQUARE = [(-77.02, 34.0), (-77.0, 34.0), (-77.0, 34.02), (-77.02, 34.02)]
HOLE = [(-77.015, 34.005), (-77.005, 34.005), (-77.005, 34.015), (-77.015, 34.015)]


@pytest.mark.parametrize(
    "corners", [SQUARE, [*SQUARE, SQUARE[0]], SQUARE[::-1]], ids=["open", "closed", "clockwise"]
)
def test_corners_either_way_round_and_closed_or_not(corners):
    shape = shape_from_corners(corners)
    assert shape.equals(Polygon(SQUARE))
    assert shape.exterior.is_ccw


def test_holes_are_left_out():
    shape = shape_from_corners(SQUARE, [HOLE])
    assert shape.area == pytest.approx(Polygon(SQUARE).area - Polygon(HOLE).area)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (SQUARE[:2], "at least three different corners"),
        ([SQUARE[0], SQUARE[1], SQUARE[0], SQUARE[1]], "at least three different corners"),
        ([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]], "crosses the edge"),
        ([(-77.0, 34.0), (-77.0, 95.0), (-76.0, 34.0)], "no place"),
    ],
    ids=["two", "two repeated", "bow tie", "latitude 95"],
)
def test_corners_that_bound_nothing(corners, words):
    with pytest.raises(GeometryError, match=words):
        shape_from_corners(corners)


def test_a_hole_that_is_wrong_is_numbered():
    with pytest.raises(GeometryError, match="Hole 2: An area needs"):
        shape_from_corners(SQUARE, [HOLE, HOLE[:2]])


@pytest.mark.parametrize("shift", [0.015, 1.0], ids=["across the edge", "elsewhere"])
def test_a_hole_must_lie_inside(shift):
    with pytest.raises(GeometryError, match="cannot be used") as caught:
        shape_from_corners(SQUARE, [[(lon + shift, lat) for lon, lat in HOLE]])
    assert "inside" in caught.value.remedy


def test_across_the_180th_meridian_with_a_hole_on_the_other_side():
    shape = shape_from_corners(
        [(179.9, 0.0), (-179.9, 0.0), (-179.9, 0.1), (179.9, 0.1)],
        [[(-179.98, 0.02), (-179.92, 0.02), (-179.92, 0.08)]],
    )
    assert shape.bounds == (179.9, 0.0, 180.1, 0.1)
    assert shape.is_valid
    assert len(shape.interiors) == 1


def test_a_drawing_loses_its_heights_only():
    drawn = Polygon([(*corner, -18.0) for corner in SQUARE], [[(*corner, -18.0) for corner in HOLE]])
    shape = checked_shape(drawn)
    assert not shape.has_z
    assert shape.equals(Polygon(SQUARE, [HOLE]))


def test_a_drawing_in_two_parts():
    east = [(lon + 1, lat) for lon, lat in SQUARE]
    shape = checked_shape(MultiPolygon([Polygon(SQUARE), Polygon(east)]))
    assert isinstance(shape, MultiPolygon)
    assert len(shape.geoms) == 2


def test_parts_that_overlap_are_refused():
    other = [(lon + 0.01, lat) for lon, lat in SQUARE]
    with pytest.raises(GeometryError, match="cannot be used"):
        checked_shape(MultiPolygon([Polygon(SQUARE), Polygon(other)]))


def test_parts_that_meet_on_the_180th_meridian_are_one():
    west = Polygon([(179.9, 0.0), (180.0, 0.0), (180.0, 0.1), (179.9, 0.1)])
    east = Polygon([(-180.0, 0.0), (-179.9, 0.0), (-179.9, 0.1), (-180.0, 0.1)])
    assert checked_shape(MultiPolygon([west, east])).bounds == (179.9, 0.0, 180.1, 0.1)


@pytest.mark.parametrize(
    "shape", [Point(0, 0), LineString([(0, 0), (1, 1)]), Polygon(), MultiPolygon()], ids=lambda s: s.geom_type
)
def test_what_is_no_area(shape):
    with pytest.raises(GeometryError):
        checked_shape(shape)


def test_a_drawing_that_crosses_itself_says_where():
    with pytest.raises(GeometryError, match=r"crosses the edge .* 34\.01"):
        checked_shape(Polygon([SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]))
