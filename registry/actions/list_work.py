"""List what an office has to see to today: duties, placements, keepers' chains and certificates."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from registry.actions.audit_registry import audit_registry
from registry.actions.list_certificates import list_certificates
from registry.actions.list_custody import list_custody
from registry.actions.list_duties import list_duties
from registry.measure.decision import Verdict
from registry.ports import Exchange, Register
from registry.records.certificate_version import CertificateState, CertificateVersion
from registry.records.custody_chain import Chain, FaultKind
from registry.records.duty import Duty, DutyState
from registry.records.plaque_wording import PLAQUE_KINDS

__all__ = ["FlaggedPlacement", "Work", "list_work"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FlaggedPlacement:
    """A placement that does not conform, and why."""

    placement_id: str
    tag: str
    permit: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """What wants to be seen to."""

    #: Overdue or due soon, the most pressing first.
    duties: tuple[Duty, ...]
    nonconforming: tuple[FlaggedPlacement, ...]
    #: How many placements are inconclusive: a better measurement would settle them.
    inconclusive: int
    #: Chains with a gap or a mismatch; none where no hand-over was ever recorded.
    broken_chains: tuple[Chain, ...]
    keeps_custody: bool
    #: Certificates that no longer say what the record says.
    outdated: tuple[CertificateVersion, ...]
    #: Tags of placed modules that remember somebody and for which no certificate was issued.
    uncertified: tuple[str, ...]
    #: Tags that stand in several places: nobody knows which is true.
    in_several_places: tuple[str, ...]
    #: Tags whose families asked for a change of their plaque, and did not approve one since.
    returned_plaques: tuple[str, ...]
    #: How many contradictions between machines nobody decided yet.
    open_between: int


def list_work(register: Register, exchange: Exchange | None = None) -> Work:
    """
    Give what wants to be seen to as the registry stands now.

    Parameters
    ----------
    register : Register
        Read from.
    exchange : Exchange, optional
        What machines hand to each other, where there are several.
    """
    with register.reading():
        open_between = 0 if exchange is None else len(exchange.contests()) + len(exchange.placed_twice())
        duties = list_duties(register).duties
        audit = audit_registry(register)
        flagged = [
            FlaggedPlacement(
                placement_id=str(each.placements.placement_id[row]),
                tag=str(each.placements.tag[row]),
                permit=each.permit.number,
                reasons=tuple(
                    found.message[row]
                    for found in each.findings
                    if found.verdict[row] == Verdict.NONCONFORMING
                ),
            )
            for each in audit.permits
            for row in np.flatnonzero(each.verdict == Verdict.NONCONFORMING).tolist()
        ]
        keeps_custody = register.keeps_custody()
        chains = list_custody(register) if keeps_custody else ()
        versions = list_certificates(register)
        standing = register.placements()
        remembered = {str(tag) for tag, name in zip(standing.tag, standing.memorial, strict=True) if name}
        places = Counter(map(str, standing.tag))
        approved = {body["tag"]: kind for kind, body in _plaque_answers(register)}
    return Work(
        duties=tuple(each for each in duties if each.state in (DutyState.OVERDUE, DutyState.DUE_SOON)),
        nonconforming=tuple(sorted(flagged, key=lambda each: (each.permit, each.tag))),
        inconclusive=audit.count(Verdict.INCONCLUSIVE),
        broken_chains=tuple(chain for chain in chains if chain.has(FaultKind.GAP, FaultKind.MISMATCH)),
        keeps_custody=keeps_custody,
        outdated=tuple(each for each in versions if each.state is CertificateState.CHANGED),
        uncertified=tuple(sorted(remembered - {each.tag for each in versions})),
        in_several_places=tuple(sorted(tag for tag, count in places.items() if count > 1)),
        returned_plaques=tuple(sorted(tag for tag, kind in approved.items() if kind == "plaque.returned")),
        open_between=open_between,
    )


def _plaque_answers(register: Register) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Give what families said of their plaques, oldest first."""
    answers = [entry for kind in PLAQUE_KINDS for entry in register.journal(kind=kind)]
    for entry in sorted(answers, key=lambda each: each.time):
        yield entry.kind, entry.content()
