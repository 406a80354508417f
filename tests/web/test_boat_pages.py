"""The pages of the boat as a browser without scripts sees them: the run, the check, the record."""

import json
import re
from typing import Any

import pytest

from registry.storage.clock import SystemClock
from registry.storage.geopackage import open_register
from tests.web.conftest import Site, form_token

#: Something that conforms, 33 m from the nearest.
GOOD_DROP = {
    "permit": "HB-0417",
    "how": "typed",
    "at": "34 00.1200 N 077 00.0000 W",
    "frame": "EPSG:6318",
    "quality": "stated",
    "r95": "2 m",
    "depth_kind": "plain",
    "depth": "70",
    "depth_unit": "ft",
    "depth_u95": "1 ft",
    "when": "2026-06-14T12:30-04:00",
    "diver": "Cam",
    "tag_read": "MC-0003",
}
JPEG = b"\xff\xd8\xff\xe0" + b"tag" * 50 + b"\xff\xd9"


def journal(registry: Any) -> list[dict[str, Any]]:
    """Give the bodies of every placement in the journal, in order."""
    with open_register(registry, clock=SystemClock(), writable=False) as register:
        return [json.loads(e.body) | {"actor": e.actor} for e in register.journal(kind="placement.logged")]


def entry_of(page: str) -> str:
    found = re.search(r'name="entry" value="([0-9a-f]{32})"', page)
    assert found
    return found[1]


@pytest.fixture
def boat(site: Site):
    client = site.client("Bo")
    client.token = form_token(client, "/boat/MC-0003")  # type: ignore[attr-defined]
    return client


def sent(client, path: str, fields: dict[str, str], **more: Any):
    return client.post(path, data={"form_token": client.token, **fields}, **more)


def test_nobody_comes_in_without_being_of_the_crew(site):
    assert site.client().get("/boat").headers["location"] == "/sign-in?next=/boat"
    assert site.client("Cy").get("/boat").status_code == 403
    assert site.client("Ada").get("/boat").status_code == 200


def test_the_run_keeps_permit_and_modules_on_this_tablet(boat):
    page = boat.get("/boat").text
    assert "MC-0003" in page
    assert "MC-0001" not in page  # on the seabed already
    answer = sent(
        boat, "/boat/run", {"permit": "HB-0417", "aboard": "MC-0003", "notation": "dms", "frame": ""}
    )
    assert answer.status_code == 303
    page = boat.get("/boat").text
    assert 'href="/boat/MC-0003"' in page
    assert "no target under this permit" in page
    unknown = sent(boat, "/boat/run", {"permit": "HB-0417", "more": "MC-9999"})
    assert unknown.status_code == 404


def test_the_target_reads_as_the_plotter_shows_it(site):
    from registry.cli.main import run

    at = ("--at", "34 00.1200 N 077 00.0000 W", "--frame", "EPSG:6318")
    assert run(("target", "add", "MC-0003", "--permit", "HB-0417", *at)) == 0
    boat = site.client("Bo")
    boat.token = form_token(boat, "/boat/MC-0003")
    page = boat.get("/boat").text
    assert re.search(r'value="MC-0003" checked', page)
    for notation, frame, text in (
        ("ddm", "", "34 00.1200"),
        ("dd", "", "34.00200"),
        ("dms", "", "34 00 07.20"),
        ("dd", "EPSG:4326", "34.00200"),
    ):
        run_ = {"permit": "HB-0417", "aboard": "MC-0003", "notation": notation, "frame": frame}
        assert sent(boat, "/boat/run", run_).status_code == 303
        page = boat.get("/boat/MC-0003").text
        assert text[:-1] in page, (notation, page[page.find("Target") : page.find("Target") + 400])
        assert ("WGS 84" in page[page.find("<dt>Target") : page.find("<dt>Type")]) == bool(frame)


@pytest.mark.parametrize(
    ("at", "light", "word"),
    [
        ("34 00.1200 N 077 00.0000 W", "green", "Green: every condition is kept"),
        ("34 00.1016 N 077 00.0000 W", "red", "Red: do not let go"),
        ("34 00.1048 N 077 00.0000 W", "amber", "Amber: it cannot be told"),
    ],
)
def test_the_check_tells_in_colour_word_and_shape_where_to_move(site, boat, at, light, word):
    before = len(journal(site.registry))
    page = sent(boat, "/boat/MC-0003/check", GOOD_DROP | {"at": at}).text
    assert f'class="advice {light}"' in page
    assert word in page
    assert '<svg class="plan"' in page
    assert "MC-0001" in page
    assert ("Move the hook" in page) == (light != "green")
    if light != "green":
        assert re.search(r"Move the hook \d+\.\d m toward \d{3}° true\.", page)
    assert "style=" not in page
    assert f'value="{at}"' in page  # nothing that was keyed in is lost
    assert len(journal(site.registry)) == before


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"how": ""}, "how the position is known"),
        ({"frame": ""}, "which datum"),
        ({"quality": ""}, "how well"),
        ({"at": "34.00200, 77.00000"}, "could mean|hemisphere"),
        ({"depth_unit": ""}, "unit"),
        ({"depth_kind": ""}, "how the depth is known"),
        ({"depth_kind": "gauge"}, "gauge setting"),
        ({"permit": ""}, "permit"),
        ({"how": "receiver"}, "listens to no receiver"),
        ({"how": "tablet", "tablet_latitude": "north"}, "no position of a tablet"),
        ({"when": ""}, "touch-down"),
        ({"when": "2026-11-01T01:30"}, "comes twice"),
        ({"diver": ""}, "diver"),
        ({"tag_read": "MC-0001"}, "Cam read the tag MC-0001, but this is the entry of MC-0003"),
    ],
)
def test_nothing_is_assumed_and_nothing_keyed_in_is_lost(site, boat, wrong, told):
    before = len(journal(site.registry))
    entry = entry_of(boat.get("/boat/MC-0003").text)
    answer = sent(boat, "/boat/MC-0003", GOOD_DROP | {"entry": entry, "note": "swell <2 ft"} | wrong)
    assert answer.status_code in (400, 404, 409)
    assert re.search(told, answer.text), re.search(r'role="alert">.*?</div>', answer.text, re.DOTALL)
    assert 'value="swell &lt;2 ft"' in answer.text
    assert len(journal(site.registry)) == before


def test_a_drop_is_recorded_with_what_was_said_and_the_photograph(site, boat):
    entry = entry_of(boat.get("/boat/MC-0003").text)
    answer = sent(
        boat,
        "/boat/MC-0003",
        GOOD_DROP | {"entry": entry, "crew": "Bo, Cam", "vessel": "Skua"},
        files={"photo": ("../../x.png", JPEG, "image/png")},
    )
    assert answer.status_code == 303, answer.text
    page = boat.get(answer.headers["location"]).text
    assert "MC-0003 is recorded" in page
    assert "Cam read the tag MC-0003 on the seabed" in page
    body = journal(site.registry)[-1]
    assert (body["tag"], body["actor"], body["verdict"]) == ("MC-0003", "Bo", "conforming")
    assert body["depth_text"] == "70 ft"
    assert body["source"]["confirmation"] == {"diver": "Cam", "tag_read": "MC-0003"}
    assert body["source"]["said"]["at"] == GOOD_DROP["at"]
    photo = body["source"]["photo"]
    assert photo["kind"] == "jpg"  # by its bytes, not by its name
    assert (site.registry.with_name("leadline.gpkg.received") / photo["sha256"]).read_bytes() == JPEG
    shown = boat.get(f"/boat/photographs/{photo['sha256']}")
    assert (shown.content, shown.headers["content-type"]) == (JPEG, "image/jpeg")
    assert boat.get("/boat/photographs/..%2f..%2fleadline.gpkg").status_code == 404


def test_the_same_entry_twice_is_recorded_once_and_answered_alike(site, boat):
    entry = entry_of(boat.get("/boat/MC-0003").text)
    fields = GOOD_DROP | {"entry": entry, "tag": "MC-0003"}
    before = len(journal(site.registry))
    answers = [sent(boat, "/boat/entries", fields, headers={"accept": "application/json"}) for _ in range(3)]
    assert {answer.status_code for answer in answers} == {200}
    assert len({answer.text for answer in answers}) == 1
    assert len(journal(site.registry)) == before + 1
    other = sent(boat, "/boat/entries", fields | {"note": "later"}, headers={"accept": "application/json"})
    assert other.status_code == 409
    assert "with other words" in other.json()["error"]
    assert len(journal(site.registry)) == before + 1


def test_a_module_in_the_wrong_place_is_recorded_and_flagged_never_refused(site, boat):
    entry = entry_of(boat.get("/boat/MC-0003").text)
    far = GOOD_DROP | {"entry": entry, "at": "34 05.0000 N 077 00.0000 W"}
    answer = sent(boat, "/boat/MC-0003", far)
    assert answer.status_code == 303
    assert "nonconforming" in boat.get(answer.headers["location"]).text
    assert journal(site.registry)[-1]["verdict"] == "nonconforming"


def test_what_nobody_has_read_yet_is_said(site, boat):
    entry = entry_of(boat.get("/boat/MC-0003").text)
    unread = {**GOOD_DROP, "entry": entry, "unread": "yes", "diver": "", "tag_read": ""}
    answer = sent(boat, "/boat/MC-0003", unread)
    assert "No diver has read the tag" in boat.get(answer.headers["location"]).text
    assert journal(site.registry)[-1]["source"]["confirmation"] == {"unread": True}


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"GIF89a" + b"x" * 99, "neither a JPEG nor a PNG"),
        (JPEG[:-2], "cut off"),
        (b"\xff\xd8\xff" + b"\0" * (16 * 1024 * 1024) + b"\xff\xd9", "it may have 16"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", "neither"),
    ],
)
def test_only_photographs_are_kept_and_a_wrong_one_loses_nothing(site, boat, data, told):
    before = len(journal(site.registry))
    fields = GOOD_DROP | {"entry": "0" * 31 + "7"}
    answer = sent(boat, "/boat/MC-0003", fields, files={"photo": ("tag.jpg", data, "image/jpeg")})
    assert answer.status_code == 400
    assert told in answer.text
    assert len(journal(site.registry)) == before
    folder = site.registry.with_name("leadline.gpkg.received")
    assert not folder.exists() or not list(folder.iterdir())


@pytest.mark.parametrize(
    ("kind", "said", "depth_m"),
    [
        ("gauge", {"gauge_gauge_setting": "en13319", "depth": "21.4", "depth_unit": "m"}, 20.8),
        ("lead", {"lead_above_water": "0.8 m", "depth": "70", "depth_unit": "ft"}, 19.9),
        ("pressure", {"pressure_pressure": "21.6 dbar", "pressure_air": "zeroed", "depth": ""}, 20.8),
        ("chart", {"chart_chart_datum": "MLLW", "chart_chart_zone": "A1", "depth": "21", "depth_unit": "m"}, 21.0),
        (
            "echo",
            {
                "echo_sounder_speed": "1500 m/s", "echo_transducer": "waterline", "echo_set_draft": "0.5 m",
                "echo_draft": "0.5 m", "echo_water": "18.5,35.1", "depth": "21.4", "depth_unit": "m",
            },
            20.8,
        ),
    ],
)  # fmt: skip
def test_each_instrument_goes_down_its_chain(site, boat, kind, said, depth_m):
    entry = entry_of(boat.get("/boat/MC-0003").text)
    fields = (
        GOOD_DROP
        | {"entry": entry, "depth_kind": kind, "depth_u95": "", "tide": "0.6", "tide_unit": "m"}
        | said
    )
    answer = sent(boat, "/boat/MC-0003", fields)
    assert answer.status_code == 303, re.search(r'role="alert">.*?</div>', answer.text, re.DOTALL)
    body = journal(site.registry)[-1]
    assert body["charted_depth_m"] == pytest.approx(depth_m, abs=0.45)
    assert body["depth"]["inputs"]["reading"]["instrument"] == kind


def test_a_forged_form_changes_nothing(site, boat):
    before = len(journal(site.registry))
    entry = "f" * 32
    boat.token = "not the token"
    assert sent(boat, "/boat/entries", GOOD_DROP | {"entry": entry, "tag": "MC-0003"}).status_code == 403
    assert len(journal(site.registry)) == before


def test_the_page_of_a_module_is_light(boat):
    for path in ("/boat", "/boat/MC-0003"):
        assert len(boat.get(path).content) < 40_000
    page = sent(boat, "/boat/MC-0003/check", GOOD_DROP)
    assert len(page.content) < 60_000
