"""What is recorded of a module, in words; and what one version says otherwise than another."""

import hashlib
from dataclasses import dataclass

from registry.records.body import module_body
from registry.records.entry import canonical_json
from registry.records.module import Module

__all__ = ["Difference", "module_differences", "module_version", "module_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that two versions of a module say otherwise."""

    name: str
    was: str
    now: str


def module_words(module: Module) -> tuple[tuple[str, str], ...]:
    """
    Give what a module is: the name of each thing and what is recorded of it.

    Examples
    --------
    >>> dict(module_words(Module(tag="MC-1", type_id="hump-90", mass_kg=612.0)))["mass"]
    '612 kg'
    """
    memorial = module.memorial
    return (
        ("type", module.type_id),
        ("cast", module.cast_on.isoformat() if module.cast_on else "not said"),
        ("mass", f"{module.mass_kg:g} kg" if module.mass_kg is not None else "that of its type"),
        ("memorial", memorial.name if memorial else "none"),
        ("language", (memorial.language if memorial else None) or "not said"),
        ("name shown in public", "yes" if memorial and memorial.consent_listed else "no"),
    )


def module_differences(before: Module, after: Module) -> tuple[Difference, ...]:
    """Name what a module says otherwise than before."""
    pairs = zip(module_words(before), module_words(after), strict=True)
    return tuple(Difference(name=name, was=was, now=now) for (name, was), (_, now) in pairs if was != now)


def module_version(module: Module) -> str:
    """
    Name what is recorded of a module now: 16 digits of the SHA-256 of its body.

    Whoever mends a module brings it back, so that nobody mends what they have not seen.
    """
    return hashlib.sha256(canonical_json(module_body(module)).encode()).hexdigest()[:16]
