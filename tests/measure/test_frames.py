"""The table of frames is consistent with itself and with the EPSG register."""

import pytest
from pyproj import CRS
from pyproj.database import get_database_metadata
from pyproj.transformer import Transformer

from registry.measure.frames import (
    DIRECT_OPERATIONS,
    FRAMES,
    HUB,
    REFUSED,
    RESTLESS,
    frame_of,
    in_box,
    plate_of,
    refusal_of,
)

TO_HUB = [frame for frame in FRAMES if frame.to_itrf2020]
#: Without ETRF2020, for which the register holds two equivalent operations, at 1989.0 and at 2015.0.
ONE_STEP = [frame for frame in TO_HUB if len(frame.to_itrf2020) == 1 and frame.name != "ETRF2020"]


def operation_ids(transformer: Transformer) -> list[int]:
    ids = [
        (step.to_json_dict().get("id"), step.name.startswith("Inverse"))
        for step in transformer.operations or ()
    ]
    return [(-1 if inverse else 1) * i["code"] for i, inverse in ids if i and i["code"] != 15498]


def test_the_rows_were_made_for_this_register():
    assert get_database_metadata("EPSG.VERSION") == "v11.022"


@pytest.mark.parametrize("frame", FRAMES, ids=lambda frame: frame.name)
def test_codes_and_names_are_those_of_the_register(frame):
    flat, solid = CRS(frame.code), CRS(frame.code_3d)
    assert flat.name == frame.name
    assert flat.type_name == "Geographic 2D CRS"
    assert solid.name == frame.name
    assert solid.is_geographic
    assert flat.ellipsoid is not None
    name = {"GRS80": "GRS 1980", "WGS84": "WGS 84", "clrk66": "Clarke 1866"}[frame.ellipsoid]
    assert flat.ellipsoid.name == name or frame.taken_as == HUB
    kind = (flat.to_json_dict().get("datum") or {}).get("type")
    assert (kind == "GeodeticReferenceFrame") == frame.plate_fixed


@pytest.mark.parametrize("frame", TO_HUB, ids=lambda frame: frame.name)
def test_operations_lead_from_the_frame_to_itrf2020(frame):
    """Each named operation begins where the one before it ends, by the register's own account."""
    here = CRS(frame.code).name
    for signed in frame.to_itrf2020:
        operation = Transformer.from_pipeline(f"urn:ogc:def:coordinateOperation:EPSG::{abs(signed)}")
        source, target = operation.description.rsplit(" (", 1)[0].split(" to ")
        if signed < 0:
            source, target = target, source
        assert source == here
        here = target
    assert here == "ITRF2020"


@pytest.mark.parametrize("frame", ONE_STEP, ids=lambda frame: frame.name)
def test_proj_itself_chooses_the_same_operation(frame):
    assert operation_ids(Transformer.from_crs(frame.code_3d, "EPSG:9989", always_xy=True)) == list(
        frame.to_itrf2020
    )


def test_every_pointer_points_at_a_row():
    for frame in FRAMES:
        assert frame.code == HUB or frame.to_itrf2020 or frame.taken_as
        for code in [frame.taken_as, *(code for _, code in frame.elsewhere)]:
            assert code is None or frame_of(code) is not None
        for grid in frame.grid_operations:
            assert len(grid.grids) == len(grid.operations)
        if frame.plate_fixed and not frame.grid_operations:
            assert frame.epoch is not None
    for pair in DIRECT_OPERATIONS:
        assert all(frame_of(code) for code in pair)
    for zone in RESTLESS:
        assert all(frame_of(code) for code in zone.frames)


def test_codes_and_names_belong_to_one_row():
    codes = [code for f in FRAMES for code in {f.code, f.code_3d, *f.also_coded}]
    codes += [code for r in REFUSED for code in r.codes]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize("text", ["WGS84", "wgs 84", "EPSG:4326", "epsg:4979", " GPS "])
def test_what_receivers_write_is_one_frame(text):
    frame = frame_of(text)
    assert frame is not None
    assert frame.code == "EPSG:4326"
    assert frame.taken_as == HUB


@pytest.mark.parametrize(
    "name", ["ETRS89", "JGD2011", "SIRGAS 2000", "NZGD2000", "OSGB36", "Tokyo", "NATRF2022"]
)
def test_refused_frames_have_a_reason_and_a_remedy(name):
    refused = refusal_of(name)
    assert refused is not None
    assert refused.reason
    assert refused.remedy
    assert frame_of(name) is None


def test_boxes_across_the_180th_meridian():
    box = (157.47, -17.56, -151.27, 31.8)
    assert in_box([-157.0, 160.0, 203.0], 21.0, box).tolist() == [True, True, True]
    assert in_box([-150.0, 150.0], 21.0, box).tolist() == [False, False]


def test_no_plate_is_claimed_where_the_model_has_none():
    guam = frame_of("NAD83(MA11)")
    assert guam is not None
    assert plate_of(guam, 144.7, 13.4) is None
