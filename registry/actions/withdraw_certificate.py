"""Withdraw a certificate: no paper of it stands any more, and the journal says why."""

from registry.actions.list_certificates import certificate_of
from registry.errors import ConflictError, InvalidRecordError
from registry.ports import Register
from registry.records.certificate_version import CertificateState, CertificateVersion
from registry.records.entry import Draft
from registry.records.printed_words import printed_words

__all__ = ["withdraw_certificate"]

LONGEST_REASON = 500


def withdraw_certificate(
    register: Register, which: str, *, reason: str, actor: str
) -> tuple[CertificateVersion, ...]:
    """
    Withdraw every version of a certificate that was issued so far.

    Parameters
    ----------
    register : Register
        Where it was issued.
    which : str
        Its number, or the tag of its module.
    reason : str
        Why, for the journal: on one line, since it is shown wherever the certificate is listed.
    actor : str
        Who withdraws it.

    Returns
    -------
    tuple of CertificateVersion
        Its versions as they stand now.

    Raises
    ------
    InvalidRecordError
        If no reason is given, it is too long, or the number is mistyped.
    UnprintableTextError
        If the reason holds line ends or other characters that do not show.
    NotFoundError
        If there is no such certificate.
    ConflictError
        If it was withdrawn before.
    """
    if not reason.strip():
        what = f"The withdrawal of {which} gives no reason."
        raise InvalidRecordError(what, remedy='Say why, with --reason "...".')
    reason = printed_words("reason", reason.strip(), longest=LONGEST_REASON)
    with register.writing():
        versions = certificate_of(register, which)
        last = versions[-1]
        if last.state is CertificateState.WITHDRAWN:
            what = f"Certificate {last.number} was withdrawn before: {last.reason}"
            raise ConflictError(what, remedy="Nothing is left to be done.")
        body = {"number": last.number, "tag": last.tag, "reason": reason}
        register.append([Draft(kind="certificate.withdrawn", actor=actor, body=body)])
        return certificate_of(register, last.number)
