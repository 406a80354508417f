"""Every record refuses what contradicts itself, and says what to do."""

import math
from datetime import date, datetime

import numpy as np
import pytest
from shapely import Polygon

from registry.errors import LeadlineError
from registry.records.module import LONGEST_TAG
from registry.records.permit_draft import AreaDraft
from registry.records.public_site import PublicModule
from tests.builders import (
    a_condition,
    a_keep_out,
    a_module,
    a_permit,
    a_placement,
    a_position,
    a_programme,
    a_quantity,
    a_type,
    an_area,
)
from tests.rules.one_case import a_table

LATER = date(2034, 4, 30)


def a_public_module(**changes):
    said = {
        "tag": "MR-0001",
        "name": None,
        "lat_deg": 34.0,
        "lon_deg": -77.0,
        "r95_m": 1.5,
        "charted_depth_m": 20.0,
        "depth_u95_m": 0.4,
        "relief_m": 1.2,
        "placed_on": date(2026, 6, 1),
        "area_id": "gannet-patch",
    }
    return PublicModule(**(said | changes))


CONTRADICTIONS = {
    "a latitude beyond the pole": lambda: a_position(lat_deg=90.1),
    "a latitude that is no number": lambda: a_position(lat_deg=math.nan),
    "a longitude without end": lambda: a_position(lon_deg=math.inf),
    "a radius below zero": lambda: a_position(r95_m=-0.1),
    "a radius that is no number": lambda: a_position(r95_m=math.nan),
    "an instant without a zone": lambda: a_placement(placed_at=datetime(2026, 6, 1, 12, 0)),  # noqa: DTZ001
    "a depth without its doubt": lambda: a_placement(depth_u95_m=None),
    "a depth with a negative doubt": lambda: a_placement(depth_u95_m=-0.4),
    "a depth that is no number": lambda: a_placement(charted_depth_m=math.nan),
    "a depth doubt that is no number": lambda: a_placement(depth_u95_m=math.nan),
    "a height of nothing": lambda: a_type(height_m=0.0),
    "a radius of nothing": lambda: a_type(base_radius_m=-1.0),
    "a mass without end": lambda: a_type(mass_kg=math.inf),
    "a tolerance below zero": lambda: a_type(height_u95_m=-0.01),
    "concrete that floats upward": lambda: a_type(submerged_mass_kg=1400.0),
    "an empty tag": lambda: a_module(tag=""),
    "a tag with blanks around": lambda: a_module(tag=" MR-1"),
    "a tag too long to cast": lambda: a_module(tag="M" * (LONGEST_TAG + 1)),
    "a tag that is a path": lambda: a_module(tag="../MR-1"),
    "a tag over two lines": lambda: a_module(tag="MR\n1"),
    "a module without mass": lambda: a_module(mass_kg=0.0),
    "a condition without source": lambda: a_condition(cite="  "),
    "an empty area": lambda: an_area(shape=Polygon()),
    "a permit that ends before it begins": lambda: a_permit(valid_from=LATER, valid_to=date(2034, 4, 29)),
    "a permit without area": lambda: a_permit(areas=()),
    "a permit that names an area twice": lambda: a_permit(areas=(an_area(), an_area())),
    "a setback below zero": lambda: a_keep_out(setback_m=-1.0),
    "a setback that is no number": lambda: a_keep_out(setback_m=math.nan),
    "a programme without name": lambda: a_programme(name=" "),
    "a quantity that is no number": lambda: a_quantity(math.nan),
    "a quantity of a strange dimension": lambda: a_quantity(1.0, dimension="colour"),
    "an area stated twice": lambda: AreaDraft(area_id="a", source="a.gpkg", corners=("x",)),
    "an area stated nowhere": lambda: AreaDraft(area_id="a"),
    "a centre without radius": lambda: AreaDraft(area_id="a", centre="34 N 77 W"),
    "a layer of no source": lambda: AreaDraft(area_id="a", corners=("x",), layer="b"),
    "holes without corners": lambda: AreaDraft(area_id="a", source="a.gpkg", holes=(("x",),)),
    "columns of different lengths": lambda: type(a_table())(tag=np.array(["A"], dtype=object)),
    "a public place east of 180": lambda: a_public_module(lon_deg=180.0),
    "a public place that is no number": lambda: a_public_module(lat_deg=math.nan),
}


@pytest.mark.parametrize("make", CONTRADICTIONS.values(), ids=list(CONTRADICTIONS))
def test_a_record_that_contradicts_itself_is_refused_with_a_remedy(make):
    with pytest.raises(LeadlineError) as refusal:
        make()
    assert refusal.value.what.endswith(".")
    assert refusal.value.remedy.endswith(".")


def test_what_is_just_possible_is_kept():
    day = date(2026, 6, 1)
    assert a_permit(valid_from=day, valid_to=day)
    assert a_position(lat_deg=-90.0, lon_deg=180.0, r95_m=0.0)
    assert a_keep_out(setback_m=0.0)
    assert a_module(tag="M" * LONGEST_TAG, mass_kg=None)
    assert a_type(height_u95_m=0.0)
    assert a_placement(charted_depth_m=-0.5, depth_u95_m=0.0)
    assert a_public_module(lon_deg=-180.0)


def test_records_cannot_be_changed():
    with pytest.raises(AttributeError):
        a_placement().tag = "other"  # type: ignore[misc]


def test_rows_of_a_table_are_chosen_and_joined():
    table = a_table(3)
    chosen = table.rows(np.array([2, 0]))
    assert chosen.tag.tolist() == ["MR-0003", "MR-0001"]
    assert len(chosen.joined(table)) == 5
    assert len(type(table)()) == 0
    assert table.joined(type(table)()).tag.tolist() == table.tag.tolist()
