"""Find the machine that somebody means by its name or its origin."""

from registry.errors import NotFoundError
from registry.ports import Exchange
from registry.records.device import Device

__all__ = ["find_device"]


def find_device(exchange: Exchange, which: str) -> Device:
    """
    Find one machine.

    Parameters
    ----------
    exchange : Exchange
        Knows them.
    which : str
        Its origin, or its name, however capitalised.

    Raises
    ------
    NotFoundError
        If there is none, or several bear the name.
    """
    devices = exchange.devices()
    found = [device for device in devices if device.origin == which]
    found = found or [device for device in devices if device.name.casefold() == which.strip().casefold()]
    if len(found) == 1:
        return found[0]
    if found:
        what = f"{len(found)} machines are called {which}: {', '.join(each.origin for each in found)}."
        raise NotFoundError(what, remedy="Name it by its origin.")
    there = ", ".join(f"{device.name} ({device.origin})" for device in devices)
    what = f"There is no machine {which!r} in the registry."
    raise NotFoundError(what, remedy=f"There are: {there}." if there else "None has a name yet.")
