"""What the receiver says at the moment, for a page that asks every second."""

import math
from datetime import UTC, datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse, Response

from registry.errors import LeadlineError, NotFoundError
from registry.web.boat_run import Crew, run_of
from registry.web.opened import settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)


@router.get("/boat/receiver.json")
def receiver(request: Request, caller: Crew, since: str = "") -> Response:
    """Give the average since an instant with its 95 % radius, or the last fix alone."""
    del caller
    from registry.desk.live_position import watch_live
    from registry.formats.written_instant import read_instant

    live = settings_of(request).live
    if live is None:
        raise NotFoundError("No receiver is listened to.", remedy="leadline serve --listen SOURCE")
    start_s = read_instant(since, None).timestamp() if since else None
    try:
        fix = watch_live(live, start_s=start_s)
    except LeadlineError as error:
        return JSONResponse({"fixes": 0, "trouble": str(error), "silent_s": _silence(live), "place": None})
    position = fix.derivation.position if fix.derivation else None
    return JSONResponse(
        {
            "fixes": fix.n,
            "span_s": round(fix.span_s),
            "quality": fix.quality,
            "first": _instant(fix.first_s),
            "last": _instant(fix.last_s),
            "silent_s": _silence(live),
            "trouble": fix.trouble,
            "warnings": list(fix.derivation.warnings) if fix.derivation else [],
            "place": _place(request, position) if position else None,
        }
    )


def _place(request: Request, position: Any) -> dict[str, Any]:
    from registry.formats.printed_notation import write_in_notation
    from registry.measure.datum import resolve
    from registry.rules.wording import radius_text

    frame = resolve(position.frame)
    notation: Any = run_of(request).notation
    text = write_in_notation(
        position.lat_deg, position.lon_deg, notation=notation, r95_m=position.r95_m, frame=frame
    )
    return {
        "text": text,
        "frame": frame.name,
        "r95_m": position.r95_m,
        "r95": radius_text(position.r95_m),
    }


def _silence(live: Any) -> float | None:
    silent_s = live.receiver.silent_s
    return round(silent_s, 1) if math.isfinite(silent_s) else None


def _instant(time_s: float | None) -> str | None:
    if time_s is None:
        return None
    return datetime.fromtimestamp(time_s, tz=UTC).isoformat(timespec="milliseconds")
