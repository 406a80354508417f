"""List the certificates issued, every version with its state as the registry stands now."""

from collections.abc import Iterable
from dataclasses import replace

from registry.actions.issue_certificate import still_says
from registry.actions.standing_place import StandingPlace, resurveys_by_tag, standing_place
from registry.errors import ConflictError, InvalidRecordError, NotFoundError
from registry.ports import Register
from registry.records.certificate import read_certificate_number
from registry.records.certificate_version import CertificateState, CertificateVersion
from registry.records.resurvey import Resurvey

__all__ = ["as_it_stands", "certificate_of", "list_certificates"]


def list_certificates(register: Register, which: str | None = None) -> tuple[CertificateVersion, ...]:
    """
    Give every version, oldest first; one that the record no longer bears out is told as changed.

    Parameters
    ----------
    register : Register
        Read from.
    which : str, optional
        The number of one certificate, or the tag of its module; there may be none of a module.

    Raises
    ------
    InvalidRecordError
        If it looks like a number, but its check digits do not fit.
    NotFoundError
        If the registry holds no such tag, and no certificate bears that number.
    """
    with register.reading():
        if which is None or register.modules_tagged([which]):
            return as_it_stands(register, register.certificate_versions(which))
        return certificate_of(register, which)


def as_it_stands(
    register: Register, versions: Iterable[CertificateVersion]
) -> tuple[CertificateVersion, ...]:
    """Hold the current ones of some versions against what the registry says now."""
    versions = tuple(versions)
    current = [each.tag for each in versions if each.state is CertificateState.CURRENT]
    modules = register.modules_tagged(current)
    resurveys = resurveys_by_tag(register, current[0] if len(current) == 1 else None)

    def held(version: CertificateVersion) -> CertificateVersion:
        if version.state is not CertificateState.CURRENT:
            return version
        place = _place(register, version.tag, resurveys)
        if still_says(version, modules.get(version.tag), place):
            return version
        return replace(version, state=CertificateState.CHANGED)

    return tuple(held(each) for each in versions)


def certificate_of(register: Register, which: str) -> tuple[CertificateVersion, ...]:
    """
    Find the versions of a certificate by its number or by the tag of its module.

    Raises
    ------
    InvalidRecordError
        If it looks like a number, but its check digits do not fit.
    NotFoundError
        If no certificate bears that number, or none was issued for that module.
    """
    of_tag = register.certificate_versions(which)
    if of_tag:
        return as_it_stands(register, of_tag)
    try:
        number = read_certificate_number(which)
    except InvalidRecordError as mistyped:
        if "check digits" in mistyped.what:
            raise
        register.module(which)
        what = f"No certificate was issued for {which}."
        raise NotFoundError(what, remedy="Issue it with: leadline certificate TAG --out DIR.") from None
    found = [each for each in register.certificate_versions() if each.number == number]
    if not found:
        what = f"This registry never issued certificate {number}."
        raise NotFoundError(what, remedy="See those it issued with: leadline certificates list.")
    return as_it_stands(register, found)


def _place(
    register: Register, tag: str, resurveys: dict[str, list[tuple[str, Resurvey]]]
) -> StandingPlace | None:
    """Tell where a module lies; None where nobody can say."""
    try:
        return standing_place(register, tag, resurveys)
    except (NotFoundError, ConflictError):
        return None
