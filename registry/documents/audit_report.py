"""
An audit as one page to read, print and keep: permit by permit, condition by condition.

The page is whole in itself: no script, no font and no picture is fetched. What conforms is counted, what does
not or may not is listed with the evidence behind it. The same audit gives the same page.
"""

from functools import lru_cache
from importlib.resources import files
from typing import Any

from registry.documents.audit_values import margin_text
from registry.documents.audit_words import audit_words
from registry.records.audit_summary import AuditSummary

__all__ = ["margin_text", "write_audit_report"]


def write_audit_report(summary: AuditSummary) -> str:
    """
    Write the page.

    Parameters
    ----------
    summary : AuditSummary
        What the audit found.

    Returns
    -------
    str
        HTML, complete.
    """
    return _template().render(styles=_shipped("page.css"), **audit_words(summary))  # type: ignore[no-any-return]


@lru_cache(maxsize=1)
def _template() -> Any:
    """Load the page's template; every value that is not marked as a drawing of our own is escaped."""
    from jinja2 import Environment, StrictUndefined

    surroundings = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=False)
    return surroundings.from_string(_shipped("page.html"))


def _shipped(name: str) -> str:
    return files("registry.documents").joinpath("audit_page", name).read_text(encoding="utf-8")
