"""An answer that a browser or a program may keep, and ask about again by its tag."""

import hashlib

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
) -> Response:
    """
    Give bytes with their entity tag, or 304 where the caller has them already (RFC 9110, 13.1.2).

    Parameters
    ----------
    request : Request
        Brings If-None-Match.
    body : bytes
        What is to be sent.
    media_type : str
        Of the body.
    headers : dict, optional
        More to say.
    public : bool
        Whether caches on the way may keep it.
    """
    tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    said = {"etag": tag, "cache-control": f"{'public' if public else 'private'}, no-cache", **(headers or {})}
    held = [part.strip().removeprefix("W/") for part in request.headers.get("if-none-match", "").split(",")]
    if tag in held or held == ["*"]:
        return Response(status_code=304, headers=said)
    return Response(body, media_type=media_type, headers=said)
