"""Issue the certificates of many modules; what was issued and is at hand already is passed over."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime

from registry.actions.certificate_facts import CertificateFacts
from registry.actions.issue_certificate import Issued, PrintPage, issue_certificate
from registry.actions.list_certificates import as_it_stands
from registry.errors import RequestError
from registry.ports import Register
from registry.records.certificate_version import CertificateState, CertificateVersion

__all__ = ["Outcome", "issue_certificates", "tags_to_certify"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one module: one of the four is set."""

    tag: str
    #: Its certificate stands and its paper is at hand.
    kept: CertificateVersion | None = None
    #: It was withdrawn, and only a person with a reason issues it anew.
    withdrawn: CertificateVersion | None = None
    #: Issued, or printed again where the paper was missing.
    issued: Issued | None = None
    #: Why nothing was issued.
    refused: RequestError | None = None


def tags_to_certify(register: Register, permit: str | None = None) -> tuple[str, ...]:
    """
    Name the modules that remember somebody and lie under a permit, in order of tag.

    Raises
    ------
    NotFoundError
        If there is no such permit.
    """
    with register.reading():
        if permit is not None:
            register.permit(permit)
        tags = sorted(set(map(str, register.placements(permit=permit).tag)))
        modules = register.modules_tagged(tags)
        return tuple(tag for tag in tags if tag in modules and modules[tag].memorial is not None)


def issue_certificates(
    register: Register,
    tags: tuple[str, ...],
    *,
    print_page: PrintPage,
    is_at_hand: Callable[[CertificateVersion], bool],
    now: datetime,
    actor: str,
) -> Iterator[Outcome]:
    """
    Issue what is missing or has changed, one after the other; each stands once the next is asked for.

    Parameters
    ----------
    register : Register
        Read once for all of them, and anew where another writes meanwhile.
    tags : tuple of str
        As from :func:`tags_to_certify`.
    print_page : callable
        Turns a certificate into the bytes of its signed and sealed page.
    is_at_hand : callable
        Tells whether the whole paper of a version lies where it should.
    now : datetime.datetime
        The instant of issue.
    actor : str
        Who issues them.

    Yields
    ------
    Outcome
        What speaks against a certificate refuses it: a reason to issue it all the same is given for one.
    """
    with register.reading():
        facts = CertificateFacts(register)
        latest: dict[str, CertificateVersion] = {}
        for each in as_it_stands(register, register.certificate_versions()):
            latest[each.tag] = each
    at_hand = {
        tag: latest[tag]
        for tag in tags
        if tag in latest and latest[tag].state is CertificateState.CURRENT and is_at_hand(latest[tag])
    }
    with register.reading():
        facts.judge(facts.only_placements([tag for tag in tags if tag not in at_hand]))
    for tag in tags:
        if tag in at_hand:
            yield Outcome(tag=tag, kept=at_hand[tag])
            continue
        if tag in latest and latest[tag].state is CertificateState.WITHDRAWN:
            yield Outcome(tag=tag, withdrawn=latest[tag])
            continue
        try:
            issued = issue_certificate(
                register, tag, print_page=print_page, now=now, actor=actor, facts=facts
            )
        except RequestError as refused:
            yield Outcome(tag=tag, refused=refused)
        else:
            yield Outcome(tag=tag, issued=issued)
