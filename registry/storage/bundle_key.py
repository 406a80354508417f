"""The key that signs the bundles of this machine: that of its name, else the programme's own."""

from collections.abc import Sequence

from registry.errors import MissingKeyError
from registry.ports import Exchange, Register
from registry.storage.keys import SigningKey, load_key

__all__ = ["bundle_key"]


def bundle_key(register: Register, exchange: Exchange) -> SigningKey:
    """
    Load the key that signs the bundles of this machine.

    A machine whose file was put back from a backup writes under a fresh origin and still signs with its key.

    Raises
    ------
    MissingKeyError
        If this machine holds none that could.
    UnreadableFileError
        If the file of a key is damaged.
    """
    own = exchange.writes_as()
    devices = sorted(exchange.devices(), key=lambda device: (device.origin != own, not device.trusted_at))
    first = [device.key_id for device in devices if device.origin == own]
    rest = [device.key_id for device in devices if device.origin != own and not device.ended_at]
    key = _first_held([*first, register.signing_keys()[-1].key_id, *rest])
    if key is None:
        what = "This machine holds no key to sign a bundle with: neither its own nor the programme's."
        raise MissingKeyError(what, remedy="Give it a name and a key: leadline bundle device NAME.")
    return key


def _first_held(names: Sequence[str]) -> SigningKey | None:
    for name in names:
        try:
            return load_key(name)
        except MissingKeyError:
            continue
    return None
