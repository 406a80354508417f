"""Placed while the permit was valid: both days included, days as the programme's zone counts them."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from tests.builders import a_permit
from tests.rules.one_case import BAD, OK, a_table, judged, seconds, verdicts

EASTERN = ZoneInfo("America/New_York")

DAYS = [
    ("first second of the first day", datetime(2024, 5, 1, 0, 0, 0, tzinfo=EASTERN), OK),
    ("a second earlier", datetime(2024, 4, 30, 23, 59, 59, tzinfo=EASTERN), BAD),
    ("a second earlier, already the first day in UTC", datetime(2024, 5, 1, 3, 59, 59, tzinfo=UTC), BAD),
    ("23:30 of the last day, the next day in UTC", datetime(2034, 4, 30, 23, 30, tzinfo=EASTERN), OK),
    ("last second of the last day", datetime(2034, 4, 30, 23, 59, 59, tzinfo=EASTERN), OK),
    ("midnight after the last day", datetime(2034, 5, 1, 0, 0, tzinfo=EASTERN), BAD),
    ("in winter time", datetime(2026, 1, 15, 23, 30, tzinfo=EASTERN), OK),
]


@pytest.mark.parametrize(("instant", "verdict"), [d[1:] for d in DAYS], ids=[d[0] for d in DAYS])
def test_both_days_are_included_as_the_programmes_zone_counts_them(instant, verdict):
    found = judged("validity", a_table(placed_at_s=seconds(instant)))
    assert verdicts(found) == [verdict]
    assert str(instant.astimezone(EASTERN).date()) in found.message[0]


def test_the_same_instant_may_be_another_day_in_another_zone():
    table = a_table(placed_at_s=seconds(datetime(2034, 4, 30, 23, 30, tzinfo=EASTERN)))
    assert verdicts(judged("validity", table, zone="UTC")) == [BAD]
    assert verdicts(judged("validity", table, zone="Pacific/Kiritimati")) == [BAD]
    assert verdicts(judged("validity", table, zone="Pacific/Honolulu")) == [OK]


def test_a_permit_of_one_day_is_valid_on_that_day():
    day = date(2026, 6, 1)
    permit = a_permit(valid_from=day, valid_to=day)
    noon = datetime(2026, 6, 1, 12, tzinfo=EASTERN)
    table = a_table(3, placed_at_s=[noon.timestamp() + 86400 * k for k in (-1, 0, 1)])
    found = judged("validity", table, permit=permit)
    assert verdicts(found) == [BAD, OK, BAD]
    assert found.measured.tolist() == [-1, 0, -1]


def test_days_before_1970_are_days_too():
    permit = a_permit(valid_from=date(1962, 1, 1), valid_to=date(1962, 12, 31))
    table = a_table(
        2,
        placed_at_s=seconds(
            datetime(1962, 12, 31, 23, 30, tzinfo=EASTERN), datetime(1963, 1, 1, 0, 30, tzinfo=EASTERN)
        ),
    )
    assert verdicts(judged("validity", table, permit=permit)) == [OK, BAD]
