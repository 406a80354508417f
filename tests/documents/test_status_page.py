"""The page beside a published list: every state with a shape and a word, nothing as markup, nobody named."""

from datetime import UTC, date, datetime
from html.parser import HTMLParser

import pytest

from registry.documents.status_page import write_status_page
from registry.records.certificate_version import CertificateState
from registry.records.programme_key import KeyEnd, ProgrammeKey
from registry.records.status_list import ListedVersion, StatusList

BEGAN = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
VOID = {"meta", "link", "br", "hr", "img", "input"}


class Checked(HTMLParser):
    """Insist that every element is closed in order; keep what is read."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.read: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.read.append(data)


def a_list(programme: str = "Marram Coast Memorial Reefs", **changes: object) -> StatusList:
    old = ProgrammeKey(
        key_id="old", public_key=bytes(32), since=BEGAN, until=BEGAN.replace(year=2031), ended=KeyEnd.STOLEN
    )
    new = ProgrammeKey(key_id="new", public_key=bytes(32), since=BEGAN.replace(year=2031))
    told = {
        "programme": programme,
        "made_at": BEGAN,
        "renew_by": date(2027, 3, 4),
        "serial": 9,
        "keys": (old, new),
        "versions": tuple(
            ListedVersion(
                number=f"MCMR-2026-00000{place}-00",
                version=1,
                state=state,
                since=date(2026, 11, 24),
                statements=("0" * 64,) * place,
            )
            for place, state in enumerate(CertificateState, start=1)
        ),
    } | changes
    return StatusList(**told)  # type: ignore[arg-type]


def read(status: StatusList) -> Checked:
    page = Checked()
    page.feed(write_status_page(status))
    assert page.open == []
    return page


def test_every_state_is_told_by_a_shape_and_a_word() -> None:
    text = " ".join(" ".join(read(a_list()).read).split())
    for told in ("+ current", "! changed", "– superseded", "× withdrawn"):
        assert text.count(told) == 2  # what it means, and where it applies
    assert "as of 2026-11-24, 17:00 UTC" in text
    assert "Good until 2027-03-04" in text
    assert "stolen: what it signed counts only if listed here" in text
    assert "--key public_key.pem --status status.jws" in text


def test_it_fetches_nothing_and_runs_nothing() -> None:
    page = write_status_page(a_list())
    assert "script" not in read(a_list()).tags
    for outside in ("http:", "https:", "//", "@import", "url("):
        assert outside not in page


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", '"><b>', "{{ 7 * 7 }}", "A & B"])
def test_a_name_is_no_markup(name: str) -> None:
    page = read(a_list(programme=name))
    assert {"script", "b"}.isdisjoint(page.tags)
    assert any(name in said for said in page.read)


def test_an_empty_list_says_so() -> None:
    assert any("None was issued yet" in said for said in read(a_list(versions=())).read)
