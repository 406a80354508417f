"""Print a version of a certificate that was issued once more, from what the journal keeps of it."""

from dataclasses import dataclass, replace
from datetime import date

from registry.actions.issue_certificate import PrintPage, certificate_from_body
from registry.actions.list_certificates import certificate_of
from registry.errors import ConflictError, NotFoundError
from registry.ports import Register
from registry.records.certificate import Certificate
from registry.records.certificate_version import CertificateVersion

__all__ = ["Printed", "print_certificate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A paper that was issued before."""

    version: CertificateVersion
    certificate: Certificate
    pdf: bytes


def print_certificate(
    register: Register,
    which: str,
    *,
    print_page: PrintPage,
    version: int | None = None,
    duplicate: int | None = None,
) -> Printed:
    """
    Print a version as it was issued, whatever became of it since; nothing is written.

    Parameters
    ----------
    register : Register
        Read from.
    which : str
        The number of the certificate, or the tag of its module.
    print_page : callable
        Turns a certificate into the bytes of its signed and sealed page.
    version : int, optional
        Which version; by default the last.
    duplicate : int, optional
        The number of a duplicate of that version; by default the certificate itself.

    Raises
    ------
    NotFoundError
        If there is no such certificate, version or duplicate.
    ConflictError
        If it was issued by a version of Leadline that did not keep what it printed.
    InvalidRecordError
        If the number is mistyped.
    """
    with register.reading():
        versions = certificate_of(register, which)
        found = next((each for each in versions if each.version == (version or versions[-1].version)), None)
        if found is None:
            what = f"Certificate {versions[0].number} has no version {version}."
            raise NotFoundError(what, remedy=f"There are {len(versions)}.")
        body = next(each for each in register.certificates(found.tag) if each["version"] == found.version)
        if "record" not in body:
            what = f"Of certificate {found.number}, version {found.version}, only the number is kept."
            raise ConflictError(what, remedy="Issue it anew: it gets its next version.")
        certificate = certificate_from_body(body["record"])
        if duplicate is not None:
            certificate = _duplicate(register, found, certificate, duplicate)
        module = register.modules_tagged([found.tag]).get(found.tag)
    if module is not None and module.memorial is not None:
        # A language is no fact: what is printed again follows the one that is recorded now.
        certificate = replace(certificate, language=module.memorial.language)
    return Printed(version=found, certificate=certificate, pdf=print_page(certificate))


def _duplicate(
    register: Register, version: CertificateVersion, certificate: Certificate, number: int
) -> Certificate:
    wanted = (version.number, version.version, number)
    for body in register.certificate_duplicates(version.tag):
        if (body["number"], body["version"], int(body["duplicate"])) == wanted:
            day = date.fromisoformat(body["duplicated_on"])
            return replace(certificate, duplicate=number, duplicated_on=day)
    what = f"Of certificate {version.number}, version {version.version}, there is no duplicate {number}."
    raise NotFoundError(what, remedy="The page of the certificate names those that were made.")
