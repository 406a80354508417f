"""Issue the certificate that a family keeps: facts from the registry, signed, numbered and journaled."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any
from unicodedata import normalize
from zoneinfo import ZoneInfo

from shapely import MultiPolygon, Polygon

from registry.actions.gather_cases import Surroundings, gather
from registry.actions.publish_site import WGS84, nearest_area, to_wgs84
from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.measure.boundary import signed_distance
from registry.measure.datum import decimal_year, resolve, transform
from registry.measure.decision import Verdict
from registry.measure.edges import densify
from registry.measure.frames import plate_of
from registry.measure.plate_motion import drift
from registry.ports import Register
from registry.records.certificate import (
    DRIFT_YEARS,
    Certificate,
    Plan,
    certificate_number,
    programme_initials,
)
from registry.records.entry import Draft
from registry.records.module import Module
from registry.records.permit import Area, Permit
from registry.records.placement import Placement, PlacementTable
from registry.rules.catalogue import judge

__all__ = ["Issued", "issue_certificate"]

#: Modules drawn on the small chart around the one remembered. Units: m.
PLAN_REACH_M = 5_000.0
EDGE_STEP_M = 2_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A certificate as it was issued."""

    certificate: Certificate
    pdf: bytes
    #: True where it had been issued before and nothing has changed: the same paper again.
    again: bool
    #: What speaks against handing it out: conditions that do not conform now, and warnings of the placement.
    warnings: tuple[str, ...]


def issue_certificate(
    register: Register,
    tag: str,
    *,
    print_page: Callable[[Certificate], bytes],
    now: datetime,
    actor: str,
    despite: str | None = None,
) -> Issued:
    """
    Issue the certificate of a module; where nothing has changed since the last one, give that one again.

    Parameters
    ----------
    register : Register
        Gives the facts and keeps the certificate.
    tag : str
        Of a module with a memorial and exactly one standing placement.
    print_page : callable
        Turns a certificate into the bytes of its signed and sealed page.
    now : datetime.datetime
        The instant of issue.
    actor : str
        Who issues it.
    despite : str, optional
        Why a new certificate is issued although something speaks against it; kept in the journal.

    Raises
    ------
    NotFoundError
        If there is no such tag or it was not placed.
    InvalidRecordError
        If the module has no memorial.
    ConflictError
        If the tag is recorded in several places: nobody can certify where it lies. Or if the placement is
        nonconforming now or carries a warning, and no reason to issue it all the same is given.
    UnprintableTextError
        If the name cannot be printed; nothing is then issued.
    """
    with register.writing():
        module = register.module(tag)
        if module.memorial is None:
            what = f"Module {tag} remembers nobody: it has no memorial name."
            raise InvalidRecordError(what, remedy="Certificates are for modules added with --memorial.")
        placement_id = _only_placement(register, tag)
        placement = register.placement(placement_id)
        warnings = (*_nonconforming(register, placement, placement_id), *placement.warnings)
        issued = register.certificates(tag)
        last = issued[-1] if issued else None
        # A certificate keeps its words in form NFC; the same name typed otherwise is the same name.
        name = normalize("NFC", module.memorial.name)
        record = last["record"] if last else {}
        printed = (record.get("memorial_name"), record.get("module_type"))
        if last and last["placement_id"] == placement_id and printed == (name, module.type_id):
            certificate = certificate_from_body(record)
            return Issued(certificate=certificate, pdf=print_page(certificate), again=True, warnings=warnings)
        reason = _reason(tag, warnings, despite)
        certificate = _certificate(register, module, placement, placement_id, issued=issued, now=now)
        pdf = print_page(certificate)
        body = {
            "number": certificate.number,
            "version": certificate.version,
            "tag": tag,
            "placement_id": placement_id,
            "record": certificate_body(certificate),
            "statement": certificate.statement(),
            "pdf_sha256": sha256(pdf).hexdigest(),
        }
        if warnings:
            body |= {"despite": reason, "warnings": list(warnings)}
        register.append([Draft(kind="certificate.issued", actor=actor, body=body)])
    return Issued(certificate=certificate, pdf=pdf, again=False, warnings=warnings)


def _only_placement(register: Register, tag: str) -> str:
    identifiers = register.placement_ids(tag)
    if not identifiers:
        what = f"Module {tag} was not placed yet."
        raise NotFoundError(what, remedy="Log its placement first, with: leadline place.")
    if len(identifiers) > 1:
        what = f"Module {tag} is recorded in {len(identifiers)} places ({', '.join(identifiers)})."
        remedy = "Find out which is true; mend the other with leadline correct or leadline withdraw."
        raise ConflictError(what, remedy=remedy)
    return identifiers[0]


def _nonconforming(register: Register, placement: Placement, placement_id: str) -> tuple[str, ...]:
    """Say which conditions the placement does not meet as the registry stands now."""
    permit = _permit(register, placement)
    standing = Surroundings(register.placements())
    row = int((standing.standing.placement_id == placement_id).argmax())
    (judged,) = judge(gather(register, standing, [(permit, [row])]))
    found = [each.line(0, placement.tag) for each in judged]
    return tuple(each.message for each in found if each.verdict == Verdict.NONCONFORMING)


def _permit(register: Register, placement: Placement) -> Permit:
    """Give the permit as it was in force on the day of the placement: a later amendment changes no paper."""
    zone = ZoneInfo(register.programme().zone)
    return register.permit(placement.permit, on=placement.placed_at.astimezone(zone).date())


def _reason(tag: str, warnings: Sequence[str], despite: str | None) -> str:
    """Insist on a reason where something speaks against a certificate."""
    reason = (despite or "").strip()
    if warnings and not reason:
        what = f"Something speaks against a certificate for {tag}: {' '.join(warnings)}"
        remedy = "Correct the placement, or issue it all the same with --despite REASON."
        raise ConflictError(what, remedy=remedy)
    return reason


def _certificate(
    register: Register,
    module: Module,
    placement: Placement,
    placement_id: str,
    *,
    issued: Sequence[Mapping[str, Any]],
    now: datetime,
) -> Certificate:
    programme = register.programme()
    permit = _permit(register, placement)
    home = placement.home.position
    standing = register.placements()
    own = standing.rows(standing.placement_id == placement_id)
    reef = nearest_area(own, [permit])[0]
    area = next(area for area in permit.areas if area.area_id == reef)
    inside_m = float(signed_distance(own.lon_deg, own.lat_deg, area.shape, area.edges).distance_m[0])
    epoch = round(decimal_year(now), 1)
    out = transform(
        home.lon_deg, home.lat_deg, source=programme.frame, target=WGS84, epoch=epoch, anywhere=True
    )
    frame = resolve(programme.frame)
    plate = plate_of(frame.frame, home.lon_deg, home.lat_deg) if frame.frame else None
    drift_m, azimuth_deg = (0.0, 0.0)
    if plate is not None:
        moved_m, toward_deg = drift(home.lon_deg, home.lat_deg, plate=plate, years=float(DRIFT_YEARS))
        drift_m, azimuth_deg = float(moved_m), float(toward_deg)
    if issued:
        number, version = issued[-1]["number"], issued[-1]["version"] + 1
    else:
        numbers = {body["number"] for body in register.certificates()}
        number = certificate_number(programme_initials(programme.name), now.year, len(numbers) + 1)
        version = 1
    zone = ZoneInfo(programme.zone)
    return Certificate(
        number=number,
        version=version,
        programme=programme.name,
        memorial_name=module.memorial.name if module.memorial else "",
        tag=module.tag,
        module_type=module.type_id,
        reef=reef,
        outside_m=max(0.0, -inside_m),
        permit=permit.number,
        placed_on=placement.placed_at.astimezone(zone).date(),
        lat_deg=float(out.lat_deg),
        lon_deg=_wrapped(float(out.lon_deg)),
        epoch=epoch,
        home_lat_deg=home.lat_deg,
        home_lon_deg=home.lon_deg,
        home_frame_name=frame.name,
        home_epoch=programme.frame_epoch,
        r95_m=home.r95_m,
        charted_depth_m=placement.charted_depth_m,
        depth_u95_m=placement.depth_u95_m,
        chart_datum=permit.chart_datum,
        issued_on=now.astimezone(zone).date(),
        journal_head=register.head(),
        drift_m=drift_m,
        drift_azimuth_deg=azimuth_deg,
        plan=_plan(register, area, own, programme.frame, epoch),
    )


def _plan(register: Register, area: Area, own: PlacementTable, frame: str, epoch: float) -> Plan:
    """Draw the area and every other module near, without names."""
    outline = to_wgs84(densify(area.shape, area.edges, EDGE_STEP_M), frame, epoch)
    parts = outline.geoms if isinstance(outline, MultiPolygon) else [outline]
    rings = [ring for part in parts if isinstance(part, Polygon) for ring in (part.exterior, *part.interiors)]
    near = register.placements_near(
        lon_deg=float(own.lon_deg[0]), lat_deg=float(own.lat_deg[0]), reach_m=PLAN_REACH_M
    )
    near = near.rows(near.placement_id != own.placement_id[0])
    out = transform(near.lon_deg, near.lat_deg, source=frame, target=WGS84, epoch=epoch, anywhere=True)
    return Plan(
        rings=tuple(tuple((float(lon), float(lat)) for lon, lat, *_ in ring.coords) for ring in rings),
        others=tuple(zip(out.lon_deg.tolist(), out.lat_deg.tolist(), strict=True)),
    )


def _wrapped(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0


def certificate_body(certificate: Certificate) -> dict[str, Any]:
    """Give a certificate as plain JSON data."""
    body = asdict(certificate)
    for name in ("placed_on", "issued_on"):
        body[name] = body[name].isoformat()
    return body


def certificate_from_body(body: Mapping[str, Any]) -> Certificate:
    """Give back the certificate, to the last bit: the same paper can be printed again."""
    data = dict(body)
    for name in ("placed_on", "issued_on"):
        data[name] = date.fromisoformat(data[name])
    plan = data["plan"]
    data["plan"] = Plan(
        rings=tuple(tuple((lon, lat) for lon, lat in ring) for ring in plan["rings"]),
        others=tuple((lon, lat) for lon, lat in plan["others"]),
    )
    return Certificate(**data)
