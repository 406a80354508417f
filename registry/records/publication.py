"""How much of its sites a programme shows the public: every position, rounded ones, or sites alone."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from registry.errors import InvalidRecordError

__all__ = ["Publication", "publication_body", "publication_from_body"]

#: The steps to which a position may be rounded. Units: m.
FINEST_STEP_M, COARSEST_STEP_M = 1.0, 20_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """What is shown of the positions of modules; a later choice takes the place of an earlier one."""

    #: True where no module is shown, only the permit areas and what lies in them together.
    sites_only: bool = False
    #: Side of the squares to whose middles positions are rounded; None where none is. Units: m.
    rounded_m: float | None = None
    #: That side as it was written, "100 m"; empty where nothing is rounded.
    rounded: str = ""
    #: Who chose it and when; empty while it is being drafted.
    told: str = ""

    def __post_init__(self) -> None:
        """Refuse a choice that contradicts itself, or a step that hides nothing or everything."""
        if self.rounded_m is None:
            return
        if self.sites_only:
            what = "Sites alone are to be shown, and positions of modules rounded."
            raise InvalidRecordError(what, remedy="Choose one: with sites alone no module is shown.")
        if not (math.isfinite(self.rounded_m) and FINEST_STEP_M <= self.rounded_m <= COARSEST_STEP_M):
            what = f"Positions cannot be rounded to {self.rounded or f'{self.rounded_m} m'}."
            remedy = f"Give a length from {FINEST_STEP_M:g} m to {COARSEST_STEP_M / 1000:g} km."
            raise InvalidRecordError(what, remedy=remedy)

    @property
    def words(self) -> str:
        """Say it in one sentence; empty where everything is shown as it is known."""
        if self.sites_only:
            return "The programme publishes its sites, and no position of a single module."
        if self.rounded_m is not None:
            return f"The programme publishes positions of modules rounded to {self.rounded}."
        return ""


def publication_body(choice: Publication) -> dict[str, Any]:
    """Give a choice as the journal keeps it."""
    return {
        "about": "publication",
        "sites_only": choice.sites_only,
        "rounded_m": choice.rounded_m,
        "rounded": choice.rounded,
    }


def publication_from_body(body: Mapping[str, Any]) -> Publication:
    """Give a choice back."""
    return Publication(
        sites_only=body["sites_only"],
        rounded_m=body["rounded_m"],
        rounded=body["rounded"],
        told=f"{body['actor']}, {str(body['time'])[:16]}Z" if "reference" in body else "",
    )
