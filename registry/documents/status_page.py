"""The page beside a published list of certificates: what it is, and the state of every number."""

from datetime import UTC
from functools import lru_cache
from importlib.resources import files
from typing import Any

from registry.records.certificate_version import CertificateState
from registry.records.status_list import StatusList

__all__ = ["MEANINGS", "is_status_page", "write_status_page"]

#: The link to the signed list, which every such page holds and no other that is written here.
_MARK = 'href="status.jws"'

#: What each state means to whoever holds the paper.
MEANINGS = {
    CertificateState.CURRENT: "It stands.",
    CertificateState.CHANGED: "The record has changed since; ask the programme for a new version.",
    CertificateState.SUPERSEDED: "A later version was issued and takes its place.",
    CertificateState.WITHDRAWN: "It does not stand any more; ask the programme.",
}
#: A shape beside each word: it reads without colour.
_SHAPES = {
    CertificateState.CURRENT: "+",
    CertificateState.CHANGED: "!",
    CertificateState.SUPERSEDED: "–",
    CertificateState.WITHDRAWN: "×",
}
_ENDS = {"retired": "replaced", "lost": "lost", "stolen": "stolen: what it signed counts only if listed here"}


def write_status_page(status: StatusList) -> str:
    """
    Write the page: HTML, whole in itself; it names no one.

    Parameters
    ----------
    status : StatusList
        What is published.
    """
    rows = [
        {
            "number": each.number,
            "version": each.version,
            "state": str(each.state),
            "shape": _SHAPES[each.state],
            "since": each.since.isoformat(),
            "copies": len(each.statements) - 1,
        }
        for each in status.versions
    ]
    keys = [
        {
            "key": key.key_id,
            "since": f"{key.since:%Y-%m-%d}",
            "until": f"{key.until:%Y-%m-%d}" if key.until else "in use",
            "ended": _ENDS[str(key.ended)] if key.ended else "",
        }
        for key in reversed(status.keys)
    ]
    return _template().render(  # type: ignore[no-any-return]
        programme=status.programme,
        made=f"{status.made_at.astimezone(UTC):%Y-%m-%d, %H:%M} UTC",
        renew_by=status.renew_by.isoformat(),
        rows=rows,
        keys=keys,
        meanings=[(str(state), _SHAPES[state], words) for state, words in MEANINGS.items()],
    )


def is_status_page(text: str) -> bool:
    """Tell whether a page is one that was published beside a list before."""
    return _MARK in text


@lru_cache(maxsize=1)
def _template() -> Any:
    """Load the page's template; every value is escaped."""
    from jinja2 import Environment, StrictUndefined

    text = files("registry.documents").joinpath("status_page.html").read_text(encoding="utf-8")
    return Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True).from_string(text)
