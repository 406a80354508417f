"""The proof of an erasure: every file of the registry searched for what was erased, and a receipt of it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.storage.byte_search import SHORTEST_SOUGHT, search_files

if TYPE_CHECKING:
    from registry.actions.erase_family import Erased
    from registry.storage.byte_search import Searched

__all__ = ["ErasureProof", "prove_erased"]

#: What no program can reach.
_BEYOND = (
    "Not reached: copies that somebody else made of files or papers, what was sent by mail, the history of a"
    " shell, and blocks that a disk keeps of its own accord."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ErasureProof:
    """What was erased of a family, where it was looked for, and where it still stands."""

    made: "Erased"
    searched: "tuple[Searched, ...]"

    @property
    def left(self) -> tuple[tuple[Path, str], ...]:
        """Each file that still holds something, and what, without saying it."""
        labels = {each.text: each.label for each in self.made.sought}
        return tuple((file.path, labels[text]) for file in self.searched for text in file.found)

    def lines(self) -> tuple[str, ...]:
        """Give the receipt: what was erased when, without saying it, and what is left."""
        return tuple(_receipt(self.made, self.searched, self.left))

    def as_json(self) -> dict[str, Any]:
        """Give the same under the names of the command contract."""
        made = self.made
        return {
            "tag": made.tag,
            "erased_at": made.erased_at.isoformat(),
            "actor": made.actor,
            "contacts": made.contacts,
            "fields": list(made.fields),
            "identifications": made.identifications,
            "links": made.links,
            "links_left": made.links_left,
            "plaque": made.plaque,
            "entry": made.reference,
            "digest": made.digest,
            "rest_held": made.rest_held,
            "searched": [{"file": str(file.path), "bytes": file.size} for file in self.searched],
            "still_there": [{"what": label, "file": str(path)} for path, label in self.left],
            "in_journal": {each.label: list(each.entries) for each in made.sought if each.entries},
        }


def prove_erased(made: "Erased", registry: Path, also: Sequence[Path] = ()) -> ErasureProof:
    """
    Look byte by byte for what was erased.

    Parameters
    ----------
    made : Erased
        What was erased.
    registry : pathlib.Path
        The registry file: it, and whatever bears its name beside it, is searched.
    also : sequence of pathlib.Path
        Files and folders to be searched besides.

    Raises
    ------
    UnreadableFileError
        If a file cannot be read to its end.
    """
    texts = tuple(dict.fromkeys(each.text for each in made.sought))
    return ErasureProof(made=made, searched=search_files(_where(registry.resolve(), also), texts))


def _where(registry: Path, also: Sequence[Path]) -> list[Path]:
    """List every file of the registry, with what a power cut left, and what else is to be searched."""
    own = [path for path in registry.parent.iterdir() if registry.name in path.name]
    more = [path for place in also for path in (sorted(place.rglob("*")) if place.is_dir() else [place])]
    return list(dict.fromkeys(path.resolve() for path in (*sorted(own), *more) if path.is_file()))


def _receipt(
    made: "Erased", searched: Sequence["Searched"], left: Sequence[tuple[Path, str]]
) -> Iterator[str]:
    what = f"{made.contacts} contact{'' if made.contacts == 1 else 's'}"
    what += f" ({', '.join(made.fields)})" if made.fields else ""
    if made.identifications:
        what += f", {made.identifications} number{'' if made.identifications == 1 else 's'} of the crematory"
    if made.links:
        what += f", {made.links} private link{'' if made.links == 1 else 's'}"
    what += ", the words of the plaque" if made.plaque else ""
    when = f"{made.erased_at:%Y-%m-%d %H:%M} UTC"
    yield f"Erased of the family of {made.tag} at {when} by {made.actor}: {what}."
    yield f"Receipt    entry {made.reference} of the journal, digest {made.digest[:16]}"
    short = sum(1 for each in made.sought if len(each.text.encode()) < SHORTEST_SOUGHT)
    sought = len(made.sought) - short
    size = sum(file.size for file in searched)
    unsought = f"; {short} more too short to be told from chance" if short else ""
    yield f"Searched   {len(searched)} files of {size} bytes, byte by byte, for {sought} texts{unsought}"
    if left:
        for path in dict.fromkeys(path for path, _ in left):
            labels = [label for where, label in left if where == path]
            yield f"Still in   {path}: {', '.join(labels)}"
        for each in made.sought:
            if each.entries:
                yield f"           The journal says {each.label} in {', '.join(each.entries)}"
        yield "           Of the journal nothing can be erased; delete the other files."
    else:
        yield "Found      nothing of it"
    if made.rest_held:
        yield "Held still the rest of this family, as was asked"
    if made.links_left:
        yield f"Opens yet  {made.links_left} private link(s); to end them: leadline family unlink {made.tag}"
    yield "Stays      the memorial, where it lies and who kept it: the record of what is on the seabed"
    if made.listed:
        amend = f"leadline module amend {made.tag} --no-consent-listed"
        yield f"Public     the name is listed; to end that: {amend}"
    yield _BEYOND
