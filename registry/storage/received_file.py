"""
What was sent to the application: each file kept under its digest, and notes beside them.

A file is named by what is in it, never by what its sender called it, so that no name can lead elsewhere and
the same file is kept once. The folder and its files are its owner's alone. One process serves the folder:
threads of it take turns at a note.
"""

import hashlib
import json
import os
import re
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from registry.errors import NotFoundError, UnreadableFileError, UnwritableError
from registry.storage.files import make_folder, read_file, write_file

__all__ = ["ReceivedFiles"]

_DIGEST = re.compile(r"[0-9a-f]{64}")
_NOTE = re.compile(r"[a-z]+-[0-9a-f]{16,64}")
_ONE_AT_A_TIME = threading.Lock()


class ReceivedFiles:
    """The folder of what was sent."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def keep(self, data: bytes) -> str:
        """
        Keep a file, and give its SHA-256 digest.

        Raises
        ------
        UnreadableFileError
            If there is nothing in it.
        UnwritableError
            If the disk is full or the folder cannot be written.
        """
        if not data:
            raise UnreadableFileError(
                "The file is empty.", remedy="Send the one that was written completely."
            )
        digest = hashlib.sha256(data).hexdigest()
        path = self._made() / digest
        if not path.exists():
            write_file(path, data, private=True)
        return digest

    def read(self, digest: str) -> bytes:
        """
        Give a file by its digest.

        Raises
        ------
        NotFoundError
            If no such file was sent, or that is no digest.
        UnreadableFileError
            If what lies there is not what was sent.
        """
        path = self._folder / digest
        if not _DIGEST.fullmatch(digest) or not path.is_file():
            raise NotFoundError("No such file was sent.", remedy="Send it again.")
        data = read_file(path)
        if hashlib.sha256(data).hexdigest() != digest:
            what = f"The file {digest[:12]}… was changed after it was sent."
            raise UnreadableFileError(what, remedy="Send it again, once the damaged copy is removed.")
        return data

    @contextmanager
    def laid_out(self, names: Mapping[str, str]) -> Iterator[Path]:
        """
        Lay files out in a folder of their own under their names, as a reader of shapes wants them.

        Parameters
        ----------
        names : mapping
            Plain name to digest.

        Raises
        ------
        NotFoundError
            If one was not sent, or a name is not plain.
        """
        with tempfile.TemporaryDirectory(prefix="leadline-") as place:
            folder = Path(place)
            for name, digest in names.items():
                if Path(name).name != name:
                    raise NotFoundError(f"{name!r} is no plain name of a file.", remedy="Send it again.")
                write_file(folder / name, self.read(digest), private=True)
            yield folder

    def note(self, name: str) -> Any:
        """Give what a note says, None where there is none; UnreadableFileError where it is damaged."""
        path = self._note_path(name)
        if not path.is_file():
            return None
        try:
            return json.loads(read_file(path))
        except ValueError as error:
            what = f"The note {path.name} is damaged ({error})."
            raise UnreadableFileError(what, remedy="Remove it, and send the file again.") from error

    def notes(self, kind: str) -> list[Any]:
        """Give what the notes of a kind say, the one changed last first."""
        if not self._folder.is_dir():
            return []
        found = [p for p in self._folder.glob(f"{kind}-*.json") if _NOTE.fullmatch(p.stem)]
        found.sort(key=lambda path: path.stat().st_mtime_ns, reverse=True)
        return [self.note(path.stem) for path in found]

    def change(self, name: str, change: Callable[[Any], Any]) -> Any:
        """
        Change a note: nobody else changes it between reading and writing.

        Parameters
        ----------
        name : str
            A word, a hyphen and hexadecimal digits.
        change : callable
            Gets what the note says (None where there is none) and gives what it is to say; what it raises
            leaves the note as it is.
        """
        path = self._note_path(name)
        with _ONE_AT_A_TIME:
            said = change(self.note(name))
            self._made()
            write_file(path, json.dumps(said, ensure_ascii=False, indent=1).encode(), private=True)
        return said

    def _note_path(self, name: str) -> Path:
        if not _NOTE.fullmatch(name):
            raise NotFoundError("No such file was sent.", remedy="Send it again.")
        return self._folder / f"{name}.json"

    def _made(self) -> Path:
        folder = make_folder(self._folder)
        if os.name != "nt":
            try:
                folder.chmod(0o700)
            except OSError as error:
                what = f"The folder {folder} cannot be kept to its owner: {error.strerror}."
                raise UnwritableError(what, remedy="Let the account that serves own it.") from error
        return folder
