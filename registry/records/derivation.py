"""How a position was derived, step by step, with the budget of its doubt: enough to derive it again."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from registry.errors import InvalidRecordError
from registry.measure.budget import BudgetRow
from registry.records.fix import QUALITIES, LogAccount
from registry.records.position import Position

__all__ = ["Derivation", "Step"]

Figure = float | int | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step: what was done, with which figures, and where it led."""

    name: str
    sentence: str
    #: Every number that went in or came out, by a name with its unit.
    figures: Mapping[str, Figure] = field(default_factory=dict)
    #: Where it led; None for a step that only chooses. Units: degrees.
    lat_deg: float | None = None
    lon_deg: float | None = None

    def __post_init__(self) -> None:
        """Refuse a step without words or half a place."""
        if not (self.name and self.sentence) or (self.lat_deg is None) != (self.lon_deg is None):
            what = f"The step {self.name!r} of a derivation is incomplete."
            raise InvalidRecordError(what, remedy="Name it, say what was done, and give both coordinates.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Derivation:
    """A derived position with everything behind it."""

    #: In the frame of the survey; its R95 is the sum of the budget.
    position: Position
    steps: tuple[Step, ...]
    budget: tuple[BudgetRow, ...]
    #: What a person should look at, one sentence each.
    warnings: tuple[str, ...] = ()
    account: LogAccount | None = None
    #: Name and version of what computed it.
    software: str = ""

    def __post_init__(self) -> None:
        """Refuse a derivation without steps, or a budget that does not add up."""
        shares = math.fsum(row.share for row in self.budget)
        if not self.steps or (self.budget and abs(shares - 1.0) > 1e-6 and shares != 0.0):
            what = f"A derivation of {len(self.steps)} steps whose shares add up to {shares:.3f} is none."
            raise InvalidRecordError(what, remedy="Give every step, and the budget as it was added up.")

    def as_json(self) -> dict[str, Any]:
        """Give it under the names of the command contract."""
        return {
            "position": {
                "lat": self.position.lat_deg,
                "lon": self.position.lon_deg,
                "frame": self.position.frame,
                "epoch": self.position.epoch,
                "r95_m": self.position.r95_m,
            },
            "steps": [
                {
                    "name": step.name,
                    "sentence": step.sentence,
                    "figures": dict(step.figures),
                    "lat": step.lat_deg,
                    "lon": step.lon_deg,
                }
                for step in self.steps
            ],
            "budget": [
                {"source": row.source, "size_m": row.size_m, "share": row.share} for row in self.budget
            ],
            "warnings": list(self.warnings),
            "log": _account_json(self.account),
            "software": self.software,
        }


def _account_json(account: LogAccount | None) -> dict[str, Any] | None:
    if account is None:
        return None
    return {
        "sentences": account.sentences,
        "bad_checksums": account.bad_checksums,
        "cut": account.cut,
        "garbage_bytes": account.garbage_bytes,
        "kinds": dict(account.kinds),
        "unreadable": dict(account.unreadable),
        "told_again": account.told_again,
        "fixes_by_quality": {f"{code} {QUALITIES[code]}": n for code, n in account.by_quality.items()},
        "used": account.used,
        "set_aside": dict(account.set_aside),
        "out_of_order": account.out_of_order,
        "leaps": list(account.leaps),
        "notes": list(account.notes),
    }
