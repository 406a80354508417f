"""Shapes across the 180th meridian."""

import pytest
from shapely import MultiPolygon, Polygon

from registry.errors import GeometryError
from registry.measure.antimeridian import (
    join_at_antimeridian,
    split_at_antimeridian,
    unwrap_polygon,
    unwrap_ring,
)

JUMPING = Polygon(
    [(179.0, 0.0), (-179.0, 0.0), (-179.0, 1.0), (179.0, 1.0)],
    [
        [(179.9, 0.4), (-179.9, 0.4), (-179.9, 0.6), (179.9, 0.6)],
        [(-179.5, 0.1), (-179.4, 0.1), (-179.4, 0.2)],
    ],
)


def test_rings_are_unwrapped_both_ways():
    assert unwrap_ring([(179, 0), (-179, 1), (178, 2)])[:, 0].tolist() == [179.0, 181.0, 178.0]
    assert unwrap_ring([(-179, 0), (179, 1), (-178, 2)])[:, 0].tolist() == [-179.0, -181.0, -178.0]
    assert unwrap_ring([(10, 0), (20, 1)])[:, 0].tolist() == [10.0, 20.0]


def test_holes_follow_their_shell():
    whole = unwrap_polygon(JUMPING)
    assert whole.is_valid
    assert whole.area == pytest.approx(2.0 - 0.2 * 0.2 - 0.005)


def test_split_and_join_come_back_to_the_same_area():
    cut = split_at_antimeridian(JUMPING)
    assert isinstance(cut, MultiPolygon)
    assert cut.is_valid
    assert cut.bounds == (-180.0, 0.0, 180.0, 1.0)
    assert all(part.exterior.is_ccw and not any(h.is_ccw for h in part.interiors) for part in cut.geoms)
    joined = join_at_antimeridian(cut)
    assert isinstance(joined, Polygon)
    assert joined.symmetric_difference(unwrap_polygon(JUMPING)).area == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("turn", [-360.0, 0.0, 360.0])
def test_an_area_on_one_side_comes_back_within_180(turn):
    area = Polygon([(10 + turn, 0), (11 + turn, 0), (11 + turn, 1)])
    assert split_at_antimeridian(area).equals(Polygon([(10, 0), (11, 0), (11, 1)]))


def test_an_area_that_ends_on_the_meridian_is_not_cut():
    area = Polygon([(179.0, 0.0), (180.0, 0.0), (180.0, 1.0)])
    assert split_at_antimeridian(area).equals(area)
    assert join_at_antimeridian(area) is area


def test_parts_that_do_not_meet_the_meridian_are_left_alone():
    apart = MultiPolygon([Polygon([(0, 0), (1, 0), (1, 1)]), Polygon([(2, 0), (3, 0), (3, 1)])])
    assert join_at_antimeridian(apart) is apart


def test_a_ring_round_the_pole_cannot_be_cut():
    with pytest.raises(GeometryError, match="pole"):
        split_at_antimeridian(Polygon([(0, 89), (90, 89), (180, 89), (-90, 89)]))
