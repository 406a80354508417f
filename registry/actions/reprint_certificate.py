"""Print the latest certificate of a module once more, as it was issued; nothing is written or issued."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from registry.actions.issue_certificate import PrintPage, certificate_from_body
from registry.actions.list_certificates import as_it_stands
from registry.errors import ConflictError, NotFoundError
from registry.ports import Register
from registry.records.certificate import Certificate
from registry.records.certificate_version import CertificateState, CertificateVersion

__all__ = ["Reprinted", "latest_certificate", "reprint_certificate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reprinted:
    """A certificate that was printed once more."""

    certificate: Certificate
    version: CertificateVersion
    pdf: bytes


def latest_certificate(register: Register, tag: str) -> CertificateVersion | None:
    """Give the latest version that was issued for a module, with its state as the registry stands now."""
    versions = as_it_stands(register, register.certificate_versions(tag))
    return versions[-1] if versions else None


def reprint_certificate(register: Register, tag: str, *, printer: Callable[[], PrintPage]) -> Reprinted:
    """
    Print the latest version.

    Parameters
    ----------
    register : Register
        Read from.
    tag : str
        Of the module.
    printer : callable
        Gives what turns a certificate into its sealed page; asked only where there is one to print.

    Raises
    ------
    NotFoundError
        If none was issued.
    ConflictError
        If it was withdrawn.
    """
    with register.reading():
        version = latest_certificate(register, tag)
        if version is None:
            what = f"No certificate was issued for {tag} yet."
            raise NotFoundError(what, remedy="The programme's office issues it.")
        if version.state is CertificateState.WITHDRAWN:
            what = f"Certificate {version.number} was withdrawn: {version.reason}"
            raise ConflictError(what, remedy="The programme's office issues the next one.")
        certificate = certificate_from_body(register.certificates(tag)[-1]["record"])
        memorial = register.module(tag).memorial
        # A language is no fact: it follows what is recorded now.
        certificate = replace(certificate, language=memorial.language if memorial else None)
    return Reprinted(certificate=certificate, version=version, pdf=printer()(certificate))
