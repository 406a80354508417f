"""
A survey as plain JSON data and back: what the journal keeps, so that a position can be derived again.

The fixes themselves stay in their logs, which are known again by their digests.
"""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from registry.records.fix import FixTable, LogAccount
from registry.records.survey import (
    AcousticFix,
    Bearing,
    Buoy,
    Current,
    Descent,
    FixedPoint,
    LeverArm,
    LogFile,
    LoggedFixes,
    MarkRange,
    Sighting,
    Survey,
)
from registry.records.written_position import WrittenAngle, WrittenPosition

__all__ = ["survey_body", "survey_from_body"]

Body = dict[str, Any]
_PLAIN = {"lever": LeverArm, "buoy": Buoy, "descent": Descent, "current": Current}


def survey_body(survey: Survey) -> Body:
    """Give a survey as data; of its fixes the window, the files and, where few, the sentences."""
    logged = survey.logged
    body = {
        name: _plain(getattr(survey, name))
        for name in Survey.__dataclass_fields__
        if name != "logged" and getattr(survey, name) not in (None, ())
    }
    if logged is not None:
        body["logged"] = {
            "receiver": logged.receiver,
            "window": logged.window,
            "start_s": logged.start_s,
            "end_s": logged.end_s,
            "files": [asdict(file) for file in logged.files],
            "sentences": list(logged.sentences),
            "day": logged.day,
        }
    return body


def survey_from_body(
    body: Mapping[str, Any], *, fixes: FixTable | None = None, account: LogAccount | None = None
) -> Survey:
    """
    Give back the survey.

    Parameters
    ----------
    body : mapping
        As `survey_body` gave it.
    fixes : FixTable, optional
        Every fix of its logs, in their order; needed where it started from fixes.
    account : LogAccount, optional
        Of those logs.
    """
    data = dict(body)
    if "logged" in data:
        logged = dict(data["logged"])
        window = (fixes or FixTable()).between(logged["start_s"], logged["end_s"])
        files = tuple(LogFile(**file) for file in logged.pop("files"))
        sentences = tuple(logged.pop("sentences"))
        data["logged"] = LoggedFixes(
            fixes=window, account=account or LogAccount(), files=files, sentences=sentences, **logged
        )
    for name, kind in _PLAIN.items():
        if name in data:
            data[name] = kind(**data[name])
    if "sighting" in data:
        data["sighting"] = Sighting(**(_with_mark(data["sighting"]) | _with_bearing(data["sighting"])))
    if "ranges" in data:
        data["ranges"] = tuple(MarkRange(**_with_mark(one)) for one in data["ranges"])
    if "acoustic" in data:
        data["acoustic"] = AcousticFix(**(data["acoustic"] | _with_bearing(data["acoustic"])))
    if "near" in data:
        data["near"] = tuple(data["near"])
    return Survey(**data)


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return _listed(asdict(value)) if hasattr(value, "__dataclass_fields__") else value


def _listed(value: Any) -> Any:
    """Give lists for tuples all the way down, as they come back from JSON."""
    if isinstance(value, dict):
        return {name: _listed(inner) for name, inner in value.items()}
    return [_listed(inner) for inner in value] if isinstance(value, tuple | list) else value


def _with_bearing(body: Mapping[str, Any]) -> Body:
    return {"bearing": Bearing(**body["bearing"])}


def _with_mark(body: Mapping[str, Any]) -> Body:
    mark = dict(body["mark"])
    if mark["written"] is not None:
        written = dict(mark["written"])
        written["warnings"] = tuple(written["warnings"])
        if written["angles"] is not None:
            latitude, longitude = written["angles"]
            written["angles"] = (WrittenAngle(**latitude), WrittenAngle(**longitude))
        mark["written"] = WrittenPosition(**written)
    return dict(body) | {"mark": FixedPoint(**mark)}
