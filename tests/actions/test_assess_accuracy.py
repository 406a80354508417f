"""Check surveys against the registry: whom they accuse, and of what."""

from datetime import UTC, datetime

import numpy as np
import pytest

from registry.actions.assess_accuracy import assess_accuracy
from registry.errors import NotFoundError
from registry.formats.written_position import read_position
from registry.measure.geodesic import direct
from registry.measure.uncertainty import R95_FACTOR
from registry.records.log_row import LogRow
from registry.records.quantity import Quantity
from tests.builders import ACTOR, a_programme, a_stocked_registry, many_placements, placement_logged
from tests.fakes import FixedClock, MemoryRegister

CHECKED = datetime(2027, 10, 2, 16, tzinfo=UTC)


@pytest.fixture
def register():
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0))
    register.append(a_stocked_registry(40))
    register.append([placement_logged(one) for one in many_placements(30, r95_m=2.0)])
    return register


def checks(register, offsets_m, *, r95_m=0.2) -> list[LogRow]:
    """Find every module where it really is: the registry's position less its error."""
    table = register.placements()
    rows = []
    for i, (east, north) in enumerate(offsets_m):
        bearing = float(np.degrees(np.arctan2(-east, -north)))
        lon, lat = direct(table.lon_deg[i], table.lat_deg[i], bearing, float(np.hypot(east, north)))
        rows.append(check(str(table.tag[i]), float(lon), float(lat), r95_m=r95_m))
    return rows


def check(tag, lon=-77.0, lat=34.0, *, r95_m=0.2, **more) -> LogRow:
    return LogRow(
        tag=tag,
        permit="",
        placed_at=CHECKED,
        position=read_position(f"{lat:+.10f} {lon:+.10f}"),
        **{
            "frame": "EPSG:6318",
            "r95": Quantity(value=r95_m, dimension="length", written="r", resolution=0.0),
            **more,
        },
    )


def normal(sigma_m, count=30, seed=5):
    return np.random.default_rng(seed).normal(0.0, sigma_m, (count, 2))


def test_honest_radii_are_found_honest(register):
    found = assess_accuracy(register, checks(register, normal(2.0 / R95_FACTOR)))
    assert found.accuracy.count == 30
    assert found.accuracy.ellipse_r95_m == pytest.approx(2.0, rel=0.2)
    assert found.sound
    assert found.order == "Special" if found.accuracy.ellipse_r95_m <= 2.0 else "1a"
    assert found.order_depth_m == pytest.approx(20.36)


def test_the_differences_are_registry_minus_check(register):
    found = assess_accuracy(register, checks(register, [(3.0, -1.0)] * 20))
    assert found.accuracy.mean_east_m == pytest.approx(3.0, abs=1e-3)
    assert found.accuracy.mean_north_m == pytest.approx(-1.0, abs=1e-3)


def test_radii_that_are_too_small_are_told(register):
    found = assess_accuracy(register, checks(register, normal(2.0)))
    assert found.radii_too_small
    assert not found.sound
    assert any("too small" in note for note in found.notes)


def test_an_outlier_is_named_and_counted_in(register):
    offsets = normal(0.8)
    offsets[11] = (25.0, -12.0)
    found = assess_accuracy(register, checks(register, offsets))
    assert [point.tag for point in found.points if point.outlier] == ["MR-0012"]
    assert found.accuracy.count == 30
    assert found.without_outliers is not None
    assert found.without_outliers.count == 29
    assert found.accuracy.rmse_radial_m > 2 * found.without_outliers.rmse_radial_m
    assert any("MR-0012" in note and "counted in" in note for note in found.notes)


def test_few_points_are_told(register):
    found = assess_accuracy(register, checks(register, normal(0.8, 19)))
    assert any("Only 19 points" in note for note in found.notes)
    assert not found.sound


def test_unequal_axes_are_told(register):
    found = assess_accuracy(register, checks(register, normal(1.0) * [1.0, 0.2]))
    assert not found.accuracy.formula_holds
    assert any("too small here" in note for note in found.notes)


def test_a_check_that_is_no_better_is_told(register):
    found = assess_accuracy(register, checks(register, normal(0.8), r95_m=2.0))
    assert any("3 times better" in note for note in found.notes)


def test_rows_that_cannot_be_used_are_given_back(register):
    rows = checks(register, normal(0.8, 25))
    rows[3], rows[4], rows[5] = check("XX"), check("MR-0040"), check(rows[0].tag)
    rows.append(check("MR-0030", frame="EPSG:4258"))
    found = assess_accuracy(register, rows)
    assert [index for index, _ in found.errors] == [3, 4, 5, 25]
    assert found.accuracy.count == 22
    with pytest.raises(NotFoundError, match="No row"):
        assess_accuracy(register, [check("XX")])
    with pytest.raises(NotFoundError, match="has no row"):
        assess_accuracy(register, [])


def test_no_order_is_met_by_a_bad_survey(register):
    assert assess_accuracy(register, checks(register, normal(30.0))).order == ""
