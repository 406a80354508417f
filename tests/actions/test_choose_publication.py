"""How much the public sees: declared once, kept to by whatever is made, narrowed but never widened."""

from datetime import UTC, date, datetime

import pytest
from pyproj import Geod

from registry.actions.choose_publication import chosen_publication, declare_publication, declared_publication
from registry.actions.publish_site import publish_site
from registry.errors import InvalidRecordError, RequestError
from registry.records.module import Memorial
from registry.records.publication import Publication, publication_body, publication_from_body
from tests.actions.stocked import a_register, logged
from tests.builders import a_module

NOW = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)
GRS80 = Geod(ellps="GRS80")
SITES = Publication(sites_only=True)
ROUNDED = Publication(rounded_m=100.0, rounded="100 m")
FINER = Publication(rounded_m=15.24, rounded="50 ft")
COARSER = Publication(rounded_m=1852.0, rounded="1 nmi")


@pytest.fixture
def register():
    register = a_register(
        modules=[
            a_module(tag="MR-0001", memorial=Memorial(name="Zoë Quill", consent_listed=True)),
            a_module(tag="MR-0002"),
            a_module(tag="MR-0003"),
        ]
    )
    logged(register, "MR-0001")
    logged(register, "MR-0002", "34 00.1000 N 077 00.0000 W")
    logged(register, "MR-0003", "34 00.2000 N 077 00.0000 W", depth=None, depth_u95=None)
    return register


def test_without_a_choice_everything_is_shown_as_it_is_known(register):
    assert declared_publication(register) == Publication()
    site = publish_site(register, now=NOW)
    assert len(site.modules) == 3
    assert site.published.words == ""


def test_a_choice_is_an_entry_and_the_last_one_stands(register):
    known = publish_site(register, now=NOW)
    declare_publication(register, SITES, actor="Ada")
    declare_publication(register, ROUNDED, actor="Ben")
    standing = declared_publication(register)
    assert (standing.rounded, standing.sites_only) == ("100 m", False)
    assert standing.told.startswith("Ben, ")
    with pytest.raises(InvalidRecordError, match="declared already"):
        declare_publication(register, ROUNDED, actor="Ben")
    declare_publication(register, Publication(), actor="Ada")
    assert publish_site(register, now=NOW).modules == known.modules


@pytest.mark.parametrize("choice", [Publication(), SITES, ROUNDED], ids=["as known", "sites", "rounded"])
def test_a_choice_comes_back_from_the_journal(choice):
    assert publication_from_body(publication_body(choice)) == choice


def test_with_sites_alone_no_module_is_in_the_record(register):
    known = publish_site(register, now=NOW)
    declare_publication(register, SITES, actor="Ada")
    site = publish_site(register, now=NOW)
    assert site.modules == ()
    assert site.areas == known.areas
    told = repr(site)
    for module in known.modules:
        assert module.tag not in told
        assert repr(module.lat_deg) not in told
    assert "Quill" not in told


def test_an_area_tells_what_lies_in_it_all_together(register):
    area = publish_site(register, now=NOW, asked=SITES).areas[0]
    assert (area.module_count, area.first_placed, area.last_placed) == (
        3,
        date(2026, 6, 1),
        date(2026, 6, 1),
    )
    assert area.depths is not None
    assert area.depths.unmeasured == 1
    assert area.depths.least_m <= area.depths.greatest_m
    empty = publish_site(a_register(), now=NOW).areas[0]
    assert (empty.module_count, empty.depths, empty.last_placed) == (0, None, None)


def test_a_rounded_place_is_never_farther_off_than_its_r95_says(register):
    known = publish_site(register, now=NOW)
    rounded = publish_site(register, now=NOW, asked=ROUNDED)
    for true, shown in zip(known.modules, rounded.modules, strict=True):
        moved_m = GRS80.inv(true.lon_deg, true.lat_deg, shown.lon_deg, shown.lat_deg)[2]
        assert moved_m + true.r95_m <= shown.r95_m
        assert shown.r95_m > true.r95_m + 70.0
        assert (shown.tag, shown.charted_depth_m) == (true.tag, true.charted_depth_m)


def test_one_map_may_show_less_but_never_more_than_was_declared(register):
    declare_publication(register, ROUNDED, actor="Ada")
    assert chosen_publication(register, COARSER) == COARSER
    assert chosen_publication(register, SITES) == SITES
    assert chosen_publication(register, Publication()).rounded == "100 m"
    with pytest.raises(RequestError, match="Rounding to 50 ft would show more"):
        chosen_publication(register, FINER)
    declare_publication(register, SITES, actor="Ada")
    assert chosen_publication(register).sites_only
    with pytest.raises(RequestError, match="would show more"):
        publish_site(register, now=NOW, asked=COARSER)


@pytest.mark.parametrize(
    "choice",
    [
        {"sites_only": True, "rounded_m": 100.0},
        {"rounded_m": 0.5},
        {"rounded_m": 50_000.0},
        {"rounded_m": float("nan")},
    ],
    ids=["both", "finer than a metre", "coarser than a reef", "not a number"],
)
def test_a_choice_that_hides_nothing_or_contradicts_itself_is_refused(choice):
    with pytest.raises(InvalidRecordError):
        Publication(**choice)
