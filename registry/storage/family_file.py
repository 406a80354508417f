"""
Where contacts of families are kept: one file beside the registry, readable by its owner alone.

Nothing else that Leadline writes holds any of it, no backup either, so what is erased here is erased. The
file is written while the registry is held for writing, which keeps two writers apart.
"""

import json
import os
import secrets
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, replace
from datetime import UTC, date, datetime
from glob import escape
from pathlib import Path
from typing import Any

from registry.errors import LeadlineError, NewerRegistryError, UnreadableFileError, UnwritableError
from registry.records.entry import instant_text
from registry.records.family import Contact, Family
from registry.records.plaque_wording import PlaqueWording
from registry.storage.files import sync_folder
from registry.storage.held_interrupts import interrupts_held
from registry.storage.own_rights import mended_rights

__all__ = ["FamilyFile", "family_file_of"]

_FORMAT = 2
_RIGHTS = 0o600
_CHUNK = 1 << 20


def family_file_of(registry: str | os.PathLike[str]) -> Path:
    """Tell where the families of a registry are kept; there may be no such file."""
    target = Path(registry).resolve()
    return target.with_name(f"{target.name}.families")


class FamilyFile:
    """
    The port ``Families`` over one file of JSON.

    Every method raises UnreadableFileError or UnwritableError where the file does not do as it should.

    Parameters
    ----------
    path : pathlib.Path
        The file, which need not exist.
    origin : str
        Of the registry: a file that belongs to another one is refused.
    """

    def __init__(self, path: Path, *, origin: str) -> None:
        self.path = path
        self._origin = origin
        #: What was mended, one sentence each.
        self.notes: tuple[str, ...] = ()

    def held(self) -> dict[str, Family]:
        """Give what is held of every family, by the tag of its module, in order of tag."""
        return dict(sorted(self._read().items()))

    def keep(self, families: Sequence[Family]) -> None:
        """
        Write down what is held of families from now on, in the place of what was; erase empty ones.

        The new file takes the place of the old one in one step. The bytes of the old one are then written
        over with zeros, as far as a file system lets a program do that.
        """
        held = self._read()
        for family in families:
            held.pop(family.tag, None)
            if not family.empty:
                held[family.tag] = family
        with interrupts_held():
            self._tidy()
            self._replace(held)

    def fresh_secret(self) -> str:
        """Give 32 bytes that nobody can guess, in hexadecimal."""
        return secrets.token_hex(32)

    def _read(self) -> dict[str, Family]:
        try:
            data = _whole(self.path)
            self.notes += mended_rights(self.path, _RIGHTS)
        except FileNotFoundError:
            return {}
        except OSError as error:
            what = f"{self.path}, which holds what is known of families, cannot be read: {error.strerror}."
            raise UnreadableFileError(what, remedy="Make the file your own, with rights 0600.") from error
        try:
            document = json.loads(data)
            origin, form = document["registry"], document["format"]
        except (ValueError, KeyError, TypeError) as error:
            raise self._damaged(error) from error
        if isinstance(form, int) and form > _FORMAT:
            what = f"{self.path} was written by a later version of Leadline."
            raise NewerRegistryError(what, remedy="Install that version; nothing was changed.")
        if origin != self._origin:
            what = f"{self.path} belongs to another registry ({origin}, this one is {self._origin})."
            raise UnreadableFileError(what, remedy="Put it beside its own registry.")
        try:
            return {tag: _family(tag, held) for tag, held in document["families"].items()}
        except (ValueError, KeyError, TypeError, AttributeError, LeadlineError) as error:
            raise self._damaged(error) from error

    def _damaged(self, error: Exception) -> UnreadableFileError:
        # The error itself may quote what must not be shown.
        what = f"{self.path}, which holds what is known of families, is damaged ({type(error).__name__})."
        return UnreadableFileError(what, remedy="Put a good copy of it in its place, or move it away.")

    def _replace(self, held: dict[str, Family]) -> None:
        document = {
            "format": _FORMAT,
            "registry": self._origin,
            "families": {tag: _body(held[tag]) for tag in sorted(held)},
        }
        text = json.dumps(document, ensure_ascii=False, indent=1) + "\n"
        draft = self.path.with_name(f".{self.path.name}.{secrets.token_hex(4)}.new")
        try:
            before = _opened(self.path)
            try:
                if held:
                    _write_new(draft, text.encode())
                    draft.replace(self.path)
                elif before is not None:
                    self.path.unlink()
                sync_folder(self.path)
                if before is not None:
                    _blank(before)
            finally:
                if before is not None:
                    os.close(before)
                draft.unlink(missing_ok=True)
        except OSError as error:
            what = f"{self.path} cannot be written ({error.strerror or error})."
            raise UnwritableError(
                what, remedy="Free some space, or mend the rights of its folder."
            ) from error

    def _tidy(self) -> None:
        """Blank and remove a draft that a power cut left: nobody else writes while the registry is held."""
        for left in self.path.parent.glob(f".{escape(self.path.name)}.*.new"):
            with suppress(OSError):
                descriptor = os.open(left, os.O_RDWR)
                try:
                    _blank(descriptor)
                finally:
                    os.close(descriptor)
                left.unlink()


def _whole(path: Path) -> bytes:
    """Read the file that bears the name; one that lost it meanwhile is being blanked."""
    while True:
        with path.open("rb") as file:
            data = file.read()
            if os.path.samestat(path.stat(), os.fstat(file.fileno())):
                return data


def _opened(path: Path) -> int | None:
    try:
        return os.open(path, os.O_RDWR)
    except FileNotFoundError:
        return None


def _write_new(path: Path, data: bytes) -> None:
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _RIGHTS)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _blank(descriptor: int) -> None:
    """Write zeros over all of a file that has no name any more."""
    left = os.fstat(descriptor).st_size
    os.lseek(descriptor, 0, os.SEEK_SET)
    while left > 0:
        left -= os.write(descriptor, bytes(min(left, _CHUNK)))
    os.fsync(descriptor)


def _body(family: Family) -> dict[str, Any]:
    body = asdict(family)
    del body["tag"]
    body["recorded_at"] = instant_text(family.recorded_at)
    del body["plaque"]
    if family.plaque is not None:
        body["plaque"] = asdict(family.plaque) | {"on": family.plaque.on.isoformat()}
    body["contacts"] = [
        contact.values() | {"recorded_at": instant_text(contact.recorded_at)} for contact in family.contacts
    ]
    return body


def _family(tag: str, body: dict[str, Any]) -> Family:
    contacts = tuple(
        Contact(**(each | {"recorded_at": _instant(each["recorded_at"])})) for each in body["contacts"]
    )
    made = Family(tag=tag, recorded_at=_instant(body["recorded_at"]), contacts=contacts)
    if body["secret"]:
        bytes.fromhex(body["secret"])
    return replace(
        made,
        secret=body["secret"],
        identifications=tuple(body["identifications"]),
        plaque=_wording(body.get("plaque")),
    )


def _wording(body: dict[str, Any] | None) -> PlaqueWording | None:
    if body is None:
        return None
    return PlaqueWording(**(body | {"on": date.fromisoformat(body["on"]), "words": tuple(body["words"])}))


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)
