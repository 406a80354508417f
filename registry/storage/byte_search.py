"""
A search for texts byte by byte in files, in the forms in which programs write text down.

It runs as a process of its own, and is told what to look for on its standard input, which nobody else sees:
whoever closes a file in the process that holds a registry open takes the locks of that registry away.

Sources
-------
POSIX locks belong to a process, not to a file handle: fcntl(2), "advisory record locking".
"""

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from registry.errors import UnreadableFileError

__all__ = ["SHORTEST_SOUGHT", "Searched", "search_files"]

#: A shorter text stands in any large file by chance. Units: bytes of UTF-8.
SHORTEST_SOUGHT = 6
_CHUNK = 4 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """One file that was read from its first byte to its last."""

    path: Path
    size: int
    #: Which of the texts stand in it.
    found: tuple[str, ...]


def search_files(paths: Sequence[Path], texts: Sequence[str]) -> tuple[Searched, ...]:
    """
    Look for texts in files, whatever they are; a file that is not there is left out.

    Parameters
    ----------
    paths : sequence of pathlib.Path
        Read whole, freed pages of a database included.
    texts : sequence of str
        Those shorter than ``SHORTEST_SOUGHT`` are passed over.

    Raises
    ------
    UnreadableFileError
        If a file cannot be read to its end.
    """
    request = json.dumps({"paths": [str(path) for path in paths], "texts": list(texts)})
    package = str(Path(__file__).resolve().parents[2])
    run = subprocess.run(
        [sys.executable, "-m", __name__],
        input=request.encode(),
        env={**os.environ, "PYTHONPATH": os.pathsep.join((package, os.environ.get("PYTHONPATH", "")))},
        capture_output=True,
        check=False,
    )
    try:
        answer = json.loads(run.stdout)
    except ValueError as error:
        what = "The search for what was erased ended without an answer."
        raise UnreadableFileError(what, remedy="Search again.") from error
    if "error" in answer:
        raise UnreadableFileError(answer["error"], remedy="Mend its rights, then search again.")
    return tuple(
        Searched(path=Path(path), size=size, found=tuple(texts[place] for place in found))
        for path, size, found in answer["searched"]
    )


def _answer(request: dict[str, list[str]]) -> dict[str, object]:
    """Search, and name the texts that were found by their place: what was erased is not said again."""
    texts = request["texts"]
    sought = {text: tuple(_forms(text)) for text in texts if len(text.encode()) >= SHORTEST_SOUGHT}
    place = {text: number for number, text in enumerate(texts)}
    try:
        searched = [_search(path, sought) for path in map(Path, request["paths"]) if path.is_file()]
    except UnreadableFileError as error:
        return {"error": error.what}
    return {
        "searched": [[str(each.path), each.size, [place[text] for text in each.found]] for each in searched]
    }


def _forms(text: str) -> Iterator[bytes]:
    """Give a text as UTF-8, as JSON writes it, in both orders of UTF-16 and in Latin-1."""
    forms = [
        text.encode(),
        json.dumps(text)[1:-1].encode(),
        json.dumps(text, ensure_ascii=False)[1:-1].encode(),
    ]
    forms += [text.encode(code) for code in ("utf-16-le", "utf-16-be")]
    with suppress(UnicodeEncodeError):
        forms.append(text.encode("latin-1"))
    yield from dict.fromkeys(forms)


def _search(path: Path, sought: dict[str, tuple[bytes, ...]]) -> Searched:
    longest = max((len(form) for forms in sought.values() for form in forms), default=1)
    found: dict[str, None] = {}
    size, kept = 0, b""
    try:
        with path.open("rb") as file:
            while data := file.read(_CHUNK):
                size += len(data)
                window = kept + data
                for text, forms in sought.items():
                    if text not in found and any(form in window for form in forms):
                        found[text] = None
                kept = window[-(longest - 1) :] if longest > 1 else b""
    except OSError as error:
        what = f"{path} cannot be searched: {error.strerror or error}."
        raise UnreadableFileError(what, remedy="Mend its rights, then search again.") from error
    return Searched(path=path, size=size, found=tuple(found))


if __name__ == "__main__":
    print(json.dumps(_answer(json.load(sys.stdin))))  # noqa: T201
