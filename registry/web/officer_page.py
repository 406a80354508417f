"""What every page of the officer has: who may see it, the dates it shows, a tag to know it again by."""

from datetime import date
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import Depends, Request
from fastapi.responses import Response

from registry.documents.audit_values import moment
from registry.records.audit_scope import scope_words
from registry.records.audit_summary import AuditSummary
from registry.web.identity import Caller, needs
from registry.web.officer_audit import Asked, days_of
from registry.web.officer_paths import address, way
from registry.web.opened import settings_of
from registry.web.pages import page
from registry.web.tagged import tagged

__all__ = ["Officer", "Pager", "download", "officer_page", "pager"]

#: Who may see these pages.
Officer = Annotated[Caller, Depends(needs("officer"))]
#: More days than these are not marked one by one beside the slider.
_MOST_TICKS = 400


def officer_page(
    request: Request, template: str, asked: Asked, summary: AuditSummary | None = None, **values: Any
) -> Response:
    """Fill a template of the officer's; the answer may be kept by the browser, and asked about by its tag."""
    shown = page(
        request,
        template,
        asked=asked,
        dates=_dates(request, asked),
        state=_state(summary) if summary else None,
        to=address,
        way=way,
        again=lambda fields: way(request.url.path.removeprefix("/officer").lstrip("/"), **fields),
        **values,
    )
    return tagged(request, bytes(shown.body), media_type="text/html; charset=utf-8", public=False)


def _state(summary: AuditSummary) -> dict[str, Any]:
    return {
        "programme": summary.programme,
        "scope": scope_words(summary.as_of, summary.on, lambda instant: moment(instant, summary.zone)),
        "audited_at": moment(summary.audited_at, summary.zone),
        "head": summary.journal_head,
        "entries": f"{summary.journal_entries:,}",
        "frame": f"{summary.frame_name} ({summary.frame}), epoch {summary.frame_epoch:g}",
    }


def _dates(request: Request, asked: Asked) -> dict[str, Any]:
    """Give the days between which a reader may slide, and where in between something was entered."""
    days = days_of(request)
    zone = ZoneInfo(_zone(request))
    today = settings_of(request).clock.now().astimezone(zone).date()
    first, last = days[0], max(today, days[-1])
    shown = asked.dates.known.astimezone(zone).date() if asked.dates.known else last
    ticks = [(day - first).days for day in days]
    return {
        "first": first,
        "last": last,
        "shown": min(max(shown, first), last),
        "span": (last - first).days,
        "value": (min(max(shown, first), last) - first).days,
        "ticks": ticks if len(ticks) <= _MOST_TICKS else ticks[:: -(-len(ticks) // _MOST_TICKS)],
        "before": _nearest([day for day in days if day < shown], -1),
        "after": _nearest([day for day in days if day > shown], 0),
    }


def _nearest(days: list[date], place: int) -> str:
    return days[place].isoformat() if days else ""


def _zone(request: Request) -> str:
    from registry.web.opened import reading

    with reading(request) as register:
        return register.programme().zone


class Pager:
    """One page of a long list."""

    def __init__(self, count: int, number: int, size: int) -> None:
        self.count, self.size = count, size
        self.pages = max(1, -(-count // size))
        self.number = min(max(number, 1), self.pages)
        self.first = (self.number - 1) * size
        self.end = min(self.first + size, count)


def pager(request: Request, count: int, size: int) -> Pager:
    """Read which page of a list is asked for; what is no number is the first."""
    text = request.query_params.get("page", "1")
    return Pager(count, int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 1, size)


def download(request: Request, content: bytes, name: str, media_type: str) -> Response:
    """Give a file to keep, under a name that every disk takes."""
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "-" for c in name)
    headers = {"content-disposition": f'attachment; filename="{plain}"'}
    return tagged(request, content, media_type=media_type, headers=headers, public=False)
