"""Days of placing against open and closed windows, in the programme's own zone."""

from datetime import UTC, datetime

import pytest

from tests.rules.one_case import BAD, OK, a_table, judged, seconds, verdicts

NESTING = {"closed": "1 May to 31 October"}


def on(*days, hour=16):
    instants = [datetime.fromisoformat(f"{day}T{hour:02d}:00").replace(tzinfo=UTC) for day in days]
    return a_table(len(days), placed_at_s=seconds(*instants))


# Sea turtles nest on the Gulf coast of Florida from 1 May to 31 October (Florida Fish and Wildlife Conservation
# Commission; from memory). Day, days to the nearer end of what is allowed, verdict; counted on a calendar.
NESTS = [
    ("2026-04-30", 0.0, OK),
    ("2026-04-28", 2.0, OK),
    ("2026-05-01", -1.0, BAD),
    ("2026-07-04", -65.0, BAD),
    ("2026-10-31", -1.0, BAD),
    ("2026-11-01", 0.0, OK),
    ("2028-02-29", 61.0, OK),
]


@pytest.mark.parametrize(("day", "inside_d", "verdict"), NESTS)
def test_a_season_closed_for_turtles(day, inside_d, verdict):
    found = judged("season", on(day), NESTING)
    assert (found.measured.tolist(), verdicts(found)) == ([inside_d], [verdict])
    assert (found.unit, found.u95.tolist(), found.limit.tolist()) == ("d", [0.0], [0.0])


@pytest.mark.parametrize(
    ("day", "verdict"), [("2026-12-31", OK), ("2027-01-02", OK), ("2027-01-03", BAD), ("2026-11-30", BAD)]
)
def test_a_window_may_run_over_new_year(day, verdict):
    assert verdicts(judged("season", on(day), {"open": "12-01 to 01-02"})) == [verdict]


def test_what_is_closed_goes_before_what_is_open():
    limits = {"open": "04-01 to 11-30", "closed": "06-10 to 06-20,09-01 to 09-30"}
    found = judged("season", on("2026-06-09", "2026-06-10", "2026-09-30", "2026-03-31"), limits)
    assert verdicts(found) == [OK, BAD, BAD, BAD]
    assert found.measured.tolist() == [0.0, -1.0, -1.0, -1.0]


def test_the_day_is_that_of_the_programme_not_of_greenwich():
    late = on("2026-05-01", hour=2)  # ten in the evening of 30 April in New York
    assert verdicts(judged("season", late, NESTING)) == [OK]
    assert verdicts(judged("season", late, NESTING, zone="UTC")) == [BAD]


def test_the_sentence_names_the_months():
    found = judged("season", on("2026-06-11", "2026-03-11", "2026-11-02"), {"open": "05-01 to 10-31"})
    assert list(found.message) == [
        "Placed on 11 June 2026; modules may be placed from 1 May to 31 October.",
        "Placed on 11 March 2026, 51 days out of season; modules may be placed from 1 May to 31 October.",
        "Placed on 2 November 2026, 2 days out of season; modules may be placed from 1 May to 31 October.",
    ]
    limits = {"open": "05-01 to 10-31", "closed": "June 1 to June 2"}
    assert judged("season", on("2026-11-01"), limits).message[0] == (
        "Placed on 1 November 2026, 1 day out of season; modules may be placed from 1 May to 31 October "
        "and none may be placed from 1 June to 2 June."
    )
    closed = judged("season", on("2026-11-01"), NESTING)
    assert closed.message[0] == "Placed on 1 November 2026; none may be placed from 1 May to 31 October."


def test_a_season_that_never_ends_is_always_kept():
    found = judged("season", on("2026-06-11"), {"open": "01-01 to 12-31"})
    assert verdicts(found) == [OK]
    assert found.line(0, "MR-0001").as_json()["measured"] is None
