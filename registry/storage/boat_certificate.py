"""A certificate of a boat's own, so that pages travel under TLS where there is no authority to ask."""

import ipaddress
import os
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from registry.errors import UnwritableError
from registry.storage.own_rights import mended_rights

if TYPE_CHECKING:
    from registry.ports import Clock

__all__ = ["BoatCertificate", "boat_certificate"]

#: What tablets take at most of a certificate that an owner trusts by hand (common practice, no source).
_VALID = timedelta(days=397)
#: One that is nearer to its end than this is made anew at the next start.
_RENEWED = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class BoatCertificate:
    """Where a certificate and its key lie."""

    certificate: Path
    key: Path
    #: SHA-256 of the certificate, to be compared with what the tablet shows.
    fingerprint: str


def boat_certificate(registry: Path, *, host: str, clock: "Clock") -> BoatCertificate:
    """
    Give the certificate of this boat.

    It is made anew where there is none, where it ends soon, and where it is for another address.

    Parameters
    ----------
    registry : pathlib.Path
        The registry file; the certificate and its key (rights 0600) lie beside it.
    host : str
        Name or address under which tablets reach this machine; "localhost" and 127.0.0.1 stand beside it.
    clock : Clock
        Tells from when to when it holds.

    Raises
    ------
    UnwritableError
        If the folder takes no file.
    """
    place = registry.resolve()
    certificate = place.with_name(f"{place.name}.boat.crt")
    key = place.with_name(f"{place.name}.boat.key")
    names = _names(host)
    now = clock.now()
    if certificate.exists() and key.exists():
        try:
            held = x509.load_pem_x509_certificate(certificate.read_bytes())
            theirs = held.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
            own = serialization.load_pem_private_key(key.read_bytes(), password=None)
            fits = list(theirs) == names and own.public_key() == held.public_key()
            if fits and held.not_valid_after_utc - now > _RENEWED:
                mended_rights(key, 0o600)
                return BoatCertificate(certificate, key, _fingerprint(held))
        except (ValueError, TypeError, x509.ExtensionNotFound):
            pass  # damaged, or not of this boat: it is made anew
    private = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Leadline on this boat")])
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + _VALID)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(private, hashes.SHA256())
    )
    secret = private.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    try:
        key.unlink(missing_ok=True)
        with os.fdopen(os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(secret)
        certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    except OSError as error:
        what = f"{certificate.parent} takes no certificate: {error.strerror}."
        raise UnwritableError(what, remedy="Free the folder for writing, or serve without --tls.") from error
    return BoatCertificate(certificate, key, _fingerprint(made))


def _names(host: str) -> list[x509.GeneralName]:
    loopback = ipaddress.ip_address("127.0.0.1")
    names: list[x509.GeneralName] = [x509.DNSName("localhost"), x509.IPAddress(loopback)]
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return names if host == "localhost" else [*names, x509.DNSName(host)]
    return names if address == loopback else [*names, x509.IPAddress(address)]


def _fingerprint(certificate: x509.Certificate) -> str:
    return ":".join(f"{byte:02X}" for byte in certificate.fingerprint(hashes.SHA256()))
