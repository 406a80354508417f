"""Spreadsheets of modules and of module types."""

import pytest

from registry.errors import LeadlineError, TableError
from registry.formats.csv_table import read_csv_table
from registry.formats.module_table import columns_left_out, read_module_types, read_modules
from registry.records.module import Module
from registry.storage.shipped import shipped_text

TYPES = (
    "type_id,base_radius_m,height_m,height_u95_m,mass_kg,submerged_mass_kg,side_area_m2,plan_area_m2,note\n"
)
SIZES = ["hump-1", "0.45", "0.6", "0.03", "280", "160", "0.36", "0.64", "small"]


def modules_of(text):
    return [read for _, read in read_modules(read_csv_table(text))]


def test_a_module_is_read_with_everything_that_is_known():
    (module,) = modules_of(
        "Tag,Type,Cast,Mass,Memorial,Consent\nMC-1,hump-60,2026-03-02,612 kg,Zoë Quill,Yes\n"
    )
    assert isinstance(module, Module)
    assert (module.tag, module.mass_kg, str(module.cast_on)) == ("MC-1", 612.0, "2026-03-02")
    assert module.memorial is not None
    assert (module.memorial.name, module.memorial.consent_listed) == ("Zoë Quill", True)


def test_the_language_of_a_name_is_read_with_it():
    (module,) = modules_of("tag,type,memorial,language\nMC-1,hump-60,Nguyễn Thị Thảo,vi\n")
    assert isinstance(module, Module)
    assert module.memorial is not None
    assert module.memorial.language == "vi"


def test_tag_and_type_are_enough():
    (module,) = modules_of("tag,type\nMC-1,hump-60\n")
    assert module == Module(tag="MC-1", type_id="hump-60")


@pytest.mark.parametrize(
    ("word", "listed"), [("yes", True), ("x", True), ("no", False), ("", False), ("NO", False)]
)
def test_a_name_is_public_only_where_somebody_said_yes(word, listed):
    (module,) = modules_of(f"tag,type,memorial,consent\nMC-1,hump-60,Ada,{word}\n")
    assert isinstance(module, Module)
    assert module.memorial is not None
    assert module.memorial.consent_listed is listed


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("tag,type,consent", "A,hump-60,perhaps"),
        ("tag,type,mass", "A,hump-60,612"),
        ("tag,type,mass", "A,hump-60,nan kg"),
        ("tag,type,mass_kg", "A,hump-60,inf"),
        ("tag,type,mass,mass_kg", "A,hump-60,612 kg,700"),
        ("tag,type,cast", "A,hump-60,02/03/2026"),
        ("tag,type,memorial,language", "A,hump-60,Ada,Spanish"),
        ("tag,type,language", "A,hump-60,es"),
        ("tag,type", ",hump-60"),
        ("tag,type", "a/b,hump-60"),
        ("tag,type", "A"),
    ],
)
def test_a_row_that_cannot_be_read_gives_its_reason_and_the_others_go_on(header, cells):
    first, last = modules_of(f"{header}\n{cells}\nB,hump-60{',' * (header.count(',') - 1)}\n")
    assert isinstance(first, LeadlineError)
    assert first.remedy
    assert isinstance(last, Module)


@pytest.mark.parametrize("header", ["tag", "type", "name,kind"])
def test_a_table_without_tag_or_type_is_refused(header):
    with pytest.raises(TableError):
        modules_of(f"{header}\nx\n")


def test_columns_that_are_not_read_are_named_as_they_are_written():
    table = read_csv_table("Tag,Type,Memorial Name,Contact,reason\nA,hump-60,Ada,x,y\n")
    assert columns_left_out(table) == ("Memorial Name", "Contact")


def test_the_types_that_ship_are_read():
    assert len(read_module_types(shipped_text("module_types.csv"))) >= 3


@pytest.mark.parametrize("place", range(1, 8))
@pytest.mark.parametrize("number", ["nan", "inf", "", "0,5", "six"])
def test_a_size_that_is_no_number_is_refused(place, number):
    cells = [*SIZES]
    cells[place] = f'"{number}"'
    with pytest.raises(TableError, match="Row 2"):
        read_module_types(TYPES + ",".join(cells) + "\n")


def test_a_type_without_a_column_is_refused():
    with pytest.raises(TableError, match="height_u95_m"):
        read_module_types("type_id,base_radius_m,height_m,mass_kg\nx,1,1,1\n")
