"""Let this file write as a machine of its own, with a name and a key."""

from registry.errors import ConflictError
from registry.ports import Exchange, Register
from registry.records.certificate import key_thumbprint
from registry.records.device import Device, device_name
from registry.records.entry import Draft
from registry.records.programme_key import public_key_text

__all__ = ["name_device"]


def name_device(
    register: Register,
    exchange: Exchange,
    name: str,
    public_key: bytes,
    *,
    actor: str,
    copied: bool = False,
) -> Device:
    """
    Record name and key of this machine as the first entry of its own origin.

    Parameters
    ----------
    register, exchange : Register, Exchange
        The registry of this machine.
    name : str
        For people, as "Petrel, wheelhouse".
    public_key : bytes
        Of the key that its bundles are signed with, raw, 32 bytes.
    actor : str
        Who does it.
    copied : bool
        That this file is a copy, where it cannot know that itself: made other than by ``leadline backup``.

    Raises
    ------
    ConflictError
        If it has a name already, another machine bears the name, or it is the file that made the registry.
    InvalidRecordError
        If the name or the key is none.
    """
    name = device_name(name)
    with register.writing():
        devices = exchange.devices()
        own = next((device for device in devices if device.origin == exchange.writes_as()), None)
        fresh = exchange.is_copy() or copied
        if own and not fresh:
            what = f"This machine is {own.name} already ({own.origin})."
            raise ConflictError(what, remedy="Where this file is a copy of that machine's, add --copied.")
        if not fresh and exchange.writes_as() == exchange.registry()[0]:
            what = "This file made the registry: it signs with the programme's key and needs no name."
            remedy = "Another machine begins with a copy by leadline backup. For a plain copy: --copied."
            raise ConflictError(what, remedy=remedy)
        if any(device.name.casefold() == name.casefold() for device in devices if not device.ended_at):
            raise ConflictError(f"A machine is called {name} already.", remedy="Choose another name.")
        origin = exchange.begin_anew() if fresh else exchange.writes_as()
        device = Device(
            origin=origin,
            name=name,
            key_id=key_thumbprint(public_key),
            public_key=public_key_text(public_key),
        )
        body = {
            "origin": device.origin,
            "name": device.name,
            "key_id": device.key_id,
            "public_key": device.public_key,
        }
        register.append([Draft(kind="device.added", actor=actor, body=body)])
        return device
