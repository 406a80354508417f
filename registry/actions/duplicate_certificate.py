"""Print one more paper of a certificate, for another relative; the paper says that it is one."""

from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import sha256
from zoneinfo import ZoneInfo

from registry.actions.issue_certificate import PrintPage, certificate_from_body
from registry.actions.list_certificates import certificate_of
from registry.errors import ConflictError, NotFoundError
from registry.ports import Register
from registry.records.certificate import Certificate
from registry.records.certificate_version import CertificateState
from registry.records.entry import Draft

__all__ = ["Duplicated", "duplicate_certificate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Duplicated:
    """A duplicate as it was made."""

    certificate: Certificate
    pdf: bytes
    #: True where this duplicate had been made before: the same paper again.
    again: bool


def duplicate_certificate(
    register: Register,
    which: str,
    *,
    print_page: PrintPage,
    now: datetime,
    actor: str,
    again: int | None = None,
) -> Duplicated:
    """
    Make a duplicate of the current version, numbered and journaled; for whom is nobody's business but theirs.

    Parameters
    ----------
    register : Register
        Where the certificate was issued.
    which : str
        Its number, or the tag of its module.
    print_page : callable
        Turns a certificate into the bytes of its signed and sealed page.
    now : datetime.datetime
        The instant at which it is made.
    actor : str
        Who makes it.
    again : int, optional
        The number of a duplicate that was made before, to be printed again.

    Raises
    ------
    NotFoundError
        If there is no such certificate, or no such duplicate of its current version.
    ConflictError
        If the certificate was withdrawn, or no longer says what the record says.
    InvalidRecordError
        If the number is mistyped.
    """
    with register.writing():
        last = certificate_of(register, which)[-1]
        if last.state is not CertificateState.CURRENT:
            said = {
                CertificateState.WITHDRAWN: f"was withdrawn: {last.reason}",
                CertificateState.CHANGED: "no longer says what the record says.",
            }[last.state]
            what = f"Certificate {last.number}, version {last.version}, {said}"
            remedy = f"Issue a new version first, with: leadline certificate {last.tag} --out DIR."
            raise ConflictError(what, remedy=remedy)
        original = certificate_from_body(register.certificates(last.tag)[-1]["record"])
        memorial = register.module(last.tag).memorial
        # A language is no fact: it follows what is recorded now.
        original = replace(original, language=memorial.language if memorial else None)
        made = {
            int(body["duplicate"]): body
            for body in register.certificate_duplicates(last.tag)
            if (body["number"], body["version"]) == (last.number, last.version)
        }
        if again is not None:
            if again not in made:
                what = f"Of certificate {last.number}, version {last.version}, there is no duplicate {again}."
                remedy = f"Made so far: {len(made)}. Leave --again out to make the next."
                raise NotFoundError(what, remedy=remedy)
            day = date.fromisoformat(made[again]["duplicated_on"])
            certificate = replace(original, duplicate=again, duplicated_on=day)
            return Duplicated(certificate=certificate, pdf=print_page(certificate), again=True)
        today = now.astimezone(ZoneInfo(register.programme().zone)).date()
        certificate = replace(original, duplicate=len(made) + 1, duplicated_on=today)
        pdf = print_page(certificate)
        body = {
            "number": last.number,
            "version": last.version,
            "duplicate": certificate.duplicate,
            "tag": last.tag,
            "duplicated_on": today.isoformat(),
            "statement": certificate.statement(),
            "pdf_sha256": sha256(pdf).hexdigest(),
        }
        register.append([Draft(kind="certificate.duplicated", actor=actor, body=body)])
    return Duplicated(certificate=certificate, pdf=pdf, again=False)
