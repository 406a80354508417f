"""A page out of its template: everything that was typed is escaped, nothing is decided."""

from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from registry.measure.decision import Verdict
from registry.web.forms import FORM_TOKEN
from registry.web.identity import optional_caller
from registry.web.opened import settings_of

__all__ = ["STATIC", "page", "verdict_mark"]

_HERE = Path(__file__).parent
#: The folder of the style sheet and the scripts.
STATIC = _HERE / "static"
#: Where each of the four people begins, and who sees the way there.
_WAYS = (
    ("/boat", "Boat", ("dive team",)),
    ("/officer", "Audit", ("officer",)),
    ("/office", "Office", ("office",)),
)
#: Word, class and shape of each verdict: it reads without colour.
_MARKS = {
    Verdict.CONFORMING.word: ("good", "M4 13l5 5L20 6"),
    Verdict.NONCONFORMING.word: ("bad", "M5 5l14 14M19 5L5 19"),
    Verdict.INCONCLUSIVE.word: ("unsure", "M8 8a4 4 0 1 1 5 4c-1 .5-1 1-1 3M12 19v1"),
    Verdict.NOT_APPLICABLE.word: ("none", "M5 12h14"),
}


def verdict_mark(verdict: Verdict | str) -> Markup:
    """Give a verdict as a shape, a word and a colour."""
    word = verdict.word if isinstance(verdict, Verdict) else verdict
    name, path = _MARKS.get(word, _MARKS[Verdict.NOT_APPLICABLE.word])
    return Markup(
        f'<span class="verdict {name}"><svg viewBox="0 0 24 24" aria-hidden="true"><path d="{path}"/></svg>'
        f"{escape(word)}</span>"
    )


@cache
def _environment() -> Environment:
    loader = FileSystemLoader(_HERE / "templates")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    environment.filters["verdict"] = verdict_mark
    return environment


def page(request: Request, template: str, /, status: int = 200, **values: Any) -> HTMLResponse:
    """Fill a template of ``templates`` and give it as an answer."""
    caller = optional_caller(request)
    token = caller.csrf if caller else ""
    known = {
        "caller": caller,
        "ways": [(path, name) for path, name, roles in _WAYS if caller and caller.may(*roles)],
        "here": request.url.path,
        "boat_mode": settings_of(request).boat,
        "form_token": Markup('<input type="hidden" name="{}" value="{}">').format(FORM_TOKEN, token),
    }
    text = _environment().get_template(template).render(**known, **values)
    return HTMLResponse(text, status_code=status)
