"""What was true then, and what was known then: ``audit --on``, ``--known`` and ``--as-of``."""

import json
import shutil
import sqlite3
import subprocess
from datetime import UTC, datetime

import pytest

from registry.cli.main import run
from registry.storage.geopackage import create_registry
from tests.audited import strict_permit
from tests.builders import (
    ACTOR,
    a_module,
    a_placement,
    a_programme,
    a_stocked_registry,
    module_added,
    permit_added,
    placement_corrected,
    placement_logged,
)
from tests.fakes import FixedClock


def day(month: int, number: int) -> datetime:
    """Give an afternoon in New York."""
    return datetime(2026, month, number, 18, tzinfo=UTC)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """
    A registry whose facts and whose entries are of different days.

    MR-0001 is placed and entered on 1 June, 4 km from where it lies; on 20 June that is set right. MR-0002 is
    placed on 2 June and entered on 10 June only. MR-0003 is placed and entered on 15 June, too shallow.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("LEADLINE_REGISTRY", raising=False)
    clock = FixedClock(day(5, 30))
    with create_registry(tmp_path / "leadline.gpkg", a_programme(), actor=ACTOR, clock=clock) as register:
        stocked = [draft for draft in a_stocked_registry(3) if draft.kind != "permit.added"]
        register.append([permit_added(strict_permit()), *stocked, module_added(a_module(tag="MR-0009"))])

        def enter(on, draft):
            clock.instant = on
            return register.append([draft])[0]

        first = a_placement(tag="MR-0001", placed_at=day(6, 1))
        wrong = enter(
            day(6, 1), placement_logged(a_placement(tag="MR-0001", placed_at=day(6, 1), lat_deg=33.9))
        )
        enter(
            day(6, 10),
            placement_logged(
                a_placement(tag="MR-0002", placed_at=day(6, 2), lat_deg=first.home.position.lat_deg + 0.001)
            ),
        )
        enter(
            day(6, 15),
            placement_logged(
                a_placement(
                    tag="MR-0003",
                    placed_at=day(6, 15),
                    lat_deg=first.home.position.lat_deg + 0.002,
                    charted_depth_m=14.0,
                )
            ),
        )
        enter(day(6, 20), placement_corrected(first, supersedes=wrong.reference))
    return tmp_path


def audited(capsys, *typed):
    capsys.readouterr()
    run(("audit", "--json", *typed))
    told = json.loads(capsys.readouterr().out)
    rows: dict[str, dict[str, str]] = {f["placement"]: {} for f in told["findings"]}
    for f in told["findings"]:
        rows[f["placement"]][f["rule"]] = f["verdict"]
    return told, rows


@pytest.mark.parametrize(
    ("typed", "tags", "wrong"),
    [
        # All that stands: MR-0001 where it truly lies, MR-0003 too shallow.
        ((), {"MR-0001", "MR-0002", "MR-0003"}, {"MR-0003"}),
        # What was true on 5 June, by what is known now: MR-0002 lay there though nobody had entered it, and
        # MR-0001 lay where it lies, whatever was written.
        (("--on", "2026-06-05"), {"MR-0001", "MR-0002"}, set()),
        # What was known on 5 June: MR-0001 alone, and in the wrong place.
        (("--known", "2026-06-05"), {"MR-0001"}, {"MR-0001"}),
        (("--as-of", "2026-06-05"), {"MR-0001"}, {"MR-0001"}),
        # What was known on 12 June of 5 June: MR-0002 by then, MR-0001 still in the wrong place.
        (("--on", "2026-06-05", "--known", "2026-06-12"), {"MR-0001", "MR-0002"}, {"MR-0001"}),
        # What was known on 16 June of 5 June leaves out what was placed on 15 June.
        (("--on", "2026-06-05", "--known", "2026-06-16"), {"MR-0001", "MR-0002"}, {"MR-0001"}),
        (("--known", "2026-06-16"), {"MR-0001", "MR-0002", "MR-0003"}, {"MR-0001", "MR-0003"}),
        # Nothing had been placed.
        (("--on", "2026-05-31"), set(), set()),
    ],
)
def test_what_was_true_is_not_what_was_known(folder, capsys, typed, tags, wrong):
    _, rows = audited(capsys, *typed)
    assert set(rows) == tags
    assert {tag for tag, rules in rows.items() if "nonconforming" in rules.values()} == wrong


@pytest.mark.parametrize(
    ("typed", "scope"),
    [
        ((), "All that stands, as the registry knows it now."),
        (
            ("--on", "2026-06-05"),
            "What had been placed by 2026-06-06T03:59:59.999Z, as the registry knows it now,"
            " with every correction made since.",
        ),
        (
            ("--as-of", "2026-06-05"),
            "The registry as it was known at 2026-06-06T03:59:59.999Z; what was entered later is left out.",
        ),
        (
            ("--on", "2026-06-05T12:00Z", "--known", "2026-06-12"),
            "What had been placed by 2026-06-05T12:00:00.000Z, as it was known at 2026-06-13T03:59:59.999Z;"
            " what was entered later is left out.",
        ),
    ],
)
def test_every_output_says_which_of_the_two_it_shows(folder, capsys, typed, scope):
    told, _ = audited(capsys, *typed)
    assert told["scope"] == scope
    assert (told["on"] is not None) == ("--on" in typed)
    assert (told["known"] is not None) == ("--known" in typed or "--as-of" in typed)
    assert (told["as_of"] is not None) == ("--as-of" in typed)
    run(("audit", *typed))
    assert (scope in capsys.readouterr().out) == bool(typed)


def test_the_report_and_the_table_say_it_too(folder, capsys):
    run(("audit", "--out", "audit", "--on", "2026-06-05", "--known", "2026-06-12"))
    report = (folder / "audit" / "report.html").read_text(encoding="utf-8")
    assert "What had been placed by 2026-06-05 23:59" in report
    assert "as it was known at 2026-06-12 23:59" in report
    table = (folder / "audit" / "findings.csv").read_text(encoding="utf-8-sig")
    assert table.count("What had been placed by 2026-06-06T03:59:59.999Z, as it was known at") > 1
    told, _ = audited(capsys, "--known", "2026-06-12")
    head = told["journal_head"]
    assert head in table
    with sqlite3.connect(folder / "audit" / "findings.gpkg") as connection:
        layers = "SELECT description FROM gpkg_contents WHERE data_type = 'features'"
        described = [text for (text,) in connection.execute(layers)]
    connection.close()
    assert len(described) > 2
    assert all(head in text and "What had been placed by" in text for text in described)
    if shutil.which("pdftotext"):
        done = subprocess.run(
            ["pdftotext", folder / "audit" / "report.pdf", "-"], capture_output=True, check=True
        )
        paper = " ".join(done.stdout.decode().split())
        assert "What had been placed by 2026-06-05 23:59" in paper
        # In groups that may break at the end of a line, as ``journal verify --head`` takes them.
        assert head in paper.replace(" ", "").replace("\u200b", "")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("--as-of", "2026-06-05", "--known", "2026-06-06"), "leaves no place for --known"),
        (("--as-of", "2026-06-05", "--on", "2026-06-01"), "leaves no place for --on"),
        (("--on", "2026-06-12", "--known", "2026-06-05"), "is later than --known 2026-06-05"),
        (("--since", "2026-06-01"), "Give --out DIR"),
        (("--out", "a", "--since", "2026-06-12", "--known", "2026-06-05"), "is later than 2026-06-05"),
        (("--on", "06/07/26"), "may be 2026-06-07 or 2026-07-06"),
        (("--known", "2020-01-01"), "had not begun"),
        *(
            (
                (*option, "last June"),
                "“last June” is not written as year-month-day. Remedy: Write it as 2026-06-14.",
            )
            for option in (("--on",), ("--known",), ("--as-of",), ("--out", "a", "--since"))
        ),
        (("--as-of", "2026-06-05 9:99"), "there is no such time of day"),
    ],
)
def test_dates_that_contradict_each_other_are_refused(folder, capsys, typed, told):
    assert run(("audit", *typed)) == 2
    said = capsys.readouterr()
    assert told in " ".join(said.err.split())
    assert len(said.err.splitlines()) == 2
    assert said.out == ""


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("--as-of", "2099-01-01"), "2099-01-01 is still to come; the registry is shown as it stands now"),
        (("--known", "2099-01-01"), "2099-01-01 is still to come; the registry is shown as it stands now"),
        (("--on", "2099-01-01"), "2099-01-01 is still to come; everything that was placed so far is shown"),
        (("--since", "2099-01-01", "--out", "a"), "2099-01-01 is still to come; nothing has changed since"),
    ],
)
def test_a_date_to_come_is_warned_of(folder, capsys, typed, told):
    run(("audit", *typed))
    said = capsys.readouterr()
    assert said.err == f"Warning: {told}.\n"
    assert "3 placements" in said.out


def test_the_end_of_today_is_no_date_to_come(folder, capsys, monkeypatch):
    # 23:30 in New York on 1 July is the second of July in UTC; the day of the programme is still the first.
    monkeypatch.setattr("registry.cli.audit.now", lambda: datetime(2026, 7, 2, 3, 30, tzinfo=UTC))
    run(("audit", "--as-of", "2026-07-01"))
    assert capsys.readouterr().err == ""
    run(("audit", "--as-of", "2026-07-02"))
    assert "still to come" in capsys.readouterr().err


def test_a_clock_that_was_set_back_is_warned_of(folder, capsys):
    from registry.storage.geopackage import open_register

    with open_register(folder / "leadline.gpkg", clock=FixedClock(day(6, 3))) as register:
        register.append([placement_logged(a_placement(tag="MR-0009", placed_at=day(6, 3), lat_deg=34.001))])
    run(("audit", "--as-of", "2026-06-05"))
    said = capsys.readouterr()
    assert "3 entries that were made before others of that time and dated later" in said.err
    assert "MR-0009" not in said.err
