"""What the map and the pages of areas say and hold where the programme shows less than it knows."""

import json
import re
from dataclasses import replace
from datetime import date

import pytest

from registry.documents.area_page import render_area
from registry.documents.map import render_map
from registry.documents.map_words import LANGUAGES, fill
from registry.documents.published_note import published_note
from registry.records.public_site import PublicDepths
from registry.records.publication import Publication
from tests.documents.map_sites import a_module, a_site, map_assets

SITES = Publication(sites_only=True)
ROUNDED = Publication(rounded_m=100.0, rounded="100 m")


def sites_only():
    site = a_site()
    first, *others = site.areas
    together = replace(
        first,
        module_count=39,
        depths=PublicDepths(
            least_m=18.21, least_u95_m=0.41, greatest_m=20.5, greatest_u95_m=0.41, unmeasured=2
        ),
        first_placed=date(2025, 3, 9),
        last_placed=date(2026, 5, 12),
    )
    return replace(site, published=SITES, modules=(), areas=(together, *others))


def data_of(page):
    found = re.search(r'<script type="application/json" id="site"[^>]*>(.*?)</script>', page, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def test_nothing_is_said_where_everything_is_shown():
    assert published_note(a_site()) == ""
    assert 'data-word="published' not in render_map(a_site(), map_assets())


def test_a_map_of_sites_alone_counts_them_and_shows_none():
    page = render_map(sites_only(), map_assets())
    assert "The programme publishes its sites, and no position of a single module." in page
    assert (data_of(page)["modules"]["tag"], data_of(page)["unshown"]) == ([], 39)
    assert "39 modules" in page


def test_a_map_of_rounded_places_says_to_what_they_are_rounded():
    site = a_site(published=ROUNDED, modules=(a_module(r95_m=78.5),))
    page = render_map(site, map_assets())
    assert "The programme publishes positions rounded to 100 m" in page
    assert data_of(page)["modules"]["r95"] == ["79"]


def test_the_page_of_an_area_tells_of_its_modules_together():
    page = render_area(sites_only(), 0, modules=[], downloads=[], head="")
    for words in ("no position of a single module", ">39<", "18.21 m ± 0.41 m", "2025-03-09", "2026-05-12"):
        assert words in page
    assert "2 modules not measured" in page
    assert 'class="point"' not in page


@pytest.mark.parametrize("language", [name for name in LANGUAGES if name != "en"])
def test_it_is_said_in_every_language(language):
    for key in ("published-sites", "published-rounded"):
        said = fill(language, key, {"step": "100 m"})
        assert said != fill("en", key, {"step": "100 m"})
        assert ("100 m" in said) == (key == "published-rounded")
