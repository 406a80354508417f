"""Recount all that the registry holds of one module: where it lies, who kept it, what was mended."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from registry.actions.follow_custody import follow_custody
from registry.actions.gather_cases import Surroundings, gather
from registry.actions.last_known import last_known
from registry.actions.list_certificates import as_it_stands
from registry.measure.decision import Verdict
from registry.ports import Register
from registry.records.body import module_from_body
from registry.records.certificate_version import CertificateVersion
from registry.records.custody_chain import Chain
from registry.records.entry import Entry, canonical_json
from registry.records.finding import Finding, whole_verdict
from registry.records.module import Module
from registry.records.module_words import module_differences, module_version
from registry.records.placement import Placement
from registry.records.resurvey import Resurvey, resurvey_from_body
from registry.rules.catalogue import judge

__all__ = ["Mended", "ModuleStory", "StandingPlacement", "recount_module"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingPlacement:
    """A placement that stands, judged by the permit of its day among all that lies there now."""

    placement_id: str
    placement: Placement
    findings: tuple[Finding, ...]
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """An entry that set something right, and why."""

    reference: str
    at: datetime
    actor: str
    what: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ModuleStory:
    """All that is held of one module, apart from what is held of the family."""

    module: Module
    #: What whoever mends it has seen.
    version: str
    #: Oldest first; several where nobody knows yet which is true.
    placements: tuple[StandingPlacement, ...]
    #: With the reference of each, oldest first.
    resurveys: tuple[tuple[str, Resurvey], ...]
    chain: Chain
    #: Every version, oldest first.
    certificates: tuple[CertificateVersion, ...]
    mended: tuple[Mended, ...]
    #: IANA zone of the programme, for days and times.
    zone: str


def recount_module(register: Register, tag: str) -> ModuleStory:
    """
    Give all that is held of a module.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of the module.

    Raises
    ------
    NotFoundError
        If there is no such module; it names tags near to it.
    """
    with register.reading():
        module = register.module(tag)
        resurveys = ((str(body["reference"]), resurvey_from_body(body)) for body in register.resurveys(tag))
        return ModuleStory(
            module=module,
            version=module_version(module),
            placements=_standing(register, tag),
            resurveys=tuple(resurveys),
            chain=follow_custody(register, tag),
            certificates=as_it_stands(register, register.certificate_versions(tag)),
            mended=tuple(sorted(_mended(register, tag), key=lambda each: each.at)),
            zone=register.programme().zone,
        )


def _standing(register: Register, tag: str) -> tuple[StandingPlacement, ...]:
    identifiers = register.placement_ids(tag)
    if not identifiers:
        return ()
    zone = ZoneInfo(register.programme().zone)
    surroundings = Surroundings(*last_known(register, register.placements()))
    row_of = {each: row for row, each in enumerate(surroundings.standing.placement_id.tolist())}
    placements = [register.placement(each) for each in identifiers]
    asked = [
        (register.permit(each.permit, on=each.placed_at.astimezone(zone).date()), [row_of[identifier]])
        for identifier, each in zip(identifiers, placements, strict=True)
    ]
    told = judge(gather(register, surroundings, asked))
    found = [tuple(findings.line(0, tag) for findings in of_permit) for of_permit in told]
    return tuple(
        StandingPlacement(placement_id=identifier, placement=each, findings=of, verdict=whole_verdict(of))
        for identifier, each, of in zip(identifiers, placements, found, strict=True)
    )


def _mended(register: Register, tag: str) -> Iterator[Mended]:
    yield from _amended(register, tag)
    for entry in register.journal(kind="placement.corrected"):
        old = register.placement(str(entry.content()["supersedes"])).tag
        new = str(entry.content()["tag"])
        if tag in (old, new):
            moved = "" if old == new else f", which was logged as {old} and is {new}"
            yield _told(entry, f"placement {entry.content()['supersedes']} corrected{moved}")
    for kind, what, key in _TAKEN_BACK:
        for entry in _about(register, kind, tag):
            if key in entry.content():
                yield _told(entry, what.format(entry.content()[key]))


#: Kinds of entries that take something back, what is said of it, and what names it.
_TAKEN_BACK = (
    ("placement.withdrawn", "placement {} withdrawn", "placement_id"),
    ("custody.withdrawn", "hand-over {} withdrawn", "reference"),
    ("custody.handed", "hand-over {} corrected", "supersedes"),
    ("certificate.withdrawn", "certificate {} withdrawn", "number"),
)


def _amended(register: Register, tag: str) -> Iterator[Mended]:
    before: Module | None = None
    for kind in ("module.added", "module.amended"):
        for entry in _about(register, kind, tag):
            after = module_from_body(entry.content())
            if before is not None:
                told = (f"{each.name}: {each.was} → {each.now}" for each in module_differences(before, after))
                yield _told(entry, "; ".join(told))
            before = after


def _told(entry: Entry, what: str) -> Mended:
    reason = str(entry.content().get("reason", ""))
    return Mended(reference=entry.reference, at=entry.time, actor=entry.actor, what=what, reason=reason)


def _about(register: Register, kind: str, tag: str) -> Iterator[Entry]:
    """Give the entries of a kind about a module; their text is looked at first: there may be many."""
    written = canonical_json(tag)
    for entry in register.journal(kind=kind):
        if written in entry.body and entry.content().get("tag") == tag:
            yield entry
