"""Records with sane values, near 34 N 77 W, for tests that care about one or two of their fields."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

from shapely.geometry import LineString, Polygon

from registry.measure.movement import Motion
from registry.records.baseline import Baseline
from registry.records.body import (
    baseline_body,
    keep_out_body,
    module_body,
    permit_body,
    placement_body,
    target_body,
    type_body,
)
from registry.records.custody import HandOver, HandOverDraft, Side, Step, WrittenSide, hand_over_body
from registry.records.entry import Draft
from registry.records.module import Memorial, Module, ModuleType
from registry.records.permit import Area, Condition, KeepOut, Permit
from registry.records.placement import Placement
from registry.records.position import HomePosition, Position
from registry.records.programme import Programme
from registry.records.quantity import Quantity
from registry.records.resurvey import Movement, Resurvey, resurvey_body
from registry.records.target import Target

FRAME = "EPSG:6318"
EPOCH = 2010.0
#: The middle of the permit area.
LON_DEG, LAT_DEG = -77.0, 34.0
NOON = datetime(2026, 6, 1, 16, 0, tzinfo=UTC)
ACTOR = "Ada of the dive team"


def a_programme(**changes: Any) -> Programme:
    """Give the programme of the tests."""
    programme = Programme(
        name="Marram Coast Memorial Reefs",
        frame=FRAME,
        frame_epoch=EPOCH,
        zone="America/New_York",
        key_id="a-test-key",
        public_key="AAAA",
    )
    return replace(programme, **changes)


def an_area(**changes: Any) -> Area:
    """Give a square of two hundredths of a degree around 34 N 77 W."""
    area = Area(
        area_id="gannet-patch",
        shape=Polygon([(-77.01, 33.99), (-76.99, 33.99), (-76.99, 34.01), (-77.01, 34.01)]),
        edges="geodesic",
        frame=FRAME,
        epoch=EPOCH,
        written="33 59.4 N 77 00.6 W ...",
        operation="none: stated in the home frame",
    )
    return replace(area, **changes)


def a_quantity(value: Any, dimension: str = "length", **changes: Any) -> Quantity:
    """Give a limit in SI units as a permit states it."""
    quantity = Quantity(value=value, dimension=dimension, written=f"{value}", resolution=0.0)  # type: ignore[arg-type]
    return replace(quantity, **changes)


def a_condition(**changes: Any) -> Condition:
    """Give a spacing of 6 m."""
    condition = Condition(rule="spacing", cite="Special condition 4", limits={"least": a_quantity(6.0)})
    return replace(condition, **changes)


def a_permit(**changes: Any) -> Permit:
    """Give a permit with one area and one condition, valid from 2024 to 2034."""
    permit = Permit(
        number="HB-0417",
        authority="Harbour Bay Coastal Office",
        valid_from=date(2024, 5, 1),
        valid_to=date(2034, 4, 30),
        chart_datum="MLLW",
        areas=(an_area(),),
        conditions=(a_condition(),),
    )
    return replace(permit, **changes)


def a_keep_out(**changes: Any) -> KeepOut:
    """Give a cable that passes the area in the east."""
    keep_out = KeepOut(
        keep_out_id="cable-1",
        kind="cable",
        name="Skua cable",
        setback_m=150.0,
        shape=LineString([(-76.98, 33.95), (-76.98, 34.05)]),
        frame=FRAME,
        epoch=EPOCH,
        written="cables.gpkg",
        operation="none: stated in the home frame",
    )
    return replace(keep_out, **changes)


def a_target(**changes: Any) -> Target:
    """Give the target of MR-0001, in the middle of the area."""
    target = Target(
        target_id="target-0001",
        permit="HB-0417",
        tag="MR-0001",
        lon_deg=LON_DEG,
        lat_deg=LAT_DEG,
        frame=FRAME,
        epoch=EPOCH,
        written="34 00.000 N 077 00.000 W",
        operation="none: stated in the home frame",
    )
    return replace(target, **changes)


def a_baseline(**changes: Any) -> Baseline:
    """Give a shore that runs north some 55 km west of the area."""
    baseline = Baseline(
        baseline_id="baseline-0001",
        name="normal baseline, 2024 edition",
        shape=LineString([(-77.6, 33.5), (-77.6, 34.5)]),
        frame=FRAME,
        epoch=EPOCH,
        written="baseline.geojson",
        operation="none: stated in the home frame",
    )
    return replace(baseline, **changes)


def a_type(**changes: Any) -> ModuleType:
    """Give a mould of 1.2 m height and 1400 kg."""
    module_type = ModuleType(
        type_id="dome-120",
        base_radius_m=0.75,
        height_m=1.2,
        height_u95_m=0.03,
        mass_kg=1400.0,
        submerged_mass_kg=800.0,
        side_area_m2=1.1,
        plan_area_m2=1.77,
        note="a dome with holes",
    )
    return replace(module_type, **changes)


def a_memorial(**changes: Any) -> Memorial:
    """Give an invented name that may be shown."""
    return replace(Memorial(name="Zoë Ångström-O'Hara", consent_listed=True), **changes)


def a_module(**changes: Any) -> Module:
    """Give a module without a memorial."""
    return replace(Module(tag="MR-0001", type_id="dome-120", cast_on=date(2026, 3, 2)), **changes)


def a_position(**changes: Any) -> Position:
    """Give the middle of the area in the home frame."""
    position = Position(lat_deg=LAT_DEG, lon_deg=LON_DEG, frame=FRAME, epoch=EPOCH, r95_m=1.5)
    return replace(position, **changes)


def a_placement(**changes: Any) -> Placement:
    """
    Give a placement in the middle of the area.

    `lon_deg`, `lat_deg` and `r95_m` move the observed position and that in the home frame alike.
    """
    place = {name: changes.pop(name) for name in ("lon_deg", "lat_deg", "r95_m") if name in changes}
    position = a_position(**place)
    placement = Placement(
        tag="MR-0001",
        permit="HB-0417",
        placed_at=NOON,
        position_text="34 00.000 N 077 00.000 W",
        observed=position,
        home=HomePosition(
            position=position,
            operation="none: observed in the home frame",
            accuracy_m=0.0,
            software="PROJ 9.5.1, EPSG v11.022",
        ),
        basis=("R95 as stated by the receiver.",),
        charted_depth_m=20.36,
        depth_u95_m=0.4,
        depth_text="21.0 m",
        tide_text="0.64 m above MLLW",
        warnings=(),
        crew="Ada, Ben",
        vessel="Sanderling",
        note="",
        source={"file": "log.csv", "sha256": "0" * 64, "row": 2},
    )
    return replace(placement, **changes)


def many_placements(count: int, **changes: Any) -> list[Placement]:
    """Give placements of MR-0001, MR-0002, ... in rows of a hundred, 20 m and a minute apart."""
    step_deg = 0.00018
    return [
        a_placement(
            tag=f"MR-{index + 1:04d}",
            lon_deg=LON_DEG - 0.009 + (index % 100) * step_deg,
            lat_deg=LAT_DEG - 0.009 + (index // 100) * step_deg,
            placed_at=NOON + timedelta(minutes=index),
            **changes,
        )
        for index in range(count)
    ]


def permit_added(permit: Permit | None = None) -> Draft:
    """Draft the entry that adds a permit."""
    return Draft(kind="permit.added", actor=ACTOR, body=permit_body(permit or a_permit()))


def permit_amended(permit: Permit) -> Draft:
    """Draft the entry that records a version of a permit; it says from which day."""
    assert permit.in_force_from is not None
    return Draft(kind="permit.amended", actor=ACTOR, body=permit_body(permit))


def amended(**changes: Any) -> Permit:
    """Give the permit as amended from 2026-06-02 on, the day after the clock of the tests: 8 m of spacing."""
    version: dict[str, Any] = {
        "conditions": (a_condition(limits={"least": a_quantity(8.0)}),),
        "in_force_from": date(2026, 6, 2),
        "amendment": "Amendment 1",
    }
    return a_permit(**(version | changes))


def target_added(target: Target | None = None, *, supersedes: str = "") -> Draft:
    """Draft the entry that records a target, or moves one."""
    extra = {"supersedes": supersedes, "reason": "a ledge"} if supersedes else {}
    return Draft(kind="target.added", actor=ACTOR, body=target_body(target or a_target()) | extra)


def baseline_added(baseline: Baseline | None = None) -> Draft:
    """Draft the entry that records a baseline."""
    return Draft(kind="baseline.added", actor=ACTOR, body=baseline_body(baseline or a_baseline()))


def keep_out_added(keep_out: KeepOut | None = None) -> Draft:
    """Draft the entry that adds a keep-out."""
    return Draft(kind="keepout.added", actor=ACTOR, body=keep_out_body(keep_out or a_keep_out()))


def type_added(module_type: ModuleType | None = None) -> Draft:
    """Draft the entry that adds a module type."""
    return Draft(kind="type.added", actor=ACTOR, body=type_body(module_type or a_type()))


def module_added(module: Module | None = None) -> Draft:
    """Draft the entry that adds a module."""
    return Draft(kind="module.added", actor=ACTOR, body=module_body(module or a_module()))


def placement_logged(placement: Placement | None = None, *, verdict: str = "conforming") -> Draft:
    """Draft the entry that logs a placement."""
    body = placement_body(placement or a_placement()) | {"findings": [], "verdict": verdict}
    return Draft(kind="placement.logged", actor=ACTOR, body=body)


def placement_corrected(placement: Placement, *, supersedes: str, reason: str = "mistyped") -> Draft:
    """Draft the entry that corrects a placement."""
    body = placement_body(placement) | {"findings": [], "verdict": "conforming"}
    return Draft(
        kind="placement.corrected", actor=ACTOR, body=body | {"supersedes": supersedes, "reason": reason}
    )


def placement_withdrawn(placement_id: str, *, tag: str = "MR-0001", reason: str = "logged twice") -> Draft:
    """Draft the entry that withdraws a placement."""
    body = {"placement_id": placement_id, "tag": tag, "permit": "HB-0417", "reason": reason}
    return Draft(kind="placement.withdrawn", actor=ACTOR, body=body)


def module_amended(module: Module, *, reason: str = "misspelt") -> Draft:
    """Draft the entry that mends what is recorded of a module."""
    return Draft(kind="module.amended", actor=ACTOR, body=module_body(module) | {"reason": reason})


def a_resurvey(**changes: Any) -> Resurvey:
    """
    Give a resurvey of MR-0001 that found it where it was, a year later.

    `lon_deg`, `lat_deg` and `r95_m` move the observed position and that in the home frame alike.
    """
    place = {name: changes.pop(name) for name in ("lon_deg", "lat_deg", "r95_m") if name in changes}
    position = a_position(**place)
    resurvey = Resurvey(
        tag="MR-0001",
        placement_id="00000000-5",
        observed_at=NOON + timedelta(days=365),
        position_text="34 00.000 N 077 00.000 W",
        observed=position,
        home=replace(a_placement().home, position=position),
        basis=("R95 as stated by the receiver.",),
        movement=Movement(
            verdict=Motion.NOT_SHOWN,
            compared_with="00000000-5",
            compared_at=NOON,
            distance_m=0.4,
            bearing_deg=120.0,
            u95_m=2.1,
            p_value=0.9,
            adjusted_p=0.9,
            since=NOON,
        ),
        vessel="Sanderling",
        source={"file": "again.csv", "row": 2},
    )
    return replace(resurvey, **changes)


def placement_resurveyed(resurvey: Resurvey, *, supersedes: str = "") -> Draft:
    """Draft the entry that records a resurvey, or corrects one."""
    extra = {"supersedes": supersedes, "reason": "mistyped"} if supersedes else {}
    return Draft(kind="placement.resurveyed", actor=ACTOR, body=resurvey_body(resurvey) | extra)


def certificate_issued(**changes: Any) -> Draft:
    """Draft the entry that issues a certificate."""
    body = {
        "number": "MC-0001",
        "version": 1,
        "tag": "MR-0001",
        "placement_id": "00000000-5",
        "pdf_sha256": "0" * 64,
        "statement": {"lat": "34.0"},
    }
    return Draft(kind="certificate.issued", actor=ACTOR, body=body | changes)


#: Who has the module before and after each step.
_HANDS = ("Skua Crematory", "Marram yard", "Marram yard", "Marram yard", "Sanderling", "Sanderling")


def a_side(name: str = "Skua Crematory", **changes: Any) -> Side:
    """Give a side of a hand-over of MR-0001 that read both identifiers as they are."""
    return replace(Side(name=name, tag="MR-0001", identification_digest="ab" * 32), **changes)


def a_hand_over(step: Step = Step.RECEIVED, **changes: Any) -> HandOver:
    """Give a hand-over of MR-0001; each step is ten days after the one before, in the same hands."""
    at = _handed_at(step)
    hand_over = HandOver(
        tag="MR-0001",
        step=step,
        at=at,
        at_text=at.isoformat(),
        giver=a_side(_HANDS[step.rank]),
        taker=a_side(_HANDS[step.rank + 1]),
        secret="0123456789abcdef",
    )
    return replace(hand_over, **changes)


def a_hand_over_draft(
    step: Step = Step.RECEIVED, *, number: str = "C-48213", **changes: Any
) -> HandOverDraft:
    """Give the same as it was written down, with the crematory's number."""
    at = _handed_at(step)
    draft = HandOverDraft(
        tag="MR-0001",
        step=step,
        at=at,
        at_text=at.isoformat(),
        giver=WrittenSide(name=_HANDS[step.rank], tag="MR-0001", identification=number),
        taker=WrittenSide(name=_HANDS[step.rank + 1], tag="MR-0001", identification=number),
    )
    return replace(draft, **changes)


def _handed_at(step: Step) -> datetime:
    return NOON + timedelta(days=10 * (step.rank - Step.PLACED.rank))


def a_whole_chain() -> list[HandOver]:
    """Give the five hand-overs of MR-0001, from the crematory to the seabed."""
    return [a_hand_over(step) for step in Step]


def custody_handed(hand_over: HandOver) -> Draft:
    """Draft the entry that records a hand-over."""
    return Draft(kind="custody.handed", actor=ACTOR, body=hand_over_body(hand_over))


def custody_withdrawn(reference: str, *, tag: str = "MR-0001", reason: str = "another module") -> Draft:
    """Draft the entry that withdraws a hand-over."""
    return Draft(
        kind="custody.withdrawn", actor=ACTOR, body={"reference": reference, "tag": tag, "reason": reason}
    )


def a_stocked_registry(modules: int = 3) -> list[Draft]:
    """Draft what a registry holds before the first sea day: a permit, a keep-out, a type and some modules."""
    tags = [f"MR-{index + 1:04d}" for index in range(modules)]
    return [
        permit_added(),
        keep_out_added(),
        type_added(),
        *(module_added(a_module(tag=tag)) for tag in tags),
    ]
