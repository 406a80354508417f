"""
Where a programme's signing keys are kept: outside the registry, readable by their owner alone.

The folder is ``$LEADLINE_KEYS``, else ``$XDG_CONFIG_HOME/leadline/keys``, else ``~/.config/leadline/keys``.
Each key is one PKCS #8 PEM file named by its thumbprint, so a copy of the file is a copy of the key.
"""

import os
import re
import stat
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)

from registry.errors import MissingKeyError, RequestError, UnreadableFileError, UnwritableError
from registry.records.certificate import key_thumbprint
from registry.storage.own_rights import mended_rights

__all__ = [
    "SigningKey",
    "create_key",
    "discard_key",
    "key_folder",
    "load_key",
    "public_key_from_pem",
    "public_key_pem",
    "public_keys_from_pem",
]

_PEM_PARTS = re.compile(r"-----BEGIN [A-Z ]+-----.*?-----END [A-Z ]+-----", re.DOTALL)
_FOLDER_RIGHTS = 0o700
_FILE_RIGHTS = 0o600
_ELSEWHERE = (
    "Copy the key file from the machine that has it, or set LEADLINE_KEYS to the folder that holds it."
    " Where nobody has it any more: leadline journal rotate-key --ended lost."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SigningKey:
    """A private key in memory, ready to sign; it shows nothing of itself when printed."""

    #: The thumbprint (RFC 7638), which is also the name of the file.
    key_id: str
    #: The raw public key, 32 bytes.
    public_key: bytes
    #: What was mended while loading, one sentence each.
    notes: tuple[str, ...] = ()
    _private: Ed25519PrivateKey = field(repr=False, compare=False)

    def sign(self, message: bytes) -> bytes:
        """Give the Ed25519 signature of a message: 64 bytes."""
        return self._private.sign(message)


def key_folder() -> Path:
    """Tell the folder of the keys on this machine; it may not exist yet."""
    if named := os.environ.get("LEADLINE_KEYS"):
        return Path(named).expanduser()
    if base := os.environ.get("XDG_CONFIG_HOME"):
        return Path(base).expanduser() / "leadline" / "keys"
    return Path.home() / ".config" / "leadline" / "keys"


def create_key(folder: Path | None = None) -> SigningKey:
    """
    Make a new key and keep it.

    Parameters
    ----------
    folder : pathlib.Path, optional
        Where to, by default :func:`key_folder`; made with rights for its owner alone.

    Raises
    ------
    UnwritableError
        If the folder or the file cannot be written; no key is then in use.
    """
    folder = folder or key_folder()
    private = Ed25519PrivateKey.generate()
    public = _raw(private.public_key())
    key_id = key_thumbprint(public)
    pem = private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    try:
        folder.mkdir(mode=_FOLDER_RIGHTS, parents=True, exist_ok=True)
        notes = _mended_folder(folder)
        descriptor = os.open(folder / f"{key_id}.pem", os.O_WRONLY | os.O_CREAT | os.O_EXCL, _FILE_RIGHTS)
        with os.fdopen(descriptor, "wb") as file:
            file.write(pem)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        what = f"The signing key cannot be kept in {folder}: {error.strerror or error}."
        raise UnwritableError(what, remedy="Set LEADLINE_KEYS to a folder that you may write to.") from error
    return SigningKey(key_id=key_id, public_key=public, notes=notes, _private=private)


def discard_key(key: SigningKey, folder: Path | None = None) -> None:
    """Take away a key that was made and never came into use; nothing was ever signed with it."""
    with suppress(OSError):
        ((folder or key_folder()) / f"{key.key_id}.pem").unlink()


def load_key(key_id: str, folder: Path | None = None) -> SigningKey:
    """
    Load the key of a given name.

    Rights that let others read the key are mended, and told in ``notes``: such a key may have been copied.

    Raises
    ------
    MissingKeyError
        If this machine does not hold the key.
    UnreadableFileError
        If the file is damaged, is another key, or its rights can neither be borne nor mended.
    """
    folder = folder or key_folder()
    path = folder / f"{key_id}.pem"
    if not key_id or Path(path.name).stem != key_id or path.parent != folder:
        what = f"{key_id!r} is not the name of a key."
        raise MissingKeyError(what, remedy=_ELSEWHERE)
    try:
        pem = path.read_bytes()
        notes = _mended_folder(folder) + mended_rights(path, _FILE_RIGHTS)
    except FileNotFoundError as error:
        what = f"The programme's signing key {key_id} is not in {folder}."
        raise MissingKeyError(what, remedy=_ELSEWHERE) from error
    except OSError as error:
        what = f"The signing key {path} cannot be used: {error.strerror or error}."
        raise UnreadableFileError(what, remedy="Make the file your own, with rights 0600.") from error
    try:
        private = load_pem_private_key(pem, password=None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        what = f"{path} is not a private key in PEM form."
        raise UnreadableFileError(what, remedy="Put back a good copy of the file.") from error
    if not isinstance(private, Ed25519PrivateKey) or key_thumbprint(_raw(private.public_key())) != key_id:
        what = f"{path} holds another key than its name says."
        raise UnreadableFileError(what, remedy="Put back a good copy of the file.")
    return SigningKey(key_id=key_id, public_key=_raw(private.public_key()), notes=notes, _private=private)


def public_key_pem(public_key: bytes) -> str:
    """Write a raw public key (32 bytes) as PEM, to publish it."""
    key = Ed25519PublicKey.from_public_bytes(public_key)
    return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode()


def public_key_from_pem(pem: str) -> bytes:
    """
    Read a public key that a programme published.

    Raises
    ------
    RequestError
        If it is not an Ed25519 public key in PEM form.
    """
    try:
        key = load_pem_public_key(pem.encode())
    except (ValueError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PublicKey):
        what = "The text is not an Ed25519 public key in PEM form."
        raise RequestError(what, remedy='It begins with "-----BEGIN PUBLIC KEY-----".')
    return _raw(key)


def public_keys_from_pem(pem: str) -> tuple[bytes, ...]:
    """
    Read one or more public keys that a programme published in one text.

    Raises
    ------
    RequestError
        If there is none, or one of them is not an Ed25519 public key in PEM form.
    """
    parts = _PEM_PARTS.findall(pem)
    return tuple(public_key_from_pem(part) for part in parts or [pem])


def _raw(key: Ed25519PublicKey) -> bytes:
    return key.public_bytes(Encoding.Raw, PublicFormat.Raw)


def _mended_folder(folder: Path) -> tuple[str, ...]:
    """Mend a folder that holds keys alone; one that serves other ends keeps its rights, and that is told."""
    if all(path.suffix == ".pem" for path in folder.iterdir()):
        return mended_rights(folder, _FOLDER_RIGHTS)
    if os.name != "posix" or not stat.S_IMODE(folder.stat().st_mode) & 0o077:
        return ()
    return (
        f"Others on this machine can reach {folder}, which holds more than keys; give keys their own folder.",
    )
