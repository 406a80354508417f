"""A registry begins with a frame that keeps for decades and a zone that exists."""

import pytest

from registry.actions.open_programme import add_module_types, checked_programme
from registry.errors import ConflictError, FrameError, InvalidRecordError, TimeTextError
from tests.actions.stocked import a_register
from tests.builders import ACTOR, a_type


def programme(**changes):
    said = {
        "name": " Marram Coast ",
        "frame": "EPSG:6318",
        "zone": "America/New_York",
        "key_id": "k",
        "public_key": "A",
    }
    return checked_programme(**(said | changes))


def test_a_plate_fixed_frame_is_kept_with_its_epoch():
    found = programme()
    assert (found.name, found.frame, found.frame_epoch) == ("Marram Coast", "EPSG:6318", 2010.0)
    assert programme(frame="GDA2020").frame == "EPSG:7844"


@pytest.mark.parametrize(
    "frame", ["EPSG:4326", "WGS 84", "ITRF2020", "EPSG:4258", "EPSG:26918", "NAD27", "here"]
)
def test_a_frame_in_which_a_module_would_drift_is_refused(frame):
    with pytest.raises(FrameError) as refusal:
        programme(frame=frame)
    assert refusal.value.remedy


@pytest.mark.parametrize("zone", ["Carolina", "", "America", "../etc/passwd", "UTC+5"])
def test_a_zone_that_does_not_exist_is_refused(zone):
    with pytest.raises(TimeTextError, match="IANA"):
        programme(zone=zone)


def test_a_programme_has_a_name():
    with pytest.raises(InvalidRecordError):
        programme(name="  ")


def test_types_are_recorded_once():
    register = a_register()
    add_module_types(register, [a_type(type_id="slab-60")], actor=ACTOR)
    assert register.module_type("slab-60").height_m == 1.2
    before = register.head()
    with pytest.raises(ConflictError):
        add_module_types(register, [a_type(type_id="slab-61"), a_type(type_id="slab-60")], actor=ACTOR)
    assert register.head() == before
