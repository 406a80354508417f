"""Modules are found by what people remember of them, a page at a time."""

import pytest

from registry.actions.search_modules import search_modules
from registry.records.module import Memorial
from tests.actions.stocked import a_register, logged
from tests.builders import a_module


@pytest.fixture
def register():
    modules = [a_module(tag=f"MR-{k:04d}") for k in range(1, 8)]
    modules.append(a_module(tag="MR-0009", memorial=Memorial(name="Zoë Straße")))
    return a_register(modules=modules)


def tags(found):
    return [each.module.tag for each in found.modules]


def test_all_of_them_come_a_page_at_a_time(register):
    found = search_modules(register, first=5, at_most=2)
    assert (tags(found), found.count, found.first) == (["MR-0006", "MR-0007"], 8, 5)


@pytest.mark.parametrize("text", ["zoë", "STRASSE", "0009", "straße mr-", "  zoë   0009 "])
def test_each_word_is_looked_for_in_tag_type_and_name(register, text):
    assert tags(search_modules(register, text)) == ["MR-0009"]


def test_words_that_stand_in_no_module_find_nothing(register):
    found = search_modules(register, "zoë 0001", first=50)
    assert (found.modules, found.count, found.first) == ((), 0, 0)


def test_a_page_beyond_the_last_is_the_last(register):
    assert tags(search_modules(register, first=500)) == ["MR-0009"]


def test_a_module_says_where_it_lies(register):
    placed = logged(register).placement
    found = {each.module.tag: each for each in search_modules(register).modules}
    assert found[placed.tag].permits == (placed.permit,)
    assert found["MR-0009"].permits == ()
