"""A permit is transcribed with every area brought home, or refused with the reason."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime

import pytest
from pyproj import Geod
from shapely import LineString, MultiPolygon, Point, Polygon, get_coordinates
from shapely.geometry.base import BaseGeometry

from registry.actions.add_keep_outs import add_keep_outs
from registry.errors import (
    ConflictError,
    FrameError,
    GeometryError,
    InvalidRecordError,
    LeadlineError,
    PermitError,
    PositionTextError,
)
from registry.formats.written_quantity import read_length
from registry.records.quantity import Quantity
from tests.actions.stocked import a_register, add_permit_text
from tests.builders import ACTOR, a_programme
from tests.rules.one_case import a_square

GRS80 = Geod(ellps="GRS80")

PERMIT = """
[permit]
number = "HB-0500"
authority = "Harbour Bay Coastal Office"
valid_from = {begins}
valid_to = {ends}
chart_datum = "MLLW"
{areas}
{conditions}
"""
AREA = """
[[area]]
id = "north-patch"
{frame}
corners = {corners}
"""
CORNERS = '["33 59.000 N 077 01.000 W", "33 59.000 N 077 00.000 W", "34 00.000 N 077 00.000 W", "34 00.000 N 077 01.000 W"]'


def permit_text(
    *,
    frame='frame = "EPSG:6318"',
    corners=CORNERS,
    more="",
    areas=None,
    conditions="",
    begins="2024-05-01",
    ends="2034-04-30",
):
    areas = areas if areas is not None else AREA.format(frame=frame, corners=corners) + more
    return PERMIT.format(areas=areas, conditions=conditions, begins=begins, ends=ends)


def condition(lines):
    return f'[[condition]]\ncite = "Special condition 7"\n{lines}\n'


@dataclass(frozen=True)
class Drawn:
    """Shapes as a layer of a file gives them."""

    frame: str | None
    shapes: tuple[tuple[str, BaseGeometry], ...] = field(default_factory=tuple)


def drawn(frame, *shapes):
    return lambda _source, _layer: Drawn(frame, tuple(("part", shape) for shape in shapes))


def test_a_permit_in_the_home_frame_keeps_its_corners():
    register = a_register()
    permit = add_permit_text(
        register, permit_text(conditions=condition('rule = "clearance"\nleast = "50 ft"'))
    )
    assert register.permit("HB-0500") == permit
    (area,) = permit.areas
    assert sorted(get_coordinates(area.shape)[:4].round(9).tolist()) == [
        [-77.016666667, 33.983333333],
        [-77.016666667, 34.0],
        [-77.0, 33.983333333],
        [-77.0, 34.0],
    ]
    assert (area.frame, area.edges, area.operation) == ("EPSG:6318", "geodesic", "none: same frame")
    assert permit.conditions[0].limits["least"].value == pytest.approx(15.24)
    assert permit.valid_to == date(2034, 4, 30)
    assert list(register.journal())[-1].kind == "permit.added"


def test_an_area_in_wgs84_moves_home_by_the_right_metre():
    # ITRF2020 to NAD83(2011) at 33 N 78 W: 1.0703 m at 2026.9 and 0.876 m at 2010 (EPSG:10334, worked out with
    # PROJ 9.5.1 and independently). A permit that states no epoch is read at its first day, here 2026.9.
    corners = '["33.00000000, -78.00000000", "33.00000000, -77.99000000", "33.01000000, -77.99000000"]'
    for stated, begins, shift_m in (
        ('frame = "EPSG:4326"', "2026-11-25", 1.0703),
        ('frame = "EPSG:4326"\nepoch = 2010.0', "2026-11-25", 0.876),
        ('frame = "EPSG:4326"\nepoch = 2026.9', "2024-05-01", 1.0703),
    ):
        permit = add_permit_text(a_register(), permit_text(frame=stated, corners=corners, begins=begins))
        shape = permit.areas[0].shape
        nearest = min(GRS80.inv(-78.0, 33.0, lon, lat)[2] for lon, lat in get_coordinates(shape))
        assert nearest == pytest.approx(shift_m, abs=1e-3)
        assert "EPSG:10334" in permit.areas[0].operation
        assert permit.areas[0].epoch is not None


def test_an_area_outside_the_region_of_the_home_frame_is_refused_in_that_frame_too():
    corners = '["18.0 S 178.0 E", "18.0 S 178.1 E", "17.9 S 178.1 E"]'
    with pytest.raises(FrameError, match="outside the region of the home frame"):
        add_permit_text(a_register(), permit_text(corners=corners))


def test_an_epoch_that_was_taken_is_told_in_the_operation():
    corners = '["33.000000, -78.000000", "33.000000, -77.990000", "33.010000, -77.990000"]'
    text = permit_text(frame='frame = "EPSG:4326"', corners=corners)
    operation = add_permit_text(a_register(), text).areas[0].operation
    assert operation.endswith("; no epoch was stated: that of 2024-05-01 is taken")
    stated = permit_text(frame='frame = "EPSG:4326"\nepoch = 2024.3', corners=corners)
    assert "no epoch" not in add_permit_text(a_register(), stated).areas[0].operation


def test_an_epoch_in_the_corners_is_the_epoch():
    """The same corners at 2010.0 and at 2026.9 lie 0.2 m apart: see the metre by which WGS 84 moves home."""
    bare = ("33.00000000, -78.00000000", "33.00000000, -77.99000000", "33.01000000, -77.99000000")
    for epoch, shift_m in ((2010.0, 0.876), (2026.9, 1.0703)):
        corners = str([f"{corner} WGS84 epoch {epoch}" for corner in bare]).replace("'", '"')
        for beside in ("", f"epoch = {epoch}"):
            (area,) = add_permit_text(a_register(), permit_text(frame=beside, corners=corners)).areas
            assert area.epoch == epoch
            assert "no epoch was stated" not in area.operation
            nearest = min(GRS80.inv(-78.0, 33.0, lon, lat)[2] for lon, lat in get_coordinates(area.shape))
            assert nearest == pytest.approx(shift_m, abs=1e-3)


def test_a_condition_for_some_areas_and_a_frame_for_reports_are_kept():
    second = AREA.replace("north", "south").format(
        frame='frame = "EPSG:6318"', corners=CORNERS.replace("34 00.0", "33 58.0")
    )
    text = permit_text(
        more=second,
        conditions=condition('rule = "spacing"\nleast_m = 6\narea = "south-patch"')
        + '[reporting]\nframe = "NAD83(2011)"\n',
    )
    permit = add_permit_text(a_register(), text)
    assert permit.conditions[0].areas == ("south-patch",)
    assert permit.reporting.frame == "EPSG:6318"


def test_the_frame_may_stand_in_the_corners():
    corners = '["33.000000, -78.000000 WGS84", "33.000000, -77.990000 WGS84", "33.010000, -77.990000 WGS84"]'
    assert add_permit_text(a_register(), permit_text(frame="", corners=corners)).areas[0].frame == "EPSG:4326"


def test_a_hole_stays_a_hole():
    hole = 'holes = [["33 59.400 N 077 00.600 W", "33 59.400 N 077 00.400 W", "33 59.600 N 077 00.400 W"]]'
    shape = add_permit_text(a_register(), permit_text(more=hole)).areas[0].shape
    assert isinstance(shape, Polygon)
    assert len(shape.interiors) == 1
    assert not shape.contains(Point(-77.0 - 0.45 / 60, 33 + 59.45 / 60))


def test_a_circle_is_round_on_the_ellipsoid():
    areas = (
        '[[area]]\nid = "round"\nframe = "EPSG:6318"\ncentre = "34 00.000 N 077 00.000 W"\nradius = "300 m"\n'
    )
    shape = add_permit_text(a_register(), permit_text(areas=areas)).areas[0].shape
    away = [GRS80.inv(-77.0, 34.0, lon, lat)[2] for lon, lat in get_coordinates(shape)]
    assert min(away) == pytest.approx(300.0, abs=0.05)
    assert max(away) == pytest.approx(300.0, abs=0.05)


def test_several_areas_each_keep_their_name_and_edges():
    second = '\n[[area]]\nid = "south-patch"\nframe = "EPSG:6318"\nedges = "rhumb"\ncentre = "33 50.000 N 077 00.000 W"\nradius = "300 m"\n'
    permit = add_permit_text(a_register(), permit_text(more=second))
    assert [(area.area_id, area.edges) for area in permit.areas] == [
        ("north-patch", "geodesic"),
        ("south-patch", "rhumb"),
    ]


def test_an_area_across_the_180th_meridian_runs_on():
    corners = '["52 00.000 N 179 59.000 E", "52 00.000 N 179 59.000 W", "52 01.000 N 179 59.000 W", "52 01.000 N 179 59.000 E"]'
    for frame in ("EPSG:6318", "EPSG:4326"):
        shape = (
            add_permit_text(a_register(), permit_text(frame=f'frame = "{frame}"', corners=corners))
            .areas[0]
            .shape
        )
        assert shape.bounds[2] - shape.bounds[0] < 0.04
        assert shape.is_valid


def test_a_source_of_several_parts_is_one_area():
    areas = '[[area]]\nid = "drawn"\nsource = "areas.gpkg"\n'
    shapes = drawn("EPSG:6318", a_square(-77.0, 34.0, 200.0), a_square(-77.02, 34.0, 200.0))
    permit = add_permit_text(a_register(), permit_text(areas=areas), read_shapes=shapes)
    assert isinstance(permit.areas[0].shape, MultiPolygon)
    assert len(permit.areas[0].shape.geoms) == 2
    assert "areas.gpkg" in permit.areas[0].written


def test_a_projected_source_is_said_to_be_in_the_frame_under_its_grid():
    areas = '[[area]]\nid = "drawn"\nsource = "areas.gpkg"\n'
    permit = add_permit_text(
        a_register(), permit_text(areas=areas), read_shapes=drawn("EPSG:6347", a_square(-77.0, 34.0))
    )
    assert permit.areas[0].frame == "EPSG:6318"  # EPSG:6347 is NAD83(2011) / UTM zone 18N


FROM_FILE = '[[area]]\nid = "drawn"\nsource = "areas.gpkg"\n'
BOW_TIE = Polygon([(-77.0, 34.0), (-76.99, 34.01), (-76.99, 34.0), (-77.0, 34.01)])

REFUSED = {
    "a condition for an area that is not there": (
        permit_text(conditions=condition('rule = "spacing"\nleast_m = 6\narea = "south-patch"')),
        PermitError,
        "'spacing'.*area 'south-patch'.*It has: north-patch",
    ),
    "reports in no frame": (
        permit_text(conditions='[reporting]\nframe = "EPSG:99999"'),
        FrameError,
        "reporting.*99999",
    ),
    "epochs in corners differ": (
        permit_text(
            frame='frame = "EPSG:4326"',
            corners='["33.0, -78.0 epoch 2010.0", "33.0, -77.9 epoch 2011.0", "33.1, -77.9 epoch 2010.0"]',
        ),
        PermitError,
        "several epochs: 2010, 2011",
    ),
    "epoch beside and inside differ": (
        permit_text(
            frame='frame = "EPSG:4326"\nepoch = 2020.0',
            corners='["33.0, -78.0 epoch 2010.0", "33.0, -77.9 epoch 2010.0", "33.1, -77.9 epoch 2010.0"]',
        ),
        PermitError,
        "several epochs: 2010, 2020",
    ),
    "no frame": (permit_text(frame=""), PermitError, "states no frame.*EPSG"),
    "frames in corners differ": (
        permit_text(
            frame="", corners='["34.0, -77.0 WGS84", "34.0, -76.9 NAD83(2011)", "34.1, -76.9 WGS84"]'
        ),
        PermitError,
        "several frames",
    ),
    "frame beside and inside differ": (
        permit_text(corners='["34.0, -77.0 WGS84", "34.0, -76.9 WGS84", "34.1, -76.9 WGS84"]'),
        PermitError,
        r"states NAD83\(2011\), but its source says WGS 84",
    ),
    "unknown frame": (permit_text(frame='frame = "EPSG:99999"'), FrameError, "north-patch.*99999"),
    "edges cross": (
        permit_text(
            corners='["34 00.0 N 077 00.0 W", "34 01.0 N 076 59.0 W", "34 00.0 N 076 59.0 W", "34 01.0 N 077 00.0 W"]'
        ),
        GeometryError,
        "north-patch",
    ),
    "two corners": (
        permit_text(corners='["34 00.0 N 077 00.0 W", "34 01.0 N 076 59.0 W"]'),
        LeadlineError,
        "corner",
    ),
    "three corners in one line": (
        permit_text(corners='["34 00.0 N 077 00.0 W", "34 01.0 N 077 00.0 W", "34 02.0 N 077 00.0 W"]'),
        GeometryError,
        "north-patch",
    ),
    "a corner that nobody can read": (
        permit_text(corners='["34 00.0", "34 01.0 N 076 59.0 W", "34 02.0 N 077 00.0 W"]'),
        PositionTextError,
        "34 00.0",
    ),
    "hole outside": (
        permit_text(
            more='holes = [["34 10.0 N 077 00.6 W", "34 10.0 N 077 00.4 W", "34 11.0 N 077 00.4 W"]]'
        ),
        GeometryError,
        "north-patch",
    ),
    "unknown rule": (
        permit_text(conditions=condition('rule = "spaceing"\nleast_m = 6.0')),
        PermitError,
        "Did you mean 'spacing'",
    ),
    "limit without unit": (
        permit_text(conditions=condition('rule = "spacing"\nleast = 6.0')),
        PermitError,
        "without unit",
    ),
    "unknown parameter": (
        permit_text(conditions=condition('rule = "spacing"\nminimum_m = 6.0')),
        PermitError,
        "'minimum'.*does not read",
    ),
    "wrong dimension": (
        permit_text(conditions=condition('rule = "spacing"\nleast = "6 kg"')),
        PermitError,
        "a mass.*Give a length",
    ),
    "no limit": (permit_text(conditions=condition('rule = "spacing"')), PermitError, "states no limit"),
    "unknown order": (
        permit_text(conditions=condition('rule = "position-quality"\norder = "3"')),
        PermitError,
        "3",
    ),
    "unknown basis": (
        permit_text(conditions=condition('rule = "spacing"\nleast_m = 6\nbasis = "centers"')),
        PermitError,
        "edge, centre",
    ),
    "setback below zero": (
        permit_text(conditions=condition('rule = "inside-area"\nsetback_m = -50')),
        PermitError,
        "below zero",
    ),
    "least above greatest": (
        permit_text(conditions=condition('rule = "depth-band"\nleast_m = 40\ngreatest_m = 20')),
        PermitError,
        "at least.*at most",
    ),
    "dates the wrong way round": (
        permit_text(begins="2034-05-01", ends="2024-04-30"),
        PermitError,
        "before it begins",
    ),
    "an area twice": (
        permit_text(more=AREA.format(frame='frame = "EPSG:6318"', corners=CORNERS)),
        PermitError,
        "twice|names",
    ),
    "no area": (permit_text(areas=""), PermitError, "area"),
    "radius of nothing": (
        permit_text(
            areas='[[area]]\nid = "r"\nframe = "EPSG:6318"\ncentre = "34 00.0 N 077 00.0 W"\nradius = "0 m"\n'
        ),
        LeadlineError,
        "radius",
    ),
    "axes swapped, outside the frame": (
        permit_text(
            frame='frame = "EPSG:4326"',
            corners='["77 00.0 S 034 00.0 E", "77 01.0 S 034 00.0 E", "77 01.0 S 034 01.0 E"]',
        ),
        FrameError,
        "north-patch.*outside",
    ),
}


@pytest.mark.parametrize(("text", "error", "told"), REFUSED.values(), ids=list(REFUSED))
def test_a_permit_that_cannot_be_used_is_refused_and_nothing_is_written(text, error, told):
    register = a_register()
    before = register.head()
    with pytest.raises(error, match=f"(?s).*({told})") as refusal:
        add_permit_text(register, text)
    assert refusal.value.remedy
    assert register.head() == before


@pytest.mark.parametrize(
    ("shapes", "told"),
    [
        (drawn(None, a_square(-77.0, 34.0)), "states no frame"),
        (drawn("EPSG:6318", Point(-77.0, 34.0)), "A Point bounds no area"),
        (drawn("EPSG:6318", BOW_TIE), "drawn"),
        (drawn("EPSG:6318", a_square(-77.0, 34.0), a_square(-77.001, 34.0)), "overlap"),
    ],
    ids=["no frame", "a point", "crosses itself", "parts overlap"],
)
def test_a_drawing_that_bounds_no_area_is_refused(shapes, told):
    with pytest.raises(LeadlineError, match=told):
        add_permit_text(a_register(), permit_text(areas=FROM_FILE), read_shapes=shapes)


def test_an_empty_source_is_refused():
    with pytest.raises(LeadlineError):
        add_permit_text(a_register(), permit_text(areas=FROM_FILE), read_shapes=drawn("EPSG:6318"))


def test_a_frame_beside_a_drawing_must_be_that_of_the_drawing():
    areas = FROM_FILE + 'frame = "EPSG:6318"\n'
    assert add_permit_text(
        a_register(), permit_text(areas=areas), read_shapes=drawn(None, a_square(-77.0, 34.0))
    )
    with pytest.raises(PermitError, match="source says WGS 84"):
        add_permit_text(
            a_register(), permit_text(areas=areas), read_shapes=drawn("EPSG:4326", a_square(-77.0, 34.0))
        )


def test_a_number_is_recorded_once():
    register = a_register()
    add_permit_text(register, permit_text())
    before = register.head()
    with pytest.raises(ConflictError, match="HB-0500 is recorded already"):
        add_permit_text(register, permit_text())
    assert register.head() == before


def keep_outs(register, shapes, *, frame=None, setback="150 m", epoch=None):
    return add_keep_outs(
        register,
        shapes,
        kind="cable",
        setback=read_length(setback),
        frame=frame,
        epoch=epoch,
        written="cables.gpkg",
        at=datetime(2026, 11, 25, tzinfo=UTC),
        actor=ACTOR,
    )


CABLE = LineString([(-76.99, 33.99), (-76.99, 34.01)])


def test_each_shape_of_a_source_becomes_a_keep_out():
    register = a_register(keep_outs=False)
    made = keep_outs(
        register,
        Drawn(
            "EPSG:6318", (("Skua", CABLE), ("Erne", Point(-77.0, 34.0)), ("meadow", a_square(-77.0, 34.0)))
        ),
        setback="200 ft",
    )
    assert [k.name for k in made] == ["Skua", "Erne", "meadow"]
    assert len({k.keep_out_id for k in made}) == 3
    assert made[0].setback_m == pytest.approx(60.96)
    assert register.keep_outs() == made
    more = keep_outs(register, Drawn("EPSG:6318", (("Tern", CABLE),)))
    assert more[0].keep_out_id == "keep-out-0004"


def test_a_keep_out_in_wgs84_moves_home_by_the_right_metre():
    mark = Point(-78.0, 33.0)
    register = a_register()
    (now,) = keep_outs(register, Drawn("EPSG:4326", (("buoy", mark),)))
    (then,) = keep_outs(register, Drawn("EPSG:4326", (("buoy", mark),)), epoch=2010.0)
    away = [GRS80.inv(-78.0, 33.0, *get_coordinates(k.shape)[0])[2] for k in (now, then)]
    assert away == pytest.approx([1.0703, 0.876], abs=1e-3)
    assert now.epoch == pytest.approx(2026.9, abs=0.01)


@pytest.mark.parametrize(
    ("shapes", "frame", "setback", "error"),
    [
        (Drawn(None, (("Skua", CABLE),)), None, "150 m", PermitError),
        (Drawn("EPSG:4326", (("Skua", CABLE),)), "EPSG:6318", "150 m", PermitError),
        (Drawn("EPSG:6318", (("Skua", CABLE),)), None, "-150 m", InvalidRecordError),
        (Drawn("EPSG:6318", ()), None, "150 m", GeometryError),
        (Drawn("EPSG:6318", (("Skua", CABLE), ("nothing", LineString()))), None, "150 m", GeometryError),
        (Drawn("EPSG:6318", (("bow tie", BOW_TIE),)), None, "150 m", GeometryError),
        (
            Drawn("EPSG:6318", (("two", MultiPolygon([BOW_TIE, a_square(-77.1, 34.0)])),)),
            None,
            "150 m",
            GeometryError,
        ),
    ],
    ids=[
        "no frame",
        "two frames",
        "negative setback",
        "no shape",
        "empty shape",
        "crosses itself",
        "a part crosses itself",
    ],
)
def test_a_keep_out_that_cannot_be_measured_from_is_refused_and_nothing_is_written(
    shapes, frame, setback, error
):
    register = a_register()
    before = register.head()
    with pytest.raises(error) as refusal:
        keep_outs(register, shapes, frame=frame, setback=setback)
    assert refusal.value.remedy
    assert register.head() == before


def test_parts_of_a_keep_out_may_overlap():
    shape = MultiPolygon([a_square(-77.0, 34.0), a_square(-77.001, 34.0)])
    assert len(keep_outs(a_register(), Drawn("EPSG:6318", (("meadow", shape),)))) == 1


def test_a_setback_keeps_its_si_value():
    assert isinstance(read_length("1 nmi"), Quantity)
    (made,) = keep_outs(a_register(), Drawn("EPSG:6318", (("Skua", CABLE),)), setback="1 nmi")
    assert made.setback_m == pytest.approx(1852.0)
    assert a_programme().frame == "EPSG:6318"
