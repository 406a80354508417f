"""A baseline is brought home from where its authority drew it."""

from datetime import UTC, datetime

import pytest
from pyproj import Geod
from shapely import LineString, Point, Polygon, get_coordinates

from registry.actions.add_baselines import add_baselines
from registry.errors import (
    ConflictError,
    FrameError,
    GeometryError,
    InvalidRecordError,
    PermitError,
    RequestError,
)
from tests.actions.stocked import a_register
from tests.actions.test_add_permit import BOW_TIE, Drawn
from tests.builders import ACTOR
from tests.rules.one_case import a_square

GRS80 = Geod(ellps="GRS80")
SHORE = LineString([(-78.0, 33.0), (-77.9, 33.5)])
ISLE = a_square(-77.5, 33.5)


def add(register, shapes, *, name="normal baseline", frame=None, epoch=None):
    return add_baselines(
        register,
        shapes,
        name=name,
        frame=frame,
        epoch=epoch,
        written="shore.gpkg",
        at=datetime(2026, 11, 25, tzinfo=UTC),
        actor=ACTOR,
    )


def test_lines_and_land_become_baselines():
    register = a_register()
    made = add(register, Drawn("EPSG:6318", (("west", SHORE), ("isle", ISLE))))
    assert register.baselines() == made
    assert [each.name for each in made] == ["normal baseline: west", "normal baseline: isle"]
    assert [each.baseline_id for each in made] == ["baseline-0001", "baseline-0002"]
    assert [type(each.shape) for each in made] == [LineString, Polygon]
    (one,) = add(register, Drawn(None, (("1", SHORE),)), name=" islands ", frame="NAD83(2011)")
    assert (one.name, one.baseline_id, one.frame, one.written) == (
        "islands",
        "baseline-0003",
        "EPSG:6318",
        "shore.gpkg",
    )


def test_a_baseline_in_wgs84_moves_home_by_the_right_metre():
    # As for areas and keep-outs: 1.0703 m at 33 N 78 W and 2026.9 (EPSG:10334).
    (made,) = add(a_register(), Drawn("EPSG:4326", (("1", SHORE),)))
    lon, lat = get_coordinates(made.shape)[0]
    assert GRS80.inv(-78.0, 33.0, lon, lat)[2] == pytest.approx(1.0703, abs=1e-3)
    assert made.operation.endswith("no epoch was stated: that of 2026-11-25 is taken")


@pytest.mark.parametrize(
    ("shapes", "asked", "error", "told"),
    [
        (Drawn("EPSG:6318", (("1", SHORE),)), {"name": " "}, RequestError, "no name"),
        (Drawn("EPSG:6318", ()), {}, GeometryError, "no shape"),
        (Drawn(None, (("1", SHORE),)), {}, PermitError, "The baseline states no frame"),
        (Drawn("EPSG:4326", (("1", SHORE),)), {"frame": "EPSG:6318"}, PermitError, "source says WGS 84"),
        (Drawn("EPSG:6318", (("1", Point(-77.0, 34.0)),)), {}, InvalidRecordError, "neither a line nor"),
        (Drawn("EPSG:6318", (("1", SHORE), ("2", BOW_TIE))), {}, GeometryError, "normal baseline: 2"),
        (Drawn("EPSG:6318", (("1", LineString()),)), {}, GeometryError, "empty"),
        (Drawn("EPSG:4326", (("1", LineString([(150, -30), (151, -31)])),)), {}, FrameError, "outside"),
    ],
)
def test_a_baseline_that_cannot_be_measured_from_is_refused_and_nothing_is_written(
    shapes, asked, error, told
):
    register = a_register()
    before = register.head()
    with pytest.raises(error, match=told) as refusal:
        add(register, shapes, **asked)
    assert refusal.value.remedy
    assert register.head() == before


def test_what_was_sent_twice_is_recorded_once():
    register = a_register()
    drawn = Drawn("EPSG:6318", (("west", SHORE),))
    add(register, drawn)
    with pytest.raises(ConflictError, match="recorded already, as baseline-0001"):
        add(register, drawn)
    assert len(register.baselines()) == 1
    assert len(add(register, drawn, name="another edition")) == 1
