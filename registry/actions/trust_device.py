"""Trust a machine's bundles from now on, or no longer: the programme's key vouches for it in the journal."""

from collections.abc import Callable, Mapping
from typing import Any

from registry.actions.find_device import find_device
from registry.errors import ConflictError, InvalidRecordError, RejectedError
from registry.ports import Exchange, Register
from registry.records.device import Device, trust_statement
from registry.records.entry import Draft
from registry.records.printed_words import printed_words

__all__ = ["distrust_device", "trust_device"]

#: So many characters of a thumbprint have to be compared: 96 bits.
LEAST_COMPARED = 16
LONGEST_REASON = 500


def trust_device(
    register: Register,
    exchange: Exchange,
    device: Device,
    *,
    compared: str,
    endorse: Callable[[Mapping[str, Any]], str],
    actor: str,
) -> Device:
    """
    Record that the bundles of a machine are taken in.

    Parameters
    ----------
    register, exchange : Register, Exchange
        The registry of a machine that holds the programme's key.
    device : Device
        As the bundle in hand names it.
    compared : str
        Its key as its own screen shows it, at least the first 16 characters: whoever sent the bundle could
        have put in another.
    endorse : callable
        Signs a statement with the programme's key in use.
    actor : str
        Who trusts it.

    Raises
    ------
    RejectedError
        If the key is another than the one compared.
    InvalidRecordError
        If too little of it was compared.
    ConflictError
        If the key in use vouches for it already, another machine bears its origin, or it was distrusted:
        that is for good, since its old endorsement exists.
    """
    compared = "".join(compared.split())
    if len(compared) < LEAST_COMPARED:
        what = f"{len(compared)} characters of a key are too few to know it by."
        raise InvalidRecordError(
            what, remedy=f"Give at least {LEAST_COMPARED}: leadline bundle devices there."
        )
    if not device.key_id.startswith(compared):
        what = f"The bundle was signed with the key {device.key_id}, not with {compared}."
        raise RejectedError(
            what, remedy="Compare with the machine itself: leadline bundle devices. Trust nothing."
        )
    with register.writing():
        known = next((each for each in exchange.devices() if each.origin == device.origin), None)
        if known:
            _may_be_trusted(known, device)
            device = known
        endorsement = endorse(trust_statement(device, registry=exchange.registry()[0]))
        if known and known.endorsement == endorsement:
            raise ConflictError(f"{known.name} is trusted already.", remedy="Nothing is left to be done.")
        body = {
            "origin": device.origin,
            "name": device.name,
            "key_id": device.key_id,
            "public_key": device.public_key,
            "endorsement": endorsement,
        }
        register.append([Draft(kind="device.trusted", actor=actor, body=body)])
        return find_device(exchange, device.origin)


def _may_be_trusted(known: Device, device: Device) -> None:
    """Refuse a machine that was distrusted, and another that calls itself by its origin."""
    anew = "Begin there anew with a copy by leadline backup and leadline bundle device."
    if known.ended_at:
        what = f"{known.name} is not trusted since {known.ended_at}: {known.reason}"
        raise ConflictError(what, remedy=anew)
    if known.key_id != device.key_id:
        what = f"{known.name} ({known.origin}) signs with the key {known.key_id}, not with {device.key_id}."
        raise ConflictError(what, remedy=anew)


def distrust_device(register: Register, exchange: Exchange, which: str, *, reason: str, actor: str) -> Device:
    """
    Record that bundles signed by a machine are taken in no longer: it was stolen, or is used no more.

    What came from it before stays in the journal.

    Raises
    ------
    InvalidRecordError
        If no reason is given.
    NotFoundError, ConflictError
        If there is no such machine, or it is not trusted.
    """
    if not reason.strip():
        raise InvalidRecordError("No reason is given.", remedy='Say why, with --reason "...".')
    reason = printed_words("reason", reason.strip(), longest=LONGEST_REASON)
    with register.writing():
        device = find_device(exchange, which)
        if device.ended_at:
            what = f"{device.name} is not trusted since {device.ended_at}: {device.reason}"
            raise ConflictError(what, remedy="Nothing is left to be done.")
        body = {"origin": device.origin, "key_id": device.key_id, "reason": reason}
        register.append([Draft(kind="device.distrusted", actor=actor, body=body)])
        return find_device(exchange, device.origin)
