"""What was found by attacking the application by hand, held so that it stays mended."""

import threading
from itertools import islice
from types import SimpleNamespace
from typing import Any

import pytest

from registry.web.headers import LARGEST
from registry.web.published import _View
from tests.web.conftest import form_token

MULTIPART = {"content-type": "multipart/form-data; boundary=x"}
HEAD = b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.pdf"\r\n\r\n'


def test_more_than_a_request_may_bring_is_refused_although_it_does_not_say_its_length(site, caplog):
    def pieces():
        yield HEAD
        for _ in range(LARGEST // 2**20 + 1):
            yield b"0" * 2**20
        yield b"\r\n--x--\r\n"

    answer = site.client().post("/authenticate", content=pieces(), headers=MULTIPART)
    assert (answer.status_code, "32 MiB" in answer.text) == (413, True)
    assert "content-security-policy" in answer.headers
    assert not caplog.records


@pytest.mark.parametrize("gone", ["", ".accounts"])
def test_what_is_out_of_reach_is_told_to_those_who_are_signed_in(site, caplog, gone):
    client = site.client("Ada")
    file = site.registry.with_name(f"{site.registry.name}{gone}")
    if gone:
        file.write_bytes(b"junk" * 5000)
    else:
        file.rename(site.folder / "elsewhere.gpkg")
    for path in ("/office", "/boat", "/officer"):
        answer = client.get(path)
        assert answer.status_code == 503, (path, answer.text)
        assert "<h1>" in answer.text
        assert "content-security-policy" in answer.headers
    assert client.post("/office/modules/add", data={"tag": "MC-0009"}).status_code == 503
    assert not caplog.records


def test_a_shape_that_is_none_is_refused_in_words(site):
    client = site.client("Ada")
    ring = "[[1e999, NaN], [0, 0], [1, 1], [1e999, NaN]]"
    shape = f'{{"type": "Feature", "properties": {{}}, "geometry": {{"type": "Polygon", "coordinates": [{ring}]}}}}'
    said = {"what": "keepout", "kind": "wreck", "setback": "50 m", "frame": "EPSG:4326", "epoch": "2020.0"}
    answer = client.post(
        "/office/keep-outs",
        data=said | {"form_token": form_token(client, "/office/keep-outs")},
        files={"file": ("nan.geojson", shape.encode())},
    )
    assert answer.status_code == 400, answer.text
    assert "is no sound shape" in answer.text


def test_an_empty_file_is_no_forgery(site):
    body = HEAD + b"\r\n--x--\r\n"
    answer = site.client().post("/authenticate", content=body, headers=MULTIPART)
    assert (answer.status_code, "The file is empty." in answer.text) == (400, True)
    assert "Not genuine" not in answer.text


class Journal:
    """A journal of kinds alone, which lets two readers go on only together."""

    def __init__(self, *kinds):
        self.kinds = list(kinds)
        self.together = threading.Barrier(2, timeout=10)

    def journal(self, *, after):
        self.together.wait()
        return [SimpleNamespace(kind=kind) for kind in islice(self.kinds, after, None)]


def looked(view, journal):
    threads = [threading.Thread(target=view.look, args=(journal,)) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return view.overtaken


@pytest.mark.parametrize("kind", ["module.amended", "conflict.settled", "programme.declared"])
def test_what_may_show_less_is_seen_although_two_look_at_once(kind):
    nothing: Any = None
    view = _View(site=nothing, mark=(), shown_until=0.0, looked_at=0)
    journal = Journal("placement.recorded", "placement.recorded")
    assert not looked(view, journal)
    journal.kinds.append(kind)
    assert looked(view, journal)


@pytest.mark.parametrize(
    "path", ["/", "/map/", "/features", "/downloads/reef.csv", "/sign-in", "/static/mark.svg"]
)
def test_the_head_of_a_page_is_that_of_the_page(site, path):
    client = site.client()
    whole, head = client.get(path), client.head(path)
    assert (whole.status_code, head.status_code) == (200, 200)
    assert (head.content, head.headers["content-length"]) == (b"", str(len(whole.content)))
    assert head.headers["content-type"] == whole.headers["content-type"]


def test_the_head_of_a_page_is_for_whom_the_page_is(site):
    assert site.client("Bo").head("/office").status_code == 403
    assert site.client("Bo").head("/nowhere").status_code == 404


@pytest.mark.parametrize("tag", [".", "..", "..."])
def test_a_tag_that_names_another_place_is_refused(site, tag):
    client = site.client("Ada")
    form = {"form_token": form_token(client, "/office/modules/add"), "tag": tag, "type": "hump-90"}
    answer = client.post("/office/modules/add", data=form)
    assert answer.status_code == 400
    assert "no tag" in answer.text
