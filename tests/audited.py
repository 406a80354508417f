"""An audited registry in which every verdict occurs, for tests of what an audit shows and writes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from registry.actions.audit_registry import audit_registry
from registry.actions.summarise_audit import summarise_audit
from registry.records.audit_summary import AuditSummary
from registry.records.entry import Draft
from registry.records.permit import Condition, Permit
from registry.records.placement import Placement
from tests.builders import (
    ACTOR,
    LAT_DEG,
    LON_DEG,
    NOON,
    a_memorial,
    a_module,
    a_permit,
    a_placement,
    a_programme,
    a_quantity,
    a_stocked_registry,
    many_placements,
    permit_added,
    placement_corrected,
    placement_logged,
)
from tests.fakes import FixedClock, MemoryRegister

#: The name of a family's person, which no audit may show.
PRIVATE_NAME = "Perdita Unlisted"
AUDITED_AT = datetime(2026, 6, 2, 9, 30, tzinfo=UTC)


def strict_permit(**changes: Any) -> Permit:
    """Give a permit with a condition of every kind that this file's placements can break."""
    conditions = (
        Condition(
            rule="inside-area",
            cite="Special condition 1",
            limits={"setback": a_quantity(50.0, written="50 m")},
        ),
        Condition(
            rule="spacing", cite="Special condition 4", limits={"least": a_quantity(6.0, written="6 m")}
        ),
        Condition(
            rule="depth-band",
            cite="Special condition 3",
            limits={
                "least": a_quantity(15.24, written="50 ft"),
                "greatest": a_quantity(30.0, written="30 m"),
            },
        ),
        Condition(
            rule="clearance", cite="Special condition 2", limits={"least": a_quantity(15.24, written="50 ft")}
        ),
        Condition(
            rule="position-quality",
            cite="Special condition 6",
            limits={"greatest": a_quantity(5.0, written="5 m")},
        ),
    )
    return replace(a_permit(conditions=conditions), **changes)


def faulty_placements() -> list[Placement]:
    """Give placements of MR-0001 to MR-0008: four sound ones, and one outside, close, shallow and far away."""
    sound = many_placements(4)
    later = NOON + timedelta(days=3)
    return [
        *sound,
        a_placement(tag="MR-0005", lon_deg=LON_DEG + 0.012, placed_at=later),
        a_placement(
            tag="MR-0006",
            lon_deg=sound[3].home.position.lon_deg + 0.00007,
            lat_deg=sound[3].home.position.lat_deg,
            placed_at=later,
        ),
        a_placement(tag="MR-0007", lat_deg=LAT_DEG + 0.004, charted_depth_m=14.6, placed_at=later),
        a_placement(tag="MR-0008", lat_deg=LAT_DEG + 0.12, placed_at=later),
    ]


def audited_registry(*extra: Draft, permit: Permit | None = None) -> MemoryRegister:
    """Give a registry with those placements under a permit, one of them corrected, and a second, empty permit."""
    register = MemoryRegister(a_programme(), actor=ACTOR, clock=FixedClock())
    stocked = [draft for draft in a_stocked_registry(7) if draft.kind != "permit.added"]
    named = replace(a_memorial(), name=PRIVATE_NAME, consent_listed=False)
    register.append(
        [permit_added(permit or strict_permit()), permit_added(a_permit(number="HB-0500")), *stocked]
    )
    register.append([Draft(kind="module.added", actor=ACTOR, body={**_module_body("MR-0008", named)})])
    entries = register.append([placement_logged(each) for each in faulty_placements()])
    first = faulty_placements()[0]
    register.append(
        [
            placement_corrected(
                first, supersedes=entries[0].reference, reason="two digits swapped on the slate"
            ),
            *extra,
        ]
    )
    return register


def _module_body(tag: str, memorial: object) -> dict[str, object]:
    from registry.records.body import module_body

    return module_body(a_module(tag=tag, memorial=memorial))


def audit_summary(register: MemoryRegister | None = None, *, permit: str | None = None) -> AuditSummary:
    """Audit a registry, by default that of this file, and sum it up."""
    register = register or audited_registry()
    return summarise_audit(register, audit_registry(register, permit=permit), audited_at=AUDITED_AT)


__all__ = [
    "AUDITED_AT",
    "PRIVATE_NAME",
    "audit_summary",
    "audited_registry",
    "faulty_placements",
    "strict_permit",
]
