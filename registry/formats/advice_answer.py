"""Advice before a drop, and what was recorded after it, as programs read them."""

from typing import Any

__all__ = ["advice_answer", "logged_answer", "position_answer"]


def position_answer(position: Any) -> dict[str, Any]:
    """Give a position with its frame, epoch and 95 % radius."""
    return {
        "lat": position.lat_deg,
        "lon": position.lon_deg,
        "frame": position.frame,
        "epoch": position.epoch,
        "r95_m": position.r95_m,
    }


def advice_answer(advised: Any) -> dict[str, Any]:
    """
    Give advice before a drop as one JSON document.

    Parameters
    ----------
    advised : DropAdvice
        What the action ``advise_drop`` gave.
    """
    advice, charted, move = advised.advice, advised.charted, advised.advice.move
    return {
        "verdict": advice.verdict.word,
        "position": position_answer(advised.settled.observed),
        "home": _home(advised.settled.home),
        "charted_depth": {"depth_m": charted.depth_m, "u95_m": charted.u95_m} if charted else None,
        "findings": [finding.as_json() for finding in advice.findings],
        "neighbours": [
            {
                "tag": n.tag,
                "distance_m": n.distance_m,
                "edge_m": n.edge_m,
                "bearing_deg": n.bearing_deg,
                "u95_m": n.u95_m,
            }
            for n in advice.neighbours
        ],
        "move": {
            "distance_m": move.distance_m,
            "bearing_deg": move.bearing_deg,
            "lat": move.lat,
            "lon": move.lon,
        }
        if move
        else None,
        "move_note": advice.move_note,
        "warnings": list(advice.warnings),
        "basis": list(advised.basis),
        "depth": advised.sounded.derived.as_json() if advised.sounded else None,
    }


def logged_answer(logged: Any) -> dict[str, Any]:
    """
    Give a placement that was recorded as one JSON document.

    Parameters
    ----------
    logged : Logged
        What the action ``log_placement`` gave.
    """
    placement = logged.placement
    return {
        "placement": logged.placement_id,
        "tag": placement.tag,
        "permit": placement.permit,
        "verdict": logged.verdict.word,
        "position": position_answer(placement.observed),
        "home": _home(placement.home),
        "charted_depth_m": placement.charted_depth_m,
        "depth_u95_m": placement.depth_u95_m,
        "findings": [finding.as_json() for finding in logged.findings],
        "warnings": list(placement.warnings),
        "basis": list(placement.basis),
        "survey": placement.survey,
        "depth": placement.depth,
    }


def _home(home: Any) -> dict[str, Any]:
    return position_answer(home.position) | {"operation": home.operation}
