"""Files that come in and go out: read whole, decoded with care, written all or not at all."""

import hashlib
import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path

from registry.errors import UnreadableFileError, UnwritableError

__all__ = [
    "DecodedText",
    "clear_drafts",
    "decode_text",
    "file_digest",
    "make_folder",
    "read_file",
    "read_text",
    "write_file",
]

#: How :func:`write_file` calls a file until it is whole.
_DRAFT = re.compile(r"\..+\.[0-9a-f]{8}\.new")
_UTF8_MARK = b"\xef\xbb\xbf"
_WIDE_MARKS = {
    b"\xff\xfe\x00\x00": "utf-32",
    b"\x00\x00\xfe\xff": "utf-32",
    b"\xff\xfe": "utf-16",
    b"\xfe\xff": "utf-16",
}
#: How files begin that are opened by mistake.
_NOT_TEXT = {
    b"PK\x03\x04": ("a workbook or another packed file", "Open it and save the sheet as CSV (UTF-8)."),
    b"\xd0\xcf\x11\xe0": (
        "a workbook of an old office program",
        "Open it and save the sheet as CSV (UTF-8).",
    ),
    b"%PDF": ("a PDF", "Give the table or log itself, as CSV or text."),
    b"SQLite format 3": ("a database", "Give the table or log itself, as CSV or text."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class DecodedText:
    """A text, and how its bytes were understood."""

    text: str
    #: Name of the encoding, as "utf-8".
    encoding: str
    #: What a person should know about it, empty where nothing was assumed.
    note: str = ""


def read_file(path: str | os.PathLike[str]) -> bytes:
    """
    Read a file whole.

    Raises
    ------
    UnreadableFileError
        If it is absent, a folder, empty, or this account may not read it.
    """
    source = Path(path)
    try:
        data = source.read_bytes()
    except FileNotFoundError as error:
        raise UnreadableFileError(
            f"There is no file {source}.", remedy="Check the name and folder."
        ) from error
    except IsADirectoryError as error:
        what = f"{source} is a folder, not a file."
        raise UnreadableFileError(what, remedy="Give the file inside it.") from error
    except PermissionError as error:
        what = f"{source} may not be read by this account."
        raise UnreadableFileError(what, remedy="Change its permissions, or copy it where you may.") from error
    except (OSError, ValueError) as error:
        what = f"{source} cannot be read ({getattr(error, 'strerror', None) or error})."
        raise UnreadableFileError(what, remedy="Check the disk or stick that it lies on.") from error
    if not data:
        what = f"{source} is empty."
        raise UnreadableFileError(what, remedy="Look for the copy that was written completely.")
    return data


def read_text(path: str | os.PathLike[str]) -> DecodedText:
    """
    Read a text file whole and decode it.

    Raises
    ------
    UnreadableFileError
        If it cannot be read, or its bytes are not the text they claim to be.
    """
    return decode_text(read_file(path), name=str(path))


def decode_text(data: bytes, *, name: str) -> DecodedText:
    """
    Decode a text by its byte order mark, else as UTF-8, else as Windows-1252 with a note that says so.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        The file as the person named it, for messages.

    Raises
    ------
    UnreadableFileError
        If the bytes after a mark are not what the mark says (the position is named), or if it is no text.

    Examples
    --------
    >>> decode_text("34° N".encode("latin-1"), name="log.csv").text
    '34° N'
    """
    for beginning, (kind, remedy) in _NOT_TEXT.items():
        if data.startswith(beginning):
            raise UnreadableFileError(f"{name} is {kind}, not a text.", remedy=remedy)
    if data.startswith(_UTF8_MARK):
        return DecodedText(text=_strictly(data, "utf-8-sig", name), encoding="utf-8")
    for mark, encoding in _WIDE_MARKS.items():
        if data.startswith(mark):
            return DecodedText(text=_strictly(data, encoding, name), encoding=encoding)
    if b"\x00" in data:
        what = f"{name} is not a text: byte {data.index(0)} is zero."
        raise UnreadableFileError(what, remedy="Save it again as CSV or text in UTF-8.")
    try:
        return DecodedText(text=data.decode("utf-8"), encoding="utf-8")
    except UnicodeDecodeError as error:
        first = error.start
    try:
        text, encoding, called = data.decode("cp1252"), "cp1252", "Windows-1252"
    except UnicodeDecodeError:
        text, encoding, called = data.decode("latin-1"), "latin-1", "Latin-1"
    note = (
        f"{name} is not UTF-8 (byte {first} is 0x{data[first]:02X}); it was read as {called}."
        " Check letters with accents, and save it as UTF-8 next time."
    )
    return DecodedText(text=text, encoding=encoding, note=note)


def _strictly(data: bytes, encoding: str, name: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        # The codec counts from behind the mark where it takes the mark off first.
        offset = len(_UTF8_MARK) if encoding == "utf-8-sig" else 0
        position = min(error.start + offset, len(data) - 1)
        called = encoding.removesuffix("-sig").upper()
        what = (
            f"{name} begins as {called}, but byte {position} (0x{data[position]:02X}) is not:"
            " it was probably joined from two files or cut short."
        )
        remedy = "Save it again as UTF-8 from the program that made it."
        raise UnreadableFileError(what, remedy=remedy) from error


def write_file(path: str | os.PathLike[str], data: bytes, *, private: bool = False) -> Path:
    """
    Write a file so that its name holds either all of it or what it held before.

    Parameters
    ----------
    path : path
        The file.
    data : bytes
        All of it.
    private : bool
        Whether only its owner may read it (rights 0600).

    Raises
    ------
    UnwritableError
        If the disk is full, or the folder is absent or read-only; then nothing is left behind.
    """
    target = Path(path)
    draft = target.with_name(f".{target.name}.{secrets.token_hex(4)}.new")
    try:
        try:
            rights = 0o600 if private else 0o666
            with open(draft, "xb", opener=lambda name, flags: os.open(name, flags, rights)) as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            draft.replace(target)
            sync_folder(target)
        except BaseException:
            draft.unlink(missing_ok=True)
            raise
    except (OSError, ValueError) as error:
        what = f"{target} cannot be written ({getattr(error, 'strerror', None) or error})."
        raise UnwritableError(
            what, remedy="Free some space, or choose a folder that exists and may be written."
        ) from error
    return target


def make_folder(path: str | os.PathLike[str]) -> Path:
    """
    Make a folder, with those above it, where it does not exist.

    Raises
    ------
    UnwritableError
        If it cannot be made, or something else bears the name.
    """
    folder = Path(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = f"The folder {folder} cannot be made: {error.strerror or error}."
        raise UnwritableError(what, remedy="Choose another folder, or check its rights.") from error
    return folder


def clear_drafts(folder: Path) -> None:
    """
    Clear away what a run left half written that was killed: files that :func:`write_file` never named.

    Raises
    ------
    UnwritableError
        If they cannot be removed.
    """
    for draft in folder.glob(".*.new"):
        if not _DRAFT.fullmatch(draft.name) or not draft.is_file():
            continue
        try:
            draft.unlink(missing_ok=True)
        except OSError as error:
            what = f"{draft}, half written by a run that was killed, cannot be removed: {error.strerror}."
            raise UnwritableError(what, remedy="Remove it, or choose another folder.") from error


def sync_folder(target: Path) -> None:
    """Bring the name of a new file down to the disk, where the system can do that."""
    if os.name == "nt":
        return
    descriptor = os.open(target.absolute().parent, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def file_digest(path: str | os.PathLike[str]) -> str:
    """
    Give the SHA-256 digest of a file, in hexadecimal.

    Raises
    ------
    UnreadableFileError
        If it cannot be read.
    """
    return hashlib.sha256(read_file(path)).hexdigest()
