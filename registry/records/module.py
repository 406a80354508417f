"""Modules, their types and whom they remember."""

import math
import unicodedata
from dataclasses import dataclass
from datetime import date

from registry.errors import InvalidRecordError
from registry.records.language_tag import checked_language_tag
from registry.records.printed_words import printed_words

__all__ = ["Memorial", "Module", "ModuleType", "checked_tag"]

LONGEST_TAG = 40
#: Letters with their marks, numbers, punctuation and the plain blank.
_IN_TAGS = {
    "Lu",
    "Ll",
    "Lt",
    "Lm",
    "Lo",
    "Mn",
    "Mc",
    "Nd",
    "Nl",
    "No",
    "Pd",
    "Pc",
    "Po",
    "Ps",
    "Pe",
    "Sm",
    "Zs",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleType:
    """The dimensions shared by every module cast in one mould."""

    type_id: str
    #: Radius of the smallest circle around the base. Units: m.
    base_radius_m: float
    #: Height above the seabed (relief) and its 95 % tolerance. Units: m.
    height_m: float
    height_u95_m: float
    #: Mass in air and submerged in sea water. Units: kg.
    mass_kg: float
    submerged_mass_kg: float
    #: Area that a horizontal current meets, and the area in plan. Units: m2.
    side_area_m2: float
    plan_area_m2: float
    #: What it is, in a few words.
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse dimensions that no concrete has."""
        sizes = {
            "base radius": self.base_radius_m,
            "height": self.height_m,
            "mass": self.mass_kg,
            "submerged mass": self.submerged_mass_kg,
        }
        for name, size in sizes.items():
            if not (math.isfinite(size) and size > 0):
                what = f"Module type {self.type_id}: a {name} of {size} is not a size."
                raise InvalidRecordError(what, remedy="Give a finite number above zero, in m or kg.")
        if self.height_u95_m < 0 or not math.isfinite(self.height_u95_m):
            what = f"Module type {self.type_id}: a height tolerance of {self.height_u95_m} m is not one."
            raise InvalidRecordError(what, remedy="Give zero or more, in metres.")
        if self.submerged_mass_kg >= self.mass_kg:
            what = f"Module type {self.type_id}: it cannot weigh as much in water as in air."
            raise InvalidRecordError(what, remedy="Check mass_kg and submerged_mass_kg.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Memorial:
    """Whom a module remembers; contacts of the family are kept elsewhere."""

    #: The name as it is to be printed.
    name: str
    #: Whether the family agreed that the name is shown in public.
    consent_listed: bool = False
    #: Language of the name and of the papers for the family (BCP 47, as "vi"), None where nobody said.
    language: str | None = None

    def __post_init__(self) -> None:
        """Refuse a name that no certificate could print; it is kept as typed."""
        printed_words("memorial name", self.name)
        checked_language_tag(self.language)


def checked_tag(tag: str) -> str:
    """
    Give a tag back if it can be cast, typed and searched.

    Raises
    ------
    InvalidRecordError
        If it is empty, too long, or holds a character that nobody can see.
    """
    if not tag or len(tag) > LONGEST_TAG or tag != tag.strip():
        what = f"{tag!r} is not a tag."
        raise InvalidRecordError(what, remedy=f"Give 1 to {LONGEST_TAG} characters without outer blanks.")
    if any(unicodedata.category(c) not in _IN_TAGS or c in "/\\" for c in tag):
        what = f"Tag {tag!r} holds a character that no file name can carry or nobody can see."
        raise InvalidRecordError(what, remedy="Use letters, digits, blanks and hyphens.")
    return tag


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """One concrete reef unit."""

    tag: str
    type_id: str
    cast_on: date | None = None
    #: Mass as weighed, None to take that of its type. Units: kg.
    mass_kg: float | None = None
    memorial: Memorial | None = None

    def __post_init__(self) -> None:
        """Refuse a tag that cannot be cast, typed and searched."""
        checked_tag(self.tag)
        if self.mass_kg is not None and not (math.isfinite(self.mass_kg) and self.mass_kg > 0):
            what = f"Module {self.tag}: a mass of {self.mass_kg} kg is not one."
            raise InvalidRecordError(what, remedy="Give a mass above zero with its unit, or leave it out.")
