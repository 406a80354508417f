"""The public view of the registry, and what is made of it: kept, and made anew as the journal goes on."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import RLock
from typing import TYPE_CHECKING, Any, TypeVar

from fastapi import Request

from registry.web.opened import reading, settings_of

if TYPE_CHECKING:
    from registry.records.public_site import PublicSite
    from registry.storage.register import GeoPackageRegister

__all__ = ["Kept", "made_once", "published_site"]

T = TypeVar("T")
#: A view that took a second to make may be ten seconds late, half a minute at most, so that a busy day at sea
#: keeps no more than a tenth of the machine at making views.
_LATE_TIMES, _LATEST_S = 10.0, 30.0
#: What may show less than before is never late: the consent of a family, what the programme publishes.
_AT_ONCE = frozenset({"module.amended", "conflict.settled", "programme.declared"})


@dataclass(slots=True)
class _View:
    """The public view, and of which state of the registry and which day it is."""

    site: "PublicSite"
    mark: tuple[Any, ...]
    #: Until when it is shown although the journal went on. Units: s, of the monotonic clock.
    shown_until: float
    #: Up to which entry of the journal it was looked whether one shows less; and whether one does.
    looked_at: int
    overtaken: bool = False

    def look(self, register: "GeoPackageRegister") -> None:
        """Look at the entries that came since; threads that do so together leave none out."""
        after = self.looked_at
        kinds = [entry.kind for entry in register.journal(after=after)]
        self.overtaken |= not _AT_ONCE.isdisjoint(kinds)
        self.looked_at = max(self.looked_at, after + len(kinds))


class Kept:
    """What one application keeps of the public view between requests."""

    def __init__(self) -> None:
        self.lock = RLock()
        self.view: _View | None = None
        #: What was made of a view, by name, with the view it was made of.
        self.made: dict[str, tuple[PublicSite, Any]] = {}


def published_site(request: Request) -> "PublicSite":
    """
    Give the public view as of today.

    It may be late by ten times what it takes to make, and never by more than half a minute. One thread makes
    it while the others go on showing the one before; not where a family or the programme may have chosen that
    less is shown: then all wait for the new one.
    """
    kept: Kept = request.app.state.kept
    today = settings_of(request).clock.now().date()
    with reading(request) as register:
        mark = (register.head(), today)
        held = kept.view
        if held is not None and held.mark != mark:
            held.look(register)
    if held is not None and held.mark[1] == today and not held.overtaken:
        if held.mark == mark or time.monotonic() < held.shown_until:
            return held.site
        if not kept.lock.acquire(blocking=False):
            return held.site
    else:
        kept.lock.acquire()
    try:
        if kept.view is None or kept.view.mark != mark:
            kept.view = _made(request, mark)
        return kept.view.site
    finally:
        kept.lock.release()


def made_once(request: Request, what: str, make: Callable[[], T]) -> T:
    """Give what follows from the public view alone, made anew where that is another; the last is kept."""
    site = published_site(request)
    kept: Kept = request.app.state.kept
    with kept.lock:
        held = kept.made.get(what)
        if held is None or held[0] is not site:
            held = kept.made[what] = (site, make())
        made: T = held[1]
    return made


def _made(request: Request, mark: tuple[Any, ...]) -> _View:
    from registry.actions.publish_site import publish_site
    from registry.formats.written_position import read_position

    began = time.monotonic()
    with reading(request) as register, register.reading():
        now = settings_of(request).clock.now()
        length = register.journal_length()
        site = publish_site(register, now=now, read_position=read_position)
    ended = time.monotonic()
    return _View(site, mark, ended + min(_LATE_TIMES * (ended - began), _LATEST_S), length)
