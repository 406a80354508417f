"""The evidence behind one placement in words: what was written, how it was derived, who entered it."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from registry.documents.audit_values import minutes, moment
from registry.records.placement_evidence import PlacementEvidence
from registry.rules.wording import length_text, radius_text

__all__ = ["evidence_words"]


def evidence_words(evidence: PlacementEvidence, zone: str) -> dict[str, Any]:
    """
    Word the evidence.

    Parameters
    ----------
    evidence : PlacementEvidence
        What the journal holds.
    zone : str
        The programme's zone, in which instants are told beside UTC.

    Returns
    -------
    dict
        Plain text, numbers and lists; no markup. Numbers have the digits that their uncertainty supports.
    """
    content = evidence.content
    entry, written = content["entry"], content["as_written"]
    home = content["position"]["in_the_home_frame"]
    source = written.get("source", {})
    return {
        "placement_id": evidence.placement_id,
        "kind": entry["kind"],
        "actor": evidence.actor,
        "at": moment(evidence.at, zone),
        "placed": moment(datetime.fromisoformat(content["placed_at"]), zone),
        "vessel": content["vessel"],
        "digest": evidence.digest,
        "previous": entry["previous_sha256"],
        "supersedes": entry.get("supersedes", ""),
        "reason": entry.get("reason", ""),
        "written": [
            (what, written[name])
            for what, name in (("Position", "position"), ("Depth", "depth"), ("Tide", "tide"))
            if written[name]
        ],
        "source": _source(source),
        "row": _row(source.get("row_as_it_stood", "")),
        "row_digest": source.get("row_sha256", ""),
        "read": _place(content["position"]["as_read"]),
        "home": _place(home["position"]),
        "operation": home["operation"],
        "software": home.get("software", ""),
        "steps": _steps(content["position"]["derivation"]),
        "budget": _budget(content["position"]["derivation"], "size_m"),
        "depth": _depth(content["depth"]),
        "depth_steps": _depth_steps(content["depth"]["derivation"]),
        "depth_budget": _budget(content["depth"]["derivation"], "u95_m"),
        "depth_basis": list((content["depth"]["derivation"] or {}).get("basis", ())),
        "basis": list(content["how_it_was_read"]),
        "warnings": list(content["warnings"]),
        "files": list(content["files"]),
        "log_lines": len(evidence.log_lines),
        "left_out": content.get("left_out", ""),
        "logged_as": content["when_it_was_logged"]["verdict"] or "",
        "resurveys": [_resurvey(each, zone) for each in content["resurveys"]],
    }


def _source(source: Mapping[str, Any]) -> str:
    named = [str(source["file"])] if source.get("file") else []
    return ", ".join([*named, *([f"row {source['row']}"] if source.get("row") else [])])


def _row(row: str | Sequence[str]) -> str:
    return row if isinstance(row, str) else " | ".join(row)


def _place(position: Mapping[str, Any]) -> dict[str, Any]:
    epoch = f", epoch {position['epoch']:g}" if position.get("epoch") is not None else ""
    r95_m = position["r95_m"]
    return {
        "text": " ".join(minutes(position["lat_deg"], position["lon_deg"], r95_m)),
        "frame": f"{position['frame']}{epoch}",
        "r95": f"within {radius_text(r95_m)} (95 %)",
    }


def _depth(depth: Mapping[str, Any]) -> str:
    if depth["charted_depth_m"] is None:
        return ""
    return length_text(depth["charted_depth_m"], depth["u95_m"])


def _steps(derivation: Mapping[str, Any] | None) -> list[tuple[str, str]]:
    return [(step["name"], step["sentence"]) for step in (derivation or {}).get("steps", ())]


def _depth_steps(derivation: Mapping[str, Any] | None) -> list[tuple[str, str]]:
    return [(step["step"], step["how"]) for step in (derivation or {}).get("steps", ())]


def _budget(derivation: Mapping[str, Any] | None, size: str) -> list[tuple[str, str, str]]:
    """Give each term of the doubt with its size and its share; two digits are all that a doubt has."""
    return [
        (row["source"], f"{float(f'{row[size]:.2g}'):.12g} m", f"{row['share']:.0%}")
        for row in (derivation or {}).get("budget", ())
    ]


def _resurvey(each: Mapping[str, Any], zone: str) -> dict[str, Any]:
    movement = each["movement"]
    moved = length_text(movement["distance_m"], movement["u95_m"])
    return {
        "reference": each["reference"],
        "seen": moment(datetime.fromisoformat(each["observed_at"]), zone),
        "vessel": each["vessel"],
        "written": each["position_text"],
        "home": _place(each["home"]["position"]),
        "verdict": str(movement["verdict"]),
        "moved": f"{moved} toward {round(movement['bearing_deg']) % 360:03d}° true",
        "basis": list(each["basis"]),
        "warnings": list(each["warnings"]),
    }
