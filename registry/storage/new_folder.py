"""A folder that appears whole or not at all: written beside its place, then renamed into it."""

import os
import secrets
import shutil
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path

from registry.errors import UnwritableError
from registry.storage.files import make_folder, sync_folder
from registry.storage.held_interrupts import interrupts_held

__all__ = ["new_folder"]


@contextmanager
def new_folder(place: str | os.PathLike[str], *, names: Collection[str]) -> Iterator[Path]:
    """
    Give an empty folder to write into, and put it in its place once all is written.

    Parameters
    ----------
    place : path
        Where the folder shall be. An older one that holds nothing but `names` is replaced as a whole; in one
        that holds more, those names alone are replaced, one after the other, and the rest is left as it is.
    names : collection of str
        What is going to be written into it.

    Yields
    ------
    Path
        The folder to write into. Where anything fails, or the person stops it, it goes with all it holds.

    Raises
    ------
    UnwritableError
        If the disk is full, something else bears the name, or the folder may not be written.
    """
    target = Path(place)
    if target.exists() and not target.is_dir():
        what = f"The folder {target} cannot be made: a file bears its name."
        raise UnwritableError(what, remedy="Choose another folder.")
    make_folder(target.absolute().parent)
    draft = _beside(target, "new")
    try:
        draft.mkdir()
        yield draft
        with interrupts_held():
            _put(draft, target, names)
    except OSError as error:
        what = f"The folder {target} cannot be written ({error.strerror or error})."
        raise UnwritableError(
            what, remedy="Free some space, or choose a folder that exists and may be written."
        ) from error
    finally:
        with interrupts_held():
            shutil.rmtree(draft, ignore_errors=True)


def _beside(target: Path, ending: str) -> Path:
    whole = target.absolute()
    return whole.with_name(f".{whole.name or 'folder'}.{secrets.token_hex(4)}.{ending}")


def _put(draft: Path, target: Path, names: Collection[str]) -> None:
    if not target.exists():
        draft.rename(target)
    elif _replaceable(target, names):
        aside = _beside(target, "old")
        target.rename(aside)
        try:
            draft.rename(target)
        except BaseException:
            aside.rename(target)
            raise
        shutil.rmtree(aside, ignore_errors=True)
    else:
        for each in sorted(draft.iterdir()):
            _replace(each, target / each.name)
    sync_folder(target)


def _replaceable(target: Path, names: Collection[str]) -> bool:
    """Tell whether a folder holds nothing but what is written anew, and nobody stands in it."""
    if target.is_symlink() or os.path.ismount(target) or Path.cwd().is_relative_to(target.resolve()):
        return False
    return all(each.name in names for each in target.iterdir())


def _replace(new: Path, old: Path) -> None:
    """Put a file or a folder in the place of an older one."""
    if not old.is_dir() or old.is_symlink():
        new.replace(old)
        return
    aside = _beside(old, "old")
    old.rename(aside)
    try:
        new.rename(old)
    except BaseException:
        aside.rename(old)
        raise
    shutil.rmtree(aside, ignore_errors=True)
