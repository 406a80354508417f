"""Names cut to what a plotter shows, so that no two become one."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from registry.errors import RequestError

__all__ = ["LongName", "short_names"]


@dataclass(frozen=True, slots=True)
class LongName:
    """A name that may be too long."""

    #: From the best to the shortest; the first that fits is taken.
    spellings: tuple[str, ...]
    #: Which end tells it from others where none fits: the tail of a tag, the head of a word.
    keep_tail: bool = False


def short_names(names: Sequence[LongName], longest: int, *, besides: Iterable[str] = ()) -> list[str]:
    """
    Cut names.

    Parameters
    ----------
    names : sequence of LongName
        In the order in which they may choose.
    longest : int
        Most characters of a name.
    besides : iterable of str
        Names that are taken already.

    Returns
    -------
    list of str
        One for each, none longer, none empty, and no two alike: not in capitals either, since many plotters
        show no others. What would be alike is told apart by ``~2``, ``~3``, ...

    Raises
    ------
    RequestError
        If so many names cannot be told apart within so few characters.

    Notes
    -----
    A name that fits whole keeps it, whatever is cut to the same. A tag that does not fit keeps its tail,
    since tags differ at their end.

    Examples
    --------
    >>> tags = [LongName((f"{tag}: Ada", tag, tag.replace("-", "")), True) for tag in ("MC-17", "MC-117")]
    >>> short_names(tags, 20), short_names(tags, 5), short_names(tags, 3)
    (['MC-17: Ada', 'MC-117: Ada'], ['MC-17', 'MC117'], ['C17', '117'])
    """
    if longest < 1:
        raise RequestError(f"No name has {longest} characters.", remedy="Allow longer names.")
    taken = {name.upper() for name in besides}
    fitting = [_first_that_fits(name, longest) for name in names]
    short, alike = [""] * len(names), []
    # Whole names choose first, cut ones last; among equals, who comes first.
    for row in sorted(range(len(names)), key=lambda row: fitting[row][0]):
        _, text = fitting[row]
        if text.upper() in taken:
            alike.append(row)
        else:
            taken.add(text.upper())
            short[row] = text
    numbers: defaultdict[str, int] = defaultdict(lambda: 1)
    for row in alike:
        _, text = fitting[row]
        chosen = text
        while chosen.upper() in taken:
            numbers[text.upper()] += 1
            mark = f"~{numbers[text.upper()]}"
            room = longest - len(mark)
            if room < 1:
                what = f"{len(names)} names cannot be told apart within {longest} characters."
                raise RequestError(what, remedy="Allow longer names.")
            chosen = (text[-room:].lstrip() if names[row].keep_tail else text[:room].rstrip()) + mark
        taken.add(chosen.upper())
        short[row] = chosen
    return short


def _first_that_fits(name: LongName, longest: int) -> tuple[int, str]:
    """Give the place of the spelling that fits among all, and the spelling; or what is left of the last."""
    words = [" ".join(spelling.split()) for spelling in name.spellings]
    words = [spelling for spelling in words if spelling] or ["?"]
    for place, spelling in enumerate(words):
        if len(spelling) <= longest:
            return place, spelling
    cut = words[-1][-longest:] if name.keep_tail else words[-1][:longest]
    return len(words), cut.strip()
