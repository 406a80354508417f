"""What was read of a registry is read again as soon as anybody writes."""

from contextlib import suppress

import pytest

from registry.errors import NotFoundError
from registry.storage.geopackage import create_registry, open_register
from registry.storage.register import GeoPackageRegister
from tests.builders import (
    ACTOR,
    a_keep_out,
    a_permit,
    a_programme,
    a_stocked_registry,
    a_type,
    amended,
    keep_out_added,
    permit_added,
    permit_amended,
    type_added,
)
from tests.fakes import FixedClock


@pytest.fixture
def reef(tmp_path):
    path = tmp_path / "reef.gpkg"
    with create_registry(path, a_programme(), actor=ACTOR, clock=FixedClock(step_s=1.0)) as register:
        register.append(a_stocked_registry())
    return path


def opened(path) -> GeoPackageRegister:
    return open_register(path, clock=FixedClock(step_s=1.0))


def test_the_same_records_are_given_while_nothing_is_written(reef):
    with opened(reef) as register:
        for read in (register.keep_outs, register.module_types, register.baselines):
            assert read() is read()
        assert register.permit("HB-0417") is register.permit("HB-0417")


def test_what_another_process_writes_is_seen_at_once(reef):
    with opened(reef) as register, opened(reef) as other:
        before = register.keep_outs(), register.module_types(), register.permit_versions("HB-0417")
        other.append([keep_out_added(a_keep_out(keep_out_id="keep-out-9"))])
        other.append([type_added(a_type(type_id="slab-60")), permit_amended(amended())])
        after = register.keep_outs(), register.module_types(), register.permit_versions("HB-0417")
        assert [len(each) for each in after] == [len(each) + 1 for each in before]
        assert register.module_type("slab-60").type_id == "slab-60"


def test_what_one_writes_oneself_is_seen_before_the_transaction_ends_and_forgotten_if_it_fails(reef):
    with opened(reef) as register:
        assert len(register.keep_outs()) == 1
        with suppress(NotFoundError), register.writing():
            register.append([keep_out_added(a_keep_out(keep_out_id="keep-out-9"))])
            register.append([permit_added(a_permit(number="HB-0500"))])
            assert len(register.keep_outs()) == 2
            assert register.permit("HB-0500").number == "HB-0500"
            register.permit("HB-9999")
        assert len(register.keep_outs()) == 1
        with pytest.raises(NotFoundError):
            register.permit("HB-0500")
        register.append([permit_added(a_permit(number="HB-0500"))])
        assert register.permit("HB-0500").number == "HB-0500"


def test_one_state_is_held_for_several_reads(reef):
    with opened(reef) as register, opened(reef) as other, register.reading():
        assert len(register.keep_outs()) == 1
        other.append([keep_out_added(a_keep_out(keep_out_id="keep-out-9"))])
        assert len(register.keep_outs()) == 1
        assert len(other.keep_outs()) == 2
