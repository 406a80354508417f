"""The public view of the registry, made once for each state of its journal and day."""

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any, TypeVar

from fastapi import Request

from registry.web.opened import reading, settings_of

if TYPE_CHECKING:
    from registry.records.public_site import PublicSite

__all__ = ["made_once", "published_site"]

T = TypeVar("T")


def published_site(request: Request) -> "PublicSite":
    """Give the public view as of today; what the journal says since is in it."""
    from registry.actions.publish_site import publish_site
    from registry.formats.written_position import read_position

    now = settings_of(request).clock.now()

    def make() -> "PublicSite":
        with reading(request) as register:
            return publish_site(register, now=now, read_position=read_position)

    return made_once(request, "site", make, on=now.date())


def made_once(request: Request, what: str, make: Callable[[], T], *, on: date) -> T:
    """
    Give what follows from the journal alone, made anew only where the journal went on or the day is another.

    One thread makes it while the others wait; of each thing the last is kept.
    """
    kept: dict[str, tuple[Any, Any]] = request.app.state.kept
    with reading(request) as register:
        mark = (register.head(), on)
    with request.app.state.kept_lock:
        if what not in kept or kept[what][0] != mark:
            kept[what] = (mark, make())
        made: T = kept[what][1]
    return made
