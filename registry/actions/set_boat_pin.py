"""Set the PIN by which crews come in on the boat's own network, or take it away."""

from registry.ports import Accounts, Clock
from registry.records.access_trail import Deed
from registry.records.account import BoatPin
from registry.records.new_password import checked_pin

__all__ = ["set_boat_pin"]


def set_boat_pin(accounts: Accounts, clock: Clock, *, pin: str | None, actor: str) -> None:
    """
    Set the PIN of the boat, or none; every session that the last one opened ends.

    Parameters
    ----------
    accounts : Accounts
        Where it is kept.
    clock : Clock
        Tells the time.
    pin : str or None
        The new PIN; None to let nobody in by PIN.
    actor : str
        Who does this.

    Raises
    ------
    InvalidRecordError
        If the PIN will not do.
    """
    hashed = None if pin is None else accounts.passwords.hash(checked_pin(pin))
    now = clock.now()
    with accounts.writing():
        accounts.keep_boat_pin(None if hashed is None else BoatPin(pin_hash=hashed, set_at=now, set_by=actor))
        accounts.end_sessions([session.digest for session in accounts.sessions() if session.boat])
        what = "PIN of the boat cleared" if hashed is None else "PIN of the boat set"
        accounts.note_deed(Deed(time=now, actor=actor, what=what, about="the boat"))
