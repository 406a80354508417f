"""
A signed list of certificates as text, and the way from a key that somebody trusts to the one that signed it.

Keys change over decades. A key that is retired vouches for the next, so whoever holds an old public key can
prove a new list; where a key was lost or stolen the way is broken, and that is said.
"""

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from registry.errors import InvalidRecordError, RejectedError
from registry.formats.signed_statement import key_id_of, payload_of, sign, unwrapped, verify
from registry.ports import Signer
from registry.records.certificate import key_thumbprint
from registry.records.programme_key import KeyEnd, ProgrammeKey, endorsement_of
from registry.records.status_list import (
    StatusList,
    is_status_list,
    status_list_body,
    status_list_from_body,
)

__all__ = ["read_status_list", "trusted_keys", "write_status_list"]


def write_status_list(status: StatusList, signer: Signer) -> str:
    """
    Sign a list.

    Raises
    ------
    InvalidRecordError
        If the signer is not the last of its keys.
    """
    if signer.key_id != status.keys[-1].key_id:
        what = f"The list is to be signed with the key {status.keys[-1].key_id}, not with {signer.key_id}."
        raise InvalidRecordError(what, remedy="Sign with the key in use.")
    return sign(status_list_body(status), signer)


def read_status_list(text: str, public_keys: Mapping[str, bytes]) -> StatusList:
    """
    Give back a list that was signed with a trusted key, or with one that a trusted key vouches for.

    Parameters
    ----------
    text : str
        The list, as published; blanks and line ends are passed over.
    public_keys : mapping of str to bytes
        The keys that are trusted, raw (32 bytes), by their thumbprint.

    Raises
    ------
    RejectedError
        If it is no signed list, was changed, or no trusted key leads to the one that signed it.
    """
    text = unwrapped(text)
    told = payload_of(text)
    if not is_status_list(told):
        what = "What is signed here is not a list of certificates."
        raise RejectedError(
            what, remedy="Give the file status.jws that the programme publishes, or its folder."
        )
    keys = dict(public_keys) | trusted_keys(_claimed(told), str(told.get("programme")), public_keys)
    if key_id_of(text) not in keys:
        what = (
            f"The list was signed with the key {key_id_of(text)}, to which no key that is trusted here leads."
        )
        remedy = "Ask the programme which key it signs with now, compare the name, and give it with --key."
        raise RejectedError(what, remedy=remedy)
    verified = verify(text, keys)
    try:
        status = status_list_from_body(verified)
    except InvalidRecordError as error:
        raise RejectedError(error.what, remedy=error.remedy) from error
    if not status.keys or status.keys[-1].key_id != key_id_of(text):
        what = "The list was not signed with the key that it says is in use."
        raise RejectedError(what, remedy="Get the newest list from the programme.")
    return status


def _claimed(told: Mapping[str, Any]) -> tuple[ProgrammeKey, ...]:
    """Read the keys that a list names, of which nothing is believed yet."""
    try:
        return status_list_from_body(told).keys
    except InvalidRecordError as error:
        raise RejectedError(error.what, remedy=error.remedy) from error


def trusted_keys(
    keys: tuple[ProgrammeKey, ...], programme: str, public_keys: Mapping[str, bytes]
) -> dict[str, bytes]:
    """
    Give those keys that lead on from a trusted one: each vouched for by the key before it.

    A key that was stolen or lost vouches for nothing.
    """
    found: dict[str, bytes] = {}
    for before, key in pairwise(keys):
        trusted = {**public_keys, **found}.get(before.key_id)
        if trusted is None or before.ended is not KeyEnd.RETIRED or not key.endorsement:
            continue
        expected = endorsement_of(
            programme, replaces=before.key_id, key_id=key.key_id, public_key=key.public_key
        )
        try:
            said = verify(key.endorsement, {before.key_id: trusted})
        except RejectedError:
            continue
        if said == expected and key_thumbprint(key.public_key) == key.key_id:
            found[key.key_id] = key.public_key
    return found
