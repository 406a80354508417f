"""Hand the entries of a registry to another machine."""

from datetime import datetime

from registry.actions.find_device import find_device
from registry.errors import ConflictError, NotFoundError
from registry.ports import Exchange, Register
from registry.records.bundle import Bundle
from registry.records.device import Device
from registry.records.entry import instant_text
from registry.records.programme_key import public_key_text

__all__ = ["export_bundle"]


def export_bundle(
    register: Register,
    exchange: Exchange,
    *,
    key_id: str,
    public_key: bytes,
    now: datetime,
    to: str | None = None,
) -> Bundle:
    """
    Gather what another machine lacks, to be signed and written (``formats/bundle_file``).

    Parameters
    ----------
    register, exchange : Register, Exchange
        The registry of this machine.
    key_id, public_key : str, bytes
        Thumbprint and raw public key of the key that will sign.
    now : datetime
        When it is made.
    to : str, optional
        Name or origin of the machine that it is for: what that held by its last bundle taken in here is left
        out. By default every entry is in it, which is good for every machine.

    Raises
    ------
    ConflictError
        If this file is a copy that has no origin of its own yet.
    NotFoundError
        If there is no such machine, or no bundle of it was taken in here.
    """
    with register.reading():
        if exchange.is_copy():
            what = "This file is a copy to which nothing was written yet: it is no machine of its own."
            raise ConflictError(what, remedy="Name it first: leadline bundle device NAME.")
        origin = exchange.writes_as()
        registry, founded = exchange.registry()
        named = next((device.name for device in exchange.devices() if device.origin == origin), "")
        entries = tuple(exchange.beyond(_held_by(exchange, to) if to else {}))
        return Bundle(
            programme=register.programme().name,
            registry=registry,
            founded=founded,
            sender=Device(
                origin=origin,
                name=named or ("founding machine" if origin == registry else f"machine {origin}"),
                key_id=key_id,
                public_key=public_key_text(public_key),
            ),
            made_at=instant_text(now),
            held=dict(exchange.held()),
            entries=entries,
        )


def _held_by(exchange: Exchange, to: str) -> dict[str, int]:
    registry, _ = exchange.registry()
    origin = to if to == registry else find_device(exchange, to).origin
    receipts = [receipt for receipt in exchange.receipts() if receipt.sender == origin]
    if not receipts:
        what = f"No bundle of {to} was taken in here: nobody knows what it holds."
        raise NotFoundError(what, remedy="Export every entry, without --to.")
    # What it held, it holds: the highest of each device, in whichever order its bundles came.
    held: dict[str, int] = {}
    for receipt in receipts:
        for device, sequence in receipt.sender_held.items():
            held[device] = max(held.get(device, 0), sequence)
    return held
