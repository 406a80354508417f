"""``leadline publication``: told once, shown, kept by every map and file."""

import json

import pytest

from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN

PLACE = (*GOOD, *GOOD_DEPTH, *WHEN)


def test_what_is_declared_is_shown_and_kept(reef):
    reef.good("module", "add", "MC-1", "--type", "hump-60")
    reef("place", "MC-1", *PLACE)
    assert "as they are known" in reef.good("publication").out
    assert (
        reef.good("publication", "declare", "--rounded", "100 m", "--actor", "Ada", "--json").json["rounded"]
        == "100 m"
    )
    told = reef.good("publication", "--json").json
    assert (told["sites_only"], told["rounded_m"]) == (False, 100.0)
    assert told["told"].startswith("Ada, ")
    reef.good("export", "--format", "geojson", "--out", "reef.geojson")
    features = json.loads((reef.folder / "reef.geojson").read_text(encoding="utf-8"))["features"]
    (module,) = [each for each in features if each["properties"]["feature"] == "module"]
    assert module["properties"]["r95_m"] > 70
    reef.good("journal", "verify")
    reef.good("journal", "rebuild")
    assert reef.good("publication", "--json").json == told


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "Nothing is chosen"),
        (("--sites-only", "--as-known"), "Two choices"),
        (("--sites-only", "--rounded", "100 m"), "Sites alone"),
        (("--rounded", "100"), "100"),
        (("--rounded", "1 mm"), "1 mm"),
    ],
    ids=["nothing", "two", "contradiction", "no unit", "too fine"],
)
def test_a_choice_that_is_none_is_told(reef, options, said):
    reef("publication", "declare", *options).is_told(said, code=2)


def test_the_map_and_its_folder_show_less_on_request_and_never_more(reef):
    reef.good("module", "add", "MC-1", "--type", "hump-60")
    reef("place", "MC-1", *PLACE)
    reef.good("map", "--out", "reef.html", "--sites-only")
    page = (reef.folder / "reef.html").read_text(encoding="utf-8")
    assert "MC-1" not in page
    assert "no position of a single module" in page
    told = reef.good("map", "--site", "--out", "public", "--sites-only", "--json").json
    assert told["modules"] == 0
    for path in (reef.folder / "public").rglob("*"):
        assert not path.is_file() or b"MC-1" not in path.read_bytes(), path
    table = (reef.folder / "public" / "files" / "reef.csv").read_text(encoding="utf-8-sig")
    assert table.splitlines()[1].startswith("gannet-patch,")
    reef.good("publication", "declare", "--sites-only")
    reef("map", "--out", "finer.html", "--rounded", "1 km").is_told("would show more", code=2)
    assert not (reef.folder / "finer.html").exists()
