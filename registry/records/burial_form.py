"""
What a published form for reporting a burial at sea says: facts to be told, never a rule of Leadline.

Whether a form is the right one, and whether any report is owed, the programme declares and the authority
decides.
"""

from dataclasses import dataclass

__all__ = ["FORM", "LEAST_OFFSHORE", "FormDistance", "ReportForm"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormDistance:
    """A distance that a form names beside one of its fields."""

    #: Units: m.
    value_m: float
    written: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportForm:
    """A published form, and what its authority says that stands against using it here."""

    name: str
    source: str
    warnings: tuple[str, ...]


#: Told beside the distance from shore, for information.
LEAST_OFFSHORE = FormDistance(
    value_m=5556.0, written="3 nautical miles", source="40 CFR 229.1(a)(3), counted from the baseline"
)

FORM = ReportForm(
    name="report of a burial at sea",
    source="United States Environmental Protection Agency, Region 1, report form",
    warnings=(
        "The Environmental Protection Agency writes on its page about burial at sea that its general permit "
        "does not allow the placement of materials that are not readily decomposable, artificial reefs among "
        "them, and that any such activity requires an application for a special permit under the Marine "
        "Protection, Research, and Sanctuaries Act.",
        "So whether remains cast in concrete may be reported on this form, and on which paper they rest, is "
        "for the Agency, the permitting office and counsel to say before it is sent.",
    ),
)
