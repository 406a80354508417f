"""Which keys may sign a bundle: the programme's own, and those of machines that it vouches for."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any

from registry.errors import LeadlineError
from registry.ports import Exchange, Register
from registry.records.device import Device, trust_statement
from registry.records.entry import Entry
from registry.records.programme_key import KeyEnd, endorsement_of, public_key_bytes

__all__ = ["Verify", "trusted_keys"]

#: Gives what a signed statement says, if one of some keys signed it; RejectedError otherwise.
Verify = Callable[[str, Mapping[str, bytes]], Mapping[str, Any]]


def trusted_keys(
    register: Register,
    exchange: Exchange,
    entries: Iterable[Entry],
    *,
    verify: Verify,
    compared: str = "",
) -> dict[str, str]:
    """
    Tell whose bundles are taken in.

    Parameters
    ----------
    register, exchange : Register, Exchange
        What is known here.
    entries : iterable of Entry
        Of a bundle in hand. They may introduce a key, but only under the signature of one that is trusted.
    verify : callable
        Proves a signed statement.
    compared : str
        A new key of the programme that a person compared with the published one, where no older key could
        vouch for it.

    Returns
    -------
    dict of str to str
        By thumbprint: whose key it is.

    Notes
    -----
    What a stolen key of the programme signed vouches for nothing: the machines it vouched for have to be
    trusted anew.
    """
    keys: dict[str, bytes] = {}
    for key in register.signing_keys():
        if key.ended is not KeyEnd.STOLEN:
            keys[key.key_id] = key.public_key
    devices = {device.origin: device for device in exchange.devices()}
    registry = exchange.registry()[0]
    for entry in entries:
        if entry.kind not in ("key.rotated", "device.trusted", "device.distrusted"):
            continue
        if exchange.digest(entry.origin, entry.sequence) == entry.digest:
            continue  # What is held here, the tables know, and what came after it.
        body = entry.content()
        try:
            if entry.kind == "key.rotated":
                _rotate(keys, register.programme().name, body, verify, compared)
            else:
                _hear_of(devices, entry.kind, body)
        except (LeadlineError, KeyError, TypeError, ValueError):
            continue
    trusted = dict.fromkeys(keys, "the programme")
    for device in devices.values():
        if device.endorsement and not device.ended_at and _is_vouched_for(device, keys, registry, verify):
            trusted[device.key_id] = device.name
    return trusted


def _rotate(
    keys: dict[str, bytes], programme: str, body: Mapping[str, Any], verify: Verify, compared: str
) -> None:
    """Go from a key of the programme to the one that took its place."""
    key_id, old = body["key_id"], body["replaces"]
    key = public_key_bytes(body["public_key"])
    if old in keys and body["endorsement"]:
        said = endorsement_of(programme, replaces=old, key_id=key_id, public_key=key)
        if dict(verify(body["endorsement"], {old: keys[old]})) == said:
            keys[key_id] = key
    elif compared and compared == key_id:
        keys[key_id] = key
    if body["ended"] == KeyEnd.STOLEN:
        keys.pop(old, None)


def _hear_of(devices: dict[str, Device], kind: str, body: Mapping[str, Any]) -> None:
    """Take note that a machine is trusted, or no longer."""
    origin = body["origin"]
    # Whoever has a machine that was distrusted also has the word by which it once was trusted.
    if origin in devices and devices[origin].ended_at:
        return
    if kind == "device.trusted":
        names = ("name", "key_id", "public_key", "endorsement")
        devices[origin] = Device(origin=origin, **{name: body[name] for name in names})
    elif origin in devices:
        devices[origin] = replace(devices[origin], ended_at="by the bundle")


def _is_vouched_for(device: Device, keys: Mapping[str, bytes], registry: str, verify: Verify) -> bool:
    try:
        return dict(verify(device.endorsement, keys)) == dict(trust_statement(device, registry=registry))
    except (LeadlineError, TypeError, ValueError):
        return False
