"""Whether an entry that came from elsewhere can be read as what its kind says, before it is taken in."""

from collections.abc import Callable, Mapping
from typing import Any

from shapely.errors import ShapelyError

from registry.actions.issue_certificate import certificate_from_body
from registry.errors import InvalidRecordError, LeadlineError
from registry.records.body import (
    baseline_from_body,
    keep_out_from_body,
    module_from_body,
    permit_from_body,
    placement_from_body,
    target_from_body,
    type_from_body,
)
from registry.records.custody import hand_over_from_body
from registry.records.entry import Entry
from registry.records.resurvey import resurvey_from_body

__all__ = ["insist_on_record"]


def insist_on_record(entry: Entry) -> None:
    """
    Read the record in an entry and throw it away again.

    Raises
    ------
    InvalidRecordError
        If it cannot be read as what its kind says.
    """
    read = _READERS.get(entry.kind)
    if read is None:
        return
    try:
        read(entry.content())
    except LeadlineError as error:
        raise _unreadable(entry, error.what) from error
    except (
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        OverflowError,
        RecursionError,
        ShapelyError,
    ) as error:
        raise _unreadable(entry, f"{type(error).__name__}: {error}") from error


def _unreadable(entry: Entry, reason: str) -> InvalidRecordError:
    what = f"Entry {entry.reference} ({entry.kind}) cannot be read: {' '.join(reason.split())[:200]}"
    return InvalidRecordError(
        what, remedy="Look at it on the machine that wrote it: leadline journal verify."
    )


def _certificate(body: Mapping[str, Any]) -> Any:
    return certificate_from_body(body["record"]) if "record" in body else None


_READERS: dict[str, Callable[[dict[str, Any]], Any]] = {
    "type.added": type_from_body,
    "module.added": module_from_body,
    "module.amended": module_from_body,
    "permit.added": permit_from_body,
    "permit.amended": permit_from_body,
    "keepout.added": keep_out_from_body,
    "baseline.added": baseline_from_body,
    "target.added": target_from_body,
    "placement.logged": placement_from_body,
    "placement.corrected": placement_from_body,
    "placement.resurveyed": resurvey_from_body,
    "custody.handed": hand_over_from_body,
    "certificate.issued": _certificate,
}
