"""``leadline where``."""

import pytest

from registry.formats.written_position import read_position
from tests.cli.reef import GOOD, GOOD_DEPTH, WHEN, Reef


@pytest.fixture
def placed(reef: Reef) -> Reef:
    assert reef("place", "MC-0001", *GOOD, *GOOD_DEPTH, *WHEN).code == 0
    return reef


def test_a_plotter_form_with_its_radius_frame_and_epoch(placed):
    answer = placed("where", "MC-0001", "--on", "2056-06-14")
    assert answer.code == 0
    first, *rest = answer.out.splitlines()
    assert first == "34 00.1006 N 077 00.0007 W"
    told = "\n".join(rest)
    for words in (
        "within 2.1 m of it (95 %), on 2056-06-14",
        "WGS 84 (EPSG:4326, epoch 2056.45)",
        "geo:34.00",
        "0.5 m toward 28",
        "Not for navigation",
    ):
        assert words in told


def test_json_and_the_texts_agree(placed):
    said = placed("where", "MC-0001", "--on", "2056-06-14", "--json").json
    place = said["position"]
    assert (place["frame"], place["epoch"]) == ("EPSG:4326", pytest.approx(2056.45, abs=0.01))
    for name in ("ddm", "dd", "dms", "geo"):
        back = read_position(said["texts"][name])
        assert (back.lat_deg, back.lon_deg) == pytest.approx((place["lat"], place["lon"]), abs=6e-6)
    today = placed("where", "MC-0001", "--json").json
    assert today["position"]["lon"] != place["lon"]
    assert placed("where", "MC-0001", "--frame", "NAD83(2011)", "--json").json["position"]["epoch"] == 2010.0


@pytest.mark.parametrize(("arguments", "words"), [
    (("XX",), "MC-0001"), (("MC-0001", "--on", "06/07/56"), "2056-06-07"), (("MC-0001", "--frame", "EPSG:32618"), "grid"),
    (("MC-0001", "--frame", "ETRS89"), "realisation"),
])  # fmt: skip
def test_wrong_requests(placed, arguments, words):
    placed("where", *arguments).is_told(words, code=2)


def test_a_module_that_was_not_placed(reef):
    reef("where", "MC-0001").is_told("not placed yet", code=2)
