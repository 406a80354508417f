"""An answer that a browser or a program may keep, and ask about again by its tag."""

import hashlib
from datetime import UTC, datetime
from email.utils import format_datetime, parsedate_to_datetime

from fastapi import Request
from fastapi.responses import Response

__all__ = ["tagged"]


def tagged(
    request: Request,
    body: bytes,
    *,
    media_type: str,
    headers: dict[str, str] | None = None,
    public: bool = True,
    changed: datetime | None = None,
) -> Response:
    """
    Give bytes with their entity tag, or 304 where the caller has them already (RFC 9110, 13.1.2 and 13.1.3).

    Parameters
    ----------
    request : Request
        Brings If-None-Match, or If-Modified-Since.
    body : bytes
        What is to be sent.
    media_type : str
        Of the body.
    headers : dict, optional
        More to say.
    public : bool
        Whether caches on the way may keep it.
    changed : datetime.datetime, optional
        When they changed last; told to the second.
    """
    tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    said = {"etag": tag, "cache-control": f"{'public' if public else 'private'}, no-cache", **(headers or {})}
    held = [part.strip().removeprefix("W/") for part in request.headers.get("if-none-match", "").split(",")]
    if changed is not None:
        said["last-modified"] = format_datetime(changed.astimezone(UTC), usegmt=True)
    if tag in held or held == ["*"] or _is_known(request, changed):
        return Response(status_code=304, headers=said)
    return Response(body, media_type=media_type, headers=said)


def _is_known(request: Request, changed: datetime | None) -> bool:
    """Tell whether the caller has what was there at that instant; a tag, where one is sent, goes before."""
    since = request.headers.get("if-modified-since")
    if changed is None or since is None or "if-none-match" in request.headers:
        return False
    try:
        known = parsedate_to_datetime(since)
    except ValueError:
        return False
    return known.tzinfo is not None and changed.replace(microsecond=0) <= known
