"""A certificate of the page's own, for a hangar where nobody signs any. Kept, so that a phone asks only once."""

import datetime as dt
import ipaddress
import os
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from daemon.faces.page import Certificate
from shared.errors import OutsideError

LASTS = dt.timedelta(days=397)
"""Browsers take none that lasts longer (CA/Browser Forum Baseline Requirements, 6.3.2)."""
RENEW_BEFORE = dt.timedelta(days=7)


def certificate_for(host: str, folder: Path) -> tuple[Certificate, str]:
    """Return a certificate for this host, made or kept from last time, and its SHA-256 for people.

    Raises:
        OutsideError: it can be neither read nor written.
    """
    name = "".join(char if char.isalnum() or char in ".-" else "_" for char in host)
    made = Certificate(folder / f"page-{name}.crt", folder / f"page-{name}.key")
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        known = _kept(made.chain)
        if known is None or not made.key.exists():
            known = _make(host, made)
    except OSError as error:
        raise OutsideError(
            f"{error.filename}: {error.strerror}", "serve without --page-tls"
        ) from error
    digest = known.fingerprint(hashes.SHA256()).hex(":", 2).upper()
    return made, digest


def _kept(path: Path) -> x509.Certificate | None:
    """Return the one of last time, unless it is about to end or is none."""
    try:
        known = x509.load_pem_x509_certificate(path.read_bytes())
    except (FileNotFoundError, ValueError):
        return None
    return known if known.not_valid_after_utc > dt.datetime.now(dt.UTC) + RENEW_BEFORE else None


def _make(host: str, where: Certificate) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"stillblade at {host}"[:64])])
    now = dt.datetime.now(dt.UTC)
    usage = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_named(host)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(
        where.key,
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
    )
    _write(where.chain, made.public_bytes(serialization.Encoding.PEM))
    return made


def _named(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _write(path: Path, content: bytes) -> None:
    path.unlink(missing_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
