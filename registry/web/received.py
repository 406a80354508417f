"""What somebody sent: a file of a form, kept by its digest, under a name that can lead nowhere."""

import hashlib

from fastapi import Request

from registry.errors import RequestError
from registry.storage.received_file import ReceivedFiles
from registry.web.forms import Form
from registry.web.opened import settings_of

__all__ = ["Sent", "plain_name", "received", "sent_file", "sent_files"]

_LONGEST_NAME = 100


class Sent:
    """One file that was sent."""

    def __init__(self, name: str, data: bytes) -> None:
        self.name = name
        self.data = data
        self.sha256 = hashlib.sha256(data).hexdigest()


def received(request: Request) -> ReceivedFiles:
    """Give the folder of what was sent."""
    return ReceivedFiles(settings_of(request).received)


def plain_name(name: str) -> str:
    r"""
    Give the last part of a file's name as text of one line, for people; "file" where nothing is left.

    Examples
    --------
    >>> plain_name("../../etc/x.csv"), plain_name("C:\\logs\\day.csv"), plain_name("..")
    ('x.csv', 'day.csv', 'file')
    """
    last = name.replace("\\", "/").rpartition("/")[2]
    shown = "".join(letter for letter in last if letter.isprintable()).strip(" .")
    return shown[-_LONGEST_NAME:] or "file"


def sent_file(form: Form, name: str, label: str) -> Sent:
    """Give the file of a field; RequestError where none was chosen."""
    files = sent_files(form, name)
    if not files:
        raise RequestError(f"{label}: no file was chosen.", remedy="Choose the file, and send it again.")
    return files[0]


def sent_files(form: Form, name: str) -> list[Sent]:
    """Give every file of a field."""
    files = [value for value in form.fields.getlist(name) if not isinstance(value, str)]
    found = [Sent(plain_name(file.filename), file.file.read()) for file in files if file.filename]
    for file in files:
        file.file.close()
    return found
