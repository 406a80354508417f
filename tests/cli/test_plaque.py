"""A plaque as it is ordered: for whom, in which notation and frame, and what is refused."""

import json

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef


@pytest.fixture
def placed(reef: Reef) -> Reef:
    reef.good("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN)
    return reef


def lines(answer) -> list[str]:
    return [line["text"].replace("\N{NO-BREAK SPACE}", " ") for line in answer.json["lines"]]


def test_a_plaque_carries_the_coordinates_that_where_gives_and_records_nothing(placed):
    before = placed.good("journal", "show", "--json").json
    made = placed.good(
        "plaque", "MC-0001", "--size", "150x100mm", "--on", "2026-11-27", "--dates", "1941 – 2024", "--out", "p",
        "--qr", "--json",
    )  # fmt: skip
    assert placed.good("journal", "show", "--json").json == before
    said = " ".join(lines(made))
    where = placed.good("where", "MC-0001", "--on", "2026-11-27", "--json").json
    plain = " ".join(said.replace("°", " ").replace("′", "").split())
    assert where["texts"]["ddm"] in plain
    assert made.json["code"] == where["texts"]["geo"]
    assert "WGS 84, epoch 2026.9, within 2.1 m" in said
    assert "MC-0001, placed 14 June 2026" in said
    assert "1941 – 2024" in said
    assert [placed.folder.joinpath(name).suffix for name in made.json["files"]] == [".svg", ".pdf"]
    assert all(placed.folder.joinpath(name).stat().st_size > 1000 for name in made.json["files"])


@pytest.mark.parametrize(
    ("notation", "latitude"), [("dd", "34.0016"), ("dms", "34°00′06.0"), ("ddm", "34°00.10")]
)
def test_the_notation_is_that_of_the_family(placed, notation, latitude):
    made = placed.good(
        "plaque", "MC-0001", "--size", "15x10cm", "--notation", notation, "--frame", "EPSG:6318", "--out", "p",
        "--json",
    )  # fmt: skip
    assert any(latitude in line for line in lines(made))
    assert any("NAD83(2011), epoch 2010.0, within" in line for line in lines(made))


def test_what_cannot_be_engraved_is_told_and_nothing_is_written(placed):
    order = ("plaque", "MC-0001", "--out", "p")
    placed(*order, "--size", "60x30mm").is_told("mm too", "Take a larger plaque", code=2)
    placed(*order, "--size", "150x100").is_told("150x100mm", code=2)
    placed(*order, "--size", "150x100mm", "--qr", "--frame", "EPSG:6318").is_told("holds WGS 84", code=2)
    placed(*order, "--size", "150x100mm", "--dates", "a\u202eb").is_told("do not show", code=2)
    placed("plaque", "MC-9999", "--size", "150x100mm", "--out", "p").is_told("MC-9999", code=2)
    assert not (placed.folder / "p").exists()


def test_a_plaque_is_for_a_memorial(reef):
    reef.good("module", "add", "MC-0100", "--type", "hump-60")
    reef.good("place", "MC-0100", *GOOD, *GOOD_DEPTH, *WHEN)
    reef("plaque", "MC-0100", "--size", "150x100mm", "--out", "p").is_told("remembers nobody", code=2)


def test_json_is_one_document_and_the_words_say_sizes(placed):
    answer = placed.good("plaque", "MC-0001", "--size", "200x120mm", "--single-stroke", "--out", "p")
    assert "mm  In memory of" in answer.out
    assert "Let the family read every line before it is cut." in answer.out
    made = placed.good("plaque", "MC-0001", "--size", "200x120mm", "--heading", "", "--out", "p", "--json")
    assert json.loads(made.out)["width_mm"] == 200.0
    assert "In memory of" not in lines(made)
