"""Issue the certificate that a family keeps: facts from the registry, signed, numbered and journaled."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from hashlib import sha256
from typing import Any
from unicodedata import normalize

from registry.actions.certificate_facts import CertificateFacts
from registry.actions.follow_custody import broken_links
from registry.actions.name_changes import name_changes
from registry.actions.standing_place import StandingPlace
from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Register
from registry.records.certificate import (
    Certificate,
    Plan,
    certificate_number,
    programme_initials,
)
from registry.records.certificate_change import Change, ChangeKind
from registry.records.certificate_version import CertificateState, CertificateVersion
from registry.records.entry import Draft
from registry.records.module import Module
from registry.records.placement import Placement

__all__ = [
    "Issued",
    "PrintPage",
    "certificate_body",
    "certificate_from_body",
    "issue_certificate",
    "still_says",
    "without_memorial",
]

PrintPage = Callable[[Certificate], bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A certificate as it was issued."""

    certificate: Certificate
    pdf: bytes
    #: True where it had been issued before and nothing has changed: the same paper again.
    again: bool
    #: What speaks against handing it out: conditions that do not conform now, warnings of the placement, gaps
    #: and mismatches in the keepers' chain.
    warnings: tuple[str, ...]


def issue_certificate(
    register: Register,
    tag: str,
    *,
    print_page: PrintPage,
    now: datetime,
    actor: str,
    despite: str | None = None,
    facts: CertificateFacts | None = None,
) -> Issued:
    """
    Issue the certificate of a module; where nothing has changed since the last one, give that one again.

    A later version keeps the number, supersedes the one before and names what it says otherwise; only where
    another machine gave that number to another module, it gets a fresh one.

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
    facts : CertificateFacts, optional
        What was read of the registry before, where many are issued.

    Raises
    ------
    NotFoundError
        If there is no such tag or it was not placed.
    InvalidRecordError
        If the module has no memorial.
    ConflictError
        If the tag is recorded in several places: nobody can certify where it lies. Or if something speaks
        against it (see `Issued.warnings`; also that the last version was withdrawn), and no reason to issue
        it all the same is given.
    UnprintableTextError
        If the name cannot be printed; nothing is then issued.
    """
    with register.writing():
        facts = facts or CertificateFacts(register)
        facts.renew()
        module = register.module(tag)
        if module.memorial is None:
            raise without_memorial(tag)
        place = facts.place(tag)
        placement = register.placement(place.placement_id)
        versions = register.certificate_versions(tag)
        last = versions[-1] if versions else None
        warnings = _what_speaks_against(register, facts, placement, place, last)
        bodies = register.certificates(tag) if last else ()
        before = certificate_from_body(bodies[-1]["record"]) if bodies and "record" in bodies[-1] else None
        # A number that another machine gave to another module as well is given up by both.
        fresh = last is None or last.number in facts.shared
        current = last and not fresh and last.state is CertificateState.CURRENT
        if last and before and current and still_says(last, module, place):
            # A language is no fact: what is printed again follows the one that is recorded now.
            before = replace(before, language=module.memorial.language)
            return Issued(certificate=before, pdf=print_page(before), again=True, warnings=warnings)
        reason = _reason(tag, warnings, despite)
        certificate = facts.certificate(
            module,
            placement,
            place,
            number=_next_number(facts, now) if last is None or fresh else last.number,
            version=1 if last is None or fresh else last.version + 1,
            now=now,
        )
        if last and before:
            was_withdrawn = last.state is CertificateState.WITHDRAWN
            changes = name_changes(before, certificate, was_withdrawn=was_withdrawn)
            certificate = replace(certificate, changes=changes)
        pdf = print_page(certificate)
        body = {
            "number": certificate.number,
            "version": certificate.version,
            "tag": tag,
            "placement_id": place.placement_id,
            "observation": place.reference,
            "record": certificate_body(certificate),
            "statement": certificate.statement(),
            "pdf_sha256": sha256(pdf).hexdigest(),
        }
        if warnings:
            body |= {"despite": reason, "warnings": list(warnings)}
        (entry,) = register.append([Draft(kind="certificate.issued", actor=actor, body=body)])
    facts.wrote(entry.digest, new_number=fresh)
    return Issued(certificate=certificate, pdf=pdf, again=False, warnings=warnings)


def still_says(last: CertificateVersion, module: Module | None, place: StandingPlace | None) -> bool:
    """
    Tell whether a version still rests on what the registry says: the same observation, name and type.

    A certificate keeps its words in form NFC; the same name typed otherwise is the same name.
    """
    if module is None or module.memorial is None or place is None:
        return False
    now = (place.placement_id, place.reference, normalize("NFC", module.memorial.name), module.type_id)
    return now == (last.placement_id, last.observation, last.memorial_name, last.module_type)


def without_memorial(tag: str) -> InvalidRecordError:
    """Say that a module has nobody to certify anything to."""
    what = f"Module {tag} remembers nobody: it has no memorial name."
    return InvalidRecordError(what, remedy="Certificates are for modules added with --memorial.")


def _what_speaks_against(
    register: Register,
    facts: CertificateFacts,
    placement: Placement,
    place: StandingPlace,
    last: CertificateVersion | None,
) -> tuple[str, ...]:
    """Say why a certificate should not be handed out, one sentence each; each needs a reason to go on."""
    ended: tuple[str, ...] = ()
    if last and last.state is CertificateState.WITHDRAWN:
        day = last.since.astimezone(facts.zone).date()
        ended = (f"Certificate {last.number} was withdrawn on {day}: {last.reason}",)
    keepers = broken_links(register, placement.tag)
    return (*facts.nonconforming(place.placement_id), *placement.warnings, *ended, *keepers)


def _reason(tag: str, warnings: Sequence[str], despite: str | None) -> str:
    """Insist on a reason where something speaks against a certificate."""
    reason = (despite or "").strip()
    if warnings and not reason:
        what = f"Something speaks against a certificate for {tag}: {' '.join(warnings)}"
        remedy = "Correct what is wrong, or say why it is issued all the same (--despite REASON)."
        raise ConflictError(what, remedy=remedy)
    return reason


def _next_number(facts: CertificateFacts, now: datetime) -> str:
    return certificate_number(programme_initials(facts.programme.name), now.year, facts.numbers + 1)


def certificate_body(certificate: Certificate) -> dict[str, Any]:
    """Give a certificate as plain JSON data."""
    # Not by asdict, which copies thousands of dots of the chart one by one.
    body = {name: getattr(certificate, name) for name in Certificate.__dataclass_fields__}
    body["plan"] = {"rings": certificate.plan.rings, "others": certificate.plan.others}
    for name in _DAYS:
        body[name] = body[name].isoformat() if body[name] is not None else None
    body["changes"] = [asdict(change) | {"what": str(change.what)} for change in certificate.changes]
    return body


def certificate_from_body(body: Mapping[str, Any]) -> Certificate:
    """Give back the certificate, to the last bit: the same paper can be printed again."""
    data = dict(body)
    for name in _DAYS:
        data[name] = date.fromisoformat(data[name]) if data.get(name) is not None else None
    data["changes"] = tuple(
        Change(**(change | {"what": ChangeKind(change["what"])})) for change in data.get("changes", ())
    )
    plan = data["plan"]
    data["plan"] = Plan(
        rings=tuple(tuple((lon, lat) for lon, lat in ring) for ring in plan["rings"]),
        others=tuple((lon, lat) for lon, lat in plan["others"]),
    )
    return Certificate(**data)


_DAYS = ("placed_on", "issued_on", "found_on", "duplicated_on")
