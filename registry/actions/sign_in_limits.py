"""
How often somebody may be wrong before being made to wait.

The counts are our own judgement. That a name bears no more than 100 in a row is asked for by NIST
SP 800-63B-4 (3.2.2, from memory), which also lets an address go on from which the account came in before.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta

from registry.errors import TooManyAttemptsError
from registry.ports import Accounts
from registry.records.access_trail import Outcome, SignIn, Way
from registry.records.account import Account
from registry.records.network_address import neighbourhood

__all__ = ["KEPT", "begin_attempt"]

#: How long attempts are remembered.
KEPT = timedelta(days=90)
_WINDOW = timedelta(minutes=15)
_DAY = timedelta(days=1)
_OF_ONE_NAME = 5
_OF_ONE_ADDRESS = 20
_IN_A_ROW = 100
_PINS_OF_ONE_ADDRESS = 5
#: A PIN of six digits lasts 13 years on average at this rate.
_PINS_IN_A_DAY = 100


def begin_attempt(
    accounts: Accounts, *, name: str, account: Account | None, address: str, way: Way, now: datetime
) -> int:
    """
    Note an attempt as wrong before it is looked at, so that many at once cannot all go uncounted.

    By password 5 are heard of one name from one address and 20 from one address within 15 minutes, and 100 in
    a row of one name from addresses from which it did not come in within 90 days. By PIN 5 are heard from
    one address within 15 minutes, and 100 from anywhere within a day.

    Parameters
    ----------
    accounts : Accounts
        Keeps the attempts.
    name : str
        As attempts of this name are noted.
    account : Account or None
        The account of that name; attempts before its password was set do not count.
    address : str
        From where.
    way : Way
        By what.
    now : datetime
        The instant.

    Returns
    -------
    int
        The number of the attempt, to be settled.

    Raises
    ------
    TooManyAttemptsError
        With the seconds after which another attempt is heard.
    """
    attempt = SignIn(time=now, name=name, address=address, way=way, outcome=Outcome.WRONG)
    with accounts.writing():
        lately = [each for each in accounts.sign_ins(since=now - _WINDOW) if _near(each, address)]
        wait_s = _wait_s(accounts, attempt, lately, account)
        if not wait_s:
            return accounts.note_sign_in(attempt)
        if not any(each.outcome is Outcome.WAIT and each.name == name for each in lately):
            # Once is enough: whoever goes on must not fill the disk.
            accounts.note_sign_in(SignIn(time=now, name=name, address=address, way=way, outcome=Outcome.WAIT))
    what = "There were too many wrong attempts."
    raise TooManyAttemptsError(what, remedy=f"Wait {_in_words(wait_s)} and try again.", retry_after_s=wait_s)


def _wait_s(accounts: Accounts, attempt: SignIn, lately: Sequence[SignIn], account: Account | None) -> int:
    """Give how long this attempt has to wait, 0 where it is heard. Units: s."""
    now = attempt.time
    wrong = [each for each in lately if each.way is attempt.way and _wrong(each, now)]
    if attempt.way is Way.PIN:
        today = [each for each in accounts.sign_ins(since=now - _DAY) if each.way is Way.PIN]
        return max(
            _left_s(wrong, _PINS_OF_ONE_ADDRESS, _WINDOW, now),
            _left_s([each for each in today if _wrong(each, now)], _PINS_IN_A_DAY, _DAY, now),
        )
    ever = accounts.sign_ins(since=now - KEPT, name=attempt.name)
    if account is not None and account.password_set_at is not None:
        ever = tuple(each for each in ever if each.time >= account.password_set_at)
    here = [each for each in ever if _near(each, attempt.address)]
    known = any(each.outcome is Outcome.OPENED for each in here)
    return max(
        _left_s(_in_a_row(here, now), _OF_ONE_NAME, _WINDOW, now),
        _left_s(wrong, _OF_ONE_ADDRESS, _WINDOW, now),
        0 if known else _left_s(_in_a_row(ever, now), _IN_A_ROW, KEPT, now),
    )


def _left_s(wrong: Sequence[SignIn], most: int, within: timedelta, now: datetime) -> int:
    """Give the seconds until fewer than `most` lie within the time before."""
    if len(wrong) < most:
        return 0
    left = wrong[-most].time + within - now
    return max(0, -(-left // timedelta(seconds=1)))


def _in_a_row(attempts: Sequence[SignIn], now: datetime) -> list[SignIn]:
    """Give the wrong attempts since somebody last came in."""
    opened = [place for place, each in enumerate(attempts) if each.outcome is Outcome.OPENED]
    return [each for each in attempts[opened[-1] + 1 if opened else 0 :] if _wrong(each, now)]


def _wrong(attempt: SignIn, now: datetime) -> bool:
    """Tell whether an attempt counts; one that a wrong clock dated ahead does not."""
    return attempt.outcome in {Outcome.WRONG, Outcome.DISABLED} and attempt.time <= now


def _near(attempt: SignIn, address: str) -> bool:
    return neighbourhood(attempt.address) == neighbourhood(address)


def _in_words(wait_s: int) -> str:
    if wait_s < 120:
        return f"{wait_s} seconds"
    return f"{-(-wait_s // 60)} minutes" if wait_s < 7200 else f"{-(-wait_s // 3600)} hours"
