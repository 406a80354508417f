"""
Gather what stands behind placements: what was written, how it was derived, who entered it, what was found.

Everything comes from the journal as it was written, nothing is computed anew. What may name a person of a
family or of a crew is left out, and the evidence says so: the names of the crew, notes, and columns of a
spreadsheet that Leadline does not read. The digest of the whole row is kept, by which it is known again.
"""

import csv
import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from registry.ports import Register
from registry.records.entry import Entry, instant_text
from registry.records.placement_evidence import PlacementEvidence

__all__ = ["gather_evidence"]

KINDS = ("placement.logged", "placement.corrected")
DELIMITERS = (",", ";", "\t")
WITHHELD = "withheld"
#: Names of a crew and remarks are nobody's evidence of a place.
PRIVATE = ("crew", "note")
#: What of a resurvey is told: what was seen, and what it showed.
OF_RESURVEY = ("observed_at", "position_text", "observed", "home", "basis", "warnings", "movement", "vessel")


def gather_evidence(register: Register, chosen: Collection[str]) -> Iterator[PlacementEvidence]:
    """
    Give the evidence of placements, in the order of the journal.

    Parameters
    ----------
    register : Register
        Read from; best within one `reading()`.
    chosen : collection of str
        Identifiers of the placements.
    """
    wanted = frozenset(chosen)
    later: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for body in register.resurveys():
        if body["placement_id"] in wanted:
            later[str(body["placement_id"])].append(body)
    for kind in KINDS:
        for entry in register.journal(kind=kind):
            if entry.reference in wanted:
                yield _evidence(entry, later.get(entry.reference, ()))


def _evidence(entry: Entry, resurveys: Collection[Mapping[str, Any]]) -> PlacementEvidence:
    body = entry.content()
    survey, log_lines = _without_sentences(body.get("survey"))
    depth = body.get("depth")
    content: dict[str, Any] = {
        "tag": body["tag"],
        "permit": body["permit"],
        "placed_at": body["placed_at"],
        "vessel": body["vessel"],
        "entry": {
            "reference": entry.reference,
            "kind": entry.kind,
            "written_at": instant_text(entry.time),
            "actor": entry.actor,
            "sha256": entry.digest,
            "previous_sha256": entry.previous,
            **{name: body[name] for name in ("supersedes", "reason") if name in body},
        },
        "as_written": {
            "position": body["position_text"],
            "depth": body["depth_text"],
            "tide": body["tide_text"],
            **_source(body),
        },
        "position": {
            "as_read": body["observed"],
            "in_the_home_frame": body["home"],
            "derivation": survey,
        },
        "depth": {
            "charted_depth_m": body["charted_depth_m"],
            "u95_m": body["depth_u95_m"],
            "derivation": depth,
        },
        "how_it_was_read": body["basis"],
        "warnings": body["warnings"],
        "files": _files({"source": body["source"], "survey": body.get("survey"), "depth": depth}),
        "when_it_was_logged": {"verdict": body.get("verdict"), "findings": body.get("findings", [])},
        "resurveys": [
            {"reference": each["reference"], **{name: each[name] for name in OF_RESURVEY}}
            for each in resurveys
        ],
    }
    withheld = [name for name in PRIVATE if body.get(name)]
    withheld += [f"column {name!r}" for name in body["source"].get("columns", {})]
    if withheld:
        content["left_out"] = (
            f"{', '.join(withheld)}: what may name people stays in the journal. The digest of the entry "
            "is over all of it."
        )
    return PlacementEvidence(
        tag=str(body["tag"]),
        permit=str(body["permit"]),
        placement_id=entry.reference,
        actor=entry.actor,
        at=entry.time,
        digest=entry.digest,
        content=content,
        log_lines=log_lines,
    )


def _without_sentences(survey: Mapping[str, Any] | None) -> tuple[dict[str, Any] | None, tuple[str, ...]]:
    """Take the lines of the log out of a derivation: they get a file of their own."""
    if survey is None:
        return None, ()
    inputs = dict(survey.get("inputs", {}))
    if "logged" not in inputs:
        return dict(survey), ()
    logged = dict(inputs["logged"])
    lines = tuple(logged.pop("sentences", ()))
    return {**survey, "inputs": {**inputs, "logged": logged}}, lines


def _source(body: Mapping[str, Any]) -> dict[str, Any]:
    """Give where a placement came from, with its row; what may name people is withheld cell by cell."""
    source = {name: value for name, value in body["source"].items() if name in ("file", "row", "encoding")}
    raw = body["source"].get("raw")
    if raw is None:
        return {"source": source} if source else {}
    others = body["source"].get("columns", {})
    private = {str(body[name]) for name in PRIVATE if body.get(name)} | {str(v) for v in others.values()}
    source["row_sha256"] = hashlib.sha256(str(raw).encode()).hexdigest()
    source["row_as_it_stood"] = _shown(str(raw), {value.strip() for value in private})
    return {"source": source}


def _shown(raw: str, private: Collection[str]) -> str | list[str]:
    """
    Give a row verbatim, or cell by cell where some must be withheld; all of it is, where they are not found.

    Examples
    --------
    >>> _shown('MC-1,34 N 77 W,"Ada, Ben"', {"Ada, Ben"})
    ['MC-1', '34 N 77 W', 'withheld']
    """
    if not private:
        return raw
    for delimiter in DELIMITERS:
        try:
            (cells,) = csv.reader([raw], delimiter=delimiter) if "\n" not in raw else ((),)
        except (csv.Error, ValueError):
            continue
        plain = [cell.strip().removeprefix("'") for cell in cells]
        if all(value.removeprefix("'") in plain for value in private):
            hidden = {value.removeprefix("'") for value in private}
            return [WITHHELD if cell in hidden else as_is for cell, as_is in zip(plain, cells, strict=True)]
    return WITHHELD


def _files(value: Any) -> list[dict[str, str]]:
    """Name every file that went in, each once, with its digest."""
    found: dict[tuple[str, str], None] = {}

    def look(part: Any) -> None:
        if isinstance(part, Mapping):
            name, digest = part.get("name", part.get("file")), part.get("sha256")
            if isinstance(name, str) and isinstance(digest, str):
                found[name, digest] = None
            for inner in part.values():
                look(inner)
        elif isinstance(part, list):
            for inner in part:
                look(inner)

    look(value)
    return [{"name": name, "sha256": digest} for name, digest in found]
