"""``leadline tide``: the day of a station, printed, drawn and as JSON."""

import json
import xml.etree.ElementTree as ET

import pytest

from registry.cli.main import COMMANDS
from tests.cli.reef import Reef
from tests.tide_builders import STATION_FILE


@pytest.fixture(autouse=True)
def known(monkeypatch):
    monkeypatch.setitem(COMMANDS, "tide", "registry.cli.tide")


@pytest.fixture
def station(reef: Reef):
    path = reef.folder / "gannet_pier.toml"
    path.write_text(STATION_FILE, encoding="utf-8")
    return path


def test_a_day_is_printed_with_its_high_and_low_waters(reef: Reef, station):
    answer = reef("tide", str(station), "--day", "2026-06-14", "--zone", "America/New_York")
    assert answer.code == 0
    assert "Gannet Pier: predicted tide of 2026-06-14, heights above MLLW (1983-2001)" in answer.out
    assert answer.out.count("  high  ") == answer.out.count("  low   ") == 2
    assert "Not for navigation" in answer.out
    assert "common practice, no source" in answer.out


def test_json_is_one_document(reef: Reef, station):
    answer = reef("tide", str(station), "--day", "2026-06-14", "--datum", "LAT", "--json")
    data = json.loads(answer.out)
    assert (data["kind"], data["nodal"], data["datum"]) == ("predicted", "schureman", "LAT")
    assert len(data["curve"]) == 145
    assert data["turns"][0]["at"].endswith("+00:00")
    assert data["u95_m"] > 0.3


def test_the_plot_is_an_svg(reef: Reef, station):
    answer = reef("tide", str(station), "--day", "2026-06-14", "--plot", "tide.svg")
    assert answer.code == 0
    assert ET.parse(reef.folder / "tide.svg").getroot().tag.endswith("svg")


def test_the_plot_never_writes_over_the_registry(reef: Reef, station):
    before = (reef.folder / "leadline.gpkg").read_bytes()
    answer = reef("tide", str(station), "--day", "2026-06-14", "--plot", "leadline.gpkg")
    assert answer.code == 2
    assert (reef.folder / "leadline.gpkg").read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--day", "06/07/26"), 2, "2026-06-07 or 2026-07-06"),
        (("--day", "2026-06-14", "--zone", "EST5"), 2, "IANA"),
        (("--day", "2026-06-14", "--datum", "NAVD88"), 2, "Use one of MSL, MLLW, LAT"),
        ((), 2, "--day"),
    ],
)
def test_a_wrong_request_is_told_in_a_line(reef: Reef, station, arguments, code, words):
    answer = reef("tide", str(station), *arguments)
    assert answer.code == code
    assert words in answer.err


def test_a_missing_file_is_told_in_a_line(reef: Reef):
    answer = reef("tide", "nowhere.toml", "--day", "2026-06-14")
    assert (answer.code, "There is no file" in answer.err) == (4, True)
