"""The registry from Python: layers as frames, and the same findings as the command."""

from datetime import UTC, date, datetime

import geopandas
import pytest

import registry
from registry.errors import (
    AmbiguousPositionError,
    LeadlineError,
    NotFoundError,
    QuantityError,
    RegistryError,
    UnwritableError,
)
from tests.cli.conftest import reef, template  # noqa: F401  the same programme as at the command line
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN

STATED = {"frame": "EPSG:6318", "r95": "2 m", "depth": "70 ft", "depth_u95": "1 ft"}
AT = "34 00.1000 N 077 00.0000 W"
LOGGED = {"permit": "HB-0417", "at": AT, "when": "2026-06-14T10:32-04:00", "actor": "Ada", **STATED}


@pytest.fixture
def book(reef):  # noqa: F811
    with registry.open_registry(reef.registry, writable=True) as book:
        yield book


def as_json(findings):
    return [finding.as_json() for finding in findings]


def test_every_layer_is_a_frame_in_the_home_frame(book):
    book.place("MC-0001", **LOGGED)
    assert {"permit_areas", "keep_outs", "placements", "observations"} <= set(book.layers)
    for name in book.layers:
        frame = book.layer(name)
        assert isinstance(frame, geopandas.GeoDataFrame)
        assert frame.crs.to_epsg() == 6318
    placements = book.layer("placements")
    (point,) = placements.geometry
    assert (point.x, point.y) == pytest.approx((-77.0, 34 + 0.1 / 60))
    assert list(placements["tag"]) == ["MC-0001"]
    (area,) = book.layer("permit_areas").geometry
    assert area.contains(point)


def test_sample_and_as_built_list_are_those_of_the_command(book, reef):  # noqa: F811
    book.place("MC-0001", **LOGGED)
    sample = book.sample(permit="HB-0417", seed="4711", size=1)
    told = reef("sample", "--permit", "HB-0417", "--seed", "4711", "--size", "1", "--json").json
    assert [module.tag for module in sample.modules] == [module["tag"] for module in told["modules"]]
    built = book.as_built(permit="HB-0417")
    told = reef("asbuilt", "--permit", "HB-0417", "--out", "out", "--json").json
    assert [list(module.text) for module in built.modules] == [module["text"] for module in told["modules"]]


def test_a_layer_that_is_not_there_is_named(book):
    with pytest.raises(NotFoundError, match="placements"):
        book.layer("placement; DROP TABLE journal")


def test_check_finds_what_the_command_finds(book, reef):  # noqa: F811
    advice = book.check(permit="HB-0417", module_type="hump-90", at=AT, **STATED)
    told = reef("check", "--type", "hump-90", *GOOD, *GOOD_DEPTH, "--json").json
    assert as_json(advice.findings) == told["findings"]
    assert advice.verdict.word == told["verdict"] == "conforming"


def test_place_correct_and_audit_find_what_the_command_finds(book, reef):  # noqa: F811
    outside = "34 05.0000 N 077 00.0000 W"
    mine = book.place("MC-0001", **LOGGED | {"at": outside})
    other = reef.folder / "other.gpkg"
    other.write_bytes((reef.folder / "template.gpkg").read_bytes())
    line = ("--registry", other)
    told = reef(*line, "place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN, "--at", outside, "--json").json
    assert as_json(mine.findings) == told["findings"]
    assert mine.verdict.word == told["verdict"] == "nonconforming"

    mended = book.correct(mine.placement_id, "MC-0001", reason="swapped", **LOGGED)
    told = reef(
        *line, "correct", told["placement"], "--tag", "MC-0001", "--reason", "swapped",
        *GOOD, *GOOD_DEPTH, *WHEN, "--json",
    ).json  # fmt: skip
    assert as_json(mended.findings) == told["findings"]
    assert len(book.layer("placements")) == 1
    audit = reef(*line, "audit", "--json").json
    assert audit["verdict"] == mended.verdict.word == "conforming"
    assert book.audit().verdict.word == audit["verdict"]


@pytest.fixture(autouse=True)
def kept_template(template, tmp_path):  # noqa: F811
    (tmp_path / "template.gpkg").write_bytes((template / "leadline.gpkg").read_bytes())


def test_what_the_command_refuses_python_refuses(book):
    asked = {"permit": "HB-0417", "module_type": "hump-90", "at": AT}
    with pytest.raises(AmbiguousPositionError) as refusal:
        book.check(**asked | {"at": "34 00.1 N 77 00.0"})
    assert refusal.value.readings
    with pytest.raises(QuantityError):
        book.check(**asked, depth="70")
    with pytest.raises(QuantityError):
        book.check(**asked, r95="nan m")
    with pytest.raises(NotFoundError):
        book.check(**asked | {"permit": "NO-1"})
    with pytest.raises(NotFoundError):
        book.place("NO-1", **LOGGED)


@pytest.mark.parametrize("epoch", [float("nan"), float("inf")])
def test_an_endless_epoch_is_refused(book, epoch):
    with pytest.raises(LeadlineError, match="epoch"):
        book.check(permit="HB-0417", module_type="hump-90", at=AT, epoch=epoch, **STATED)


def test_an_instant_needs_its_zone(book):
    with pytest.raises(LeadlineError, match="zone"):
        book.place("MC-0001", **LOGGED | {"when": datetime(2026, 6, 14, 10, 32)})  # noqa: DTZ001
    book.place("MC-0001", **LOGGED | {"when": datetime(2026, 6, 14, 10, 32, tzinfo=UTC)})


def test_a_registry_opened_for_reading_is_not_written(reef):  # noqa: F811
    with registry.open_registry(reef.registry) as book, pytest.raises(UnwritableError):
        book.place("MC-0001", **LOGGED)


def test_a_registry_that_is_not_there_is_told(tmp_path):
    with pytest.raises(RegistryError, match="none"):
        registry.open_registry(tmp_path / "none.gpkg")


def test_the_public_view_and_the_tags_are_there(book):
    book.place("MC-0001", **LOGGED)
    assert book.tags() == ["MC-0001"]
    assert [module.tag for module in book.public_site().modules] == ["MC-0001"]


def test_the_duties_are_those_of_the_command(book, reef):  # noqa: F811
    book.place("MC-0001", **LOGGED)
    told = reef("duties", "--on", "2026-07-01", "--json").json
    found = book.duties(permit="HB-0417", on=date(2026, 7, 1))
    assert [duty.duty_id for duty in found.duties] == [duty["id"] for duty in told["duties"]]
    assert "burial-reports-HB-0417" in [duty.duty_id for duty in found.duties]
