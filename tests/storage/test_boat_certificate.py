"""The boat's own certificate: its key is its owner's alone, it is renewed in time, and others read it."""

import os
import shutil
import ssl
import stat
import subprocess
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509

from registry.errors import UnwritableError
from registry.storage.boat_certificate import boat_certificate
from tests.fakes import FixedClock

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


def held(made):
    return x509.load_pem_x509_certificate(made.certificate.read_bytes())


def names(made):
    extension = held(made).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return [str(each.value) for each in extension]


@pytest.fixture
def registry(tmp_path):
    return tmp_path / "leadline.gpkg"


def test_the_key_is_its_owners_alone_and_belongs_to_the_certificate(registry):
    made = boat_certificate(registry, host="192.168.8.1", clock=FixedClock(NOON))
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600
    assert names(made) == ["localhost", "127.0.0.1", "192.168.8.1"]
    # The library that serves it takes both: it refuses a key of another certificate.
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made.certificate, made.key)


def test_it_is_kept_until_shortly_before_its_end(registry):
    first = boat_certificate(registry, host="boat.example", clock=FixedClock(NOON))
    later = boat_certificate(registry, host="boat.example", clock=FixedClock(NOON + timedelta(days=366)))
    assert later.fingerprint == first.fingerprint
    renewed = boat_certificate(registry, host="boat.example", clock=FixedClock(NOON + timedelta(days=368)))
    assert renewed.fingerprint != first.fingerprint
    assert held(renewed).not_valid_after_utc > NOON + timedelta(days=700)
    assert stat.S_IMODE(renewed.key.stat().st_mode) == 0o600


def test_another_address_needs_another_certificate(registry):
    one = boat_certificate(registry, host="192.168.8.1", clock=FixedClock(NOON))
    other = boat_certificate(registry, host="192.168.8.2", clock=FixedClock(NOON))
    assert one.fingerprint != other.fingerprint
    assert "192.168.8.2" in names(other)


def test_a_damaged_one_is_made_anew(registry):
    made = boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    made.certificate.write_text(
        "-----BEGIN CERTIFICATE-----\nx\n-----END CERTIFICATE-----\n", encoding="ascii"
    )
    again = boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    assert names(again) == ["localhost", "127.0.0.1"]


def test_a_key_of_another_certificate_is_not_served(registry, tmp_path):
    made = boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    other = boat_certificate(tmp_path / "other.gpkg", host="localhost", clock=FixedClock(NOON))
    shutil.copy(other.key, made.key)
    again = boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    assert again.fingerprint != made.fingerprint
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(again.certificate, again.key)


def test_rights_that_let_others_at_the_key_are_taken_away(registry):
    made = boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    made.key.chmod(0o644)
    boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="a folder is not closed to root")
def test_a_folder_that_takes_no_file_is_told(registry):
    registry.parent.chmod(0o500)
    try:
        with pytest.raises(UnwritableError, match="takes no certificate"):
            boat_certificate(registry, host="localhost", clock=FixedClock(NOON))
    finally:
        registry.parent.chmod(0o700)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not there")
def test_openssl_reads_it_and_trusts_it_for_that_address_alone(registry):
    made = boat_certificate(registry, host="192.168.8.1", clock=FixedClock(NOON))
    at = str(int((NOON + timedelta(days=1)).timestamp()))

    def verified(*more):
        own = str(made.certificate)
        line = ["openssl", "verify", "-attime", at, "-purpose", "sslserver", "-CAfile", own]
        done = subprocess.run([*line, *more, own], capture_output=True, text=True, check=False)
        return done.returncode

    assert verified("-verify_ip", "192.168.8.1") == 0
    assert verified("-verify_hostname", "localhost") == 0
    assert verified("-verify_ip", "192.168.8.2") != 0
    shown = subprocess.run(
        ["openssl", "x509", "-in", made.certificate, "-noout", "-fingerprint", "-sha256"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert shown.stdout.strip().endswith(made.fingerprint)
