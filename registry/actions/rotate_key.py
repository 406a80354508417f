"""Sign with another key from now on; the public half of the old one is kept for good."""

from collections.abc import Callable, Mapping
from typing import Any

from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Register
from registry.records.certificate import key_thumbprint
from registry.records.entry import Draft
from registry.records.printed_words import printed_words
from registry.records.programme_key import KeyEnd, ProgrammeKey, endorsement_of, public_key_text

__all__ = ["rotate_key"]

LONGEST_REASON = 500


def rotate_key(
    register: Register,
    public_key: bytes,
    *,
    ended: KeyEnd,
    reason: str,
    actor: str,
    endorse: Callable[[Mapping[str, Any]], str] | None = None,
) -> ProgrammeKey:
    """
    Record that a new key takes the place of the one in use.

    Parameters
    ----------
    register : Register
        Keeps the entry.
    public_key : bytes
        Of the new key, raw, 32 bytes.
    ended : KeyEnd
        What became of the key in use.
    reason : str
        Why, for the journal.
    actor : str
        Who does it.
    endorse : callable, optional
        Signs a statement with the key in use. Needed where that is retired: so whoever trusts the old key can
        trust the new one. What a lost key cannot sign, and what a stolen one signs, vouches for nothing.

    Raises
    ------
    InvalidRecordError
        If no reason is given, the key is none, or a retired key vouches for nothing.
    ConflictError
        If the key was in use before.
    """
    if not reason.strip():
        what = "The change of the signing key gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    reason = printed_words("reason", reason.strip(), longest=LONGEST_REASON)
    with register.writing():
        keys = register.signing_keys()
        key_id = key_thumbprint(public_key)
        if key_id in {key.key_id for key in keys}:
            raise ConflictError(f"The key {key_id} was in use before.", remedy="Make a new one.")
        if (ended is KeyEnd.RETIRED) != (endorse is not None):
            can = "must" if ended is KeyEnd.RETIRED else "cannot"
            what = f"A key that was {ended} {can} vouch for the next."
            raise InvalidRecordError(what, remedy="Say truly whether it was retired, lost or stolen.")
        statement = endorsement_of(
            register.programme().name, replaces=keys[-1].key_id, key_id=key_id, public_key=public_key
        )
        body = {
            "key_id": key_id,
            "public_key": public_key_text(public_key),
            "replaces": keys[-1].key_id,
            "ended": str(ended),
            "reason": reason,
            "endorsement": endorse(statement) if endorse else "",
        }
        register.append([Draft(kind="key.rotated", actor=actor, body=body)])
        return register.signing_keys()[-1]
