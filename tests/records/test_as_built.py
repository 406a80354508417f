"""A list that contradicts its permit does not construct."""

from dataclasses import fields, replace

import pytest

from registry.errors import InvalidRecordError
from registry.records.as_built import AsBuiltList, ModuleAsBuilt
from tests.as_built import a_list


def test_areas_are_those_of_the_permit_in_its_order():
    built = a_list()
    with pytest.raises(InvalidRecordError, match="other areas"):
        replace(built, areas=())
    with pytest.raises(InvalidRecordError):
        replace(built, areas=built.areas * 2)


def test_there_is_no_field_for_a_family_or_a_crew():
    names = {field.name for kind in (AsBuiltList, ModuleAsBuilt) for field in fields(kind)}
    assert not names & {"memorial", "name", "crew", "vessel", "contact", "family"}


def test_every_list_says_that_it_is_not_for_navigation_and_who_decides():
    told = " ".join(a_list().cautions)
    assert "Not for navigation" in told
    assert "chart office" in told
    assert "no legal authority" in told
