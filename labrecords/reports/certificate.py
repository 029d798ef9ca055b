"""The lab's certificate, which seals issued reports: self-made on first use, or the PKCS#12 file of a setting."""

from __future__ import annotations

import hashlib
import os
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from django.conf import settings

from labrecords.errors import CertificateRefused

YEARS = 10
KEY_FILE = "key-and-certificate.pem"  # mode 0600; whoever has it can seal in the lab's name
DOCUMENT_SIGNING = x509.ObjectIdentifier("1.3.6.1.5.5.7.3.36")  # RFC 9336
LEAST_RSA_BITS = 3072


@dataclass(frozen=True)
class LabCertificate:
    key: ec.EllipticCurvePrivateKey | rsa.RSAPrivateKey
    certificate: x509.Certificate

    def facts(self) -> dict:
        """What the report prints of it."""
        return facts_of(self.certificate)


def facts_of(certificate: x509.Certificate) -> dict:
    return {
        "subject": certificate.subject.rfc4514_string(),
        "fingerprint": fingerprint(certificate),
        "valid_from": certificate.not_valid_before_utc.date().isoformat(),
        "valid_until": certificate.not_valid_after_utc.date().isoformat(),
        "self_made": certificate.issuer == certificate.subject,
    }


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 of the certificate in pairs of hexadecimal digits."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def of_laboratory(name: str, now: datetime) -> LabCertificate:
    """The certificate that seals today; made in the name of the lab when there is none yet."""
    named = settings.CERTIFICATE_FILE
    found = _from_pkcs12(named, settings.CERTIFICATE_PASSWORD_FILE) if named else _own(name, now)
    _check(found, now)
    if named:
        _keep_public(found.certificate)
    return found


def known() -> list[x509.Certificate]:
    """Every certificate that this data folder has sealed with; looks only, makes nothing."""
    found = []
    for path in sorted(_folder().glob("*.pem")):
        if path.name != KEY_FILE:
            try:
                found += x509.load_pem_x509_certificates(path.read_bytes())
            except (OSError, ValueError):
                continue  # what cannot be read vouches for nothing
    return found


def _folder() -> Path:
    return Path(settings.DATA) / "certificate"


def _own(name, now):
    path = _folder() / KEY_FILE
    try:
        if not path.exists():
            _make(path, name, now)
        data = path.read_bytes()
        return LabCertificate(
            serialization.load_pem_private_key(data, password=None), x509.load_pem_x509_certificate(data)
        )
    except (OSError, ValueError, TypeError) as problem:
        raise CertificateRefused(what=f"{path} cannot be used: {problem}") from None


def _make(path, name, now):
    made = _self_made(name, now)
    path.parent.mkdir(mode=0o755, parents=True, exist_ok=True)
    _give_to_owner(path.parent)
    key = made.key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _put(path, key + _pem(made.certificate), 0o600)
    # Two processes may start at once: the first key stays, and its certificate is the one to be known.
    _keep_public(x509.load_pem_x509_certificate(path.read_bytes()))


def _self_made(name, now):
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name[:64] or "Laboratory")])
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A day back, for readers whose clock is behind.
        .not_valid_before(now.astimezone(UTC) - timedelta(days=1))
        .not_valid_after(now.astimezone(UTC) + timedelta(days=365 * YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signs_only(), critical=True)
        .add_extension(x509.ExtendedKeyUsage([DOCUMENT_SIGNING]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )
    return LabCertificate(key, builder.sign(key, hashes.SHA256()))


def _signs_only():
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _from_pkcs12(path, password_file):
    try:
        password = password_file.read_bytes().strip() if password_file else None
        key, certificate, _ = pkcs12.load_key_and_certificates(path.read_bytes(), password)
    except (OSError, ValueError, TypeError) as problem:
        raise CertificateRefused(what=f"{path} cannot be opened: {problem}") from None
    if key is None or certificate is None:
        raise CertificateRefused(what=f"{path} holds no key with its certificate")
    return LabCertificate(key, certificate)


def _check(found, now):
    key, certificate = found.key, found.certificate
    is_rsa = isinstance(key, rsa.RSAPrivateKey) and key.key_size >= LEAST_RSA_BITS
    is_p256 = isinstance(key, ec.EllipticCurvePrivateKey) and isinstance(key.curve, ec.SECP256R1)
    if not (is_rsa or is_p256):
        raise CertificateRefused(what=f"its key is neither ECDSA P-256 nor RSA of {LEAST_RSA_BITS} bits or more")
    if key.public_key() != certificate.public_key():
        raise CertificateRefused(what="its key and its certificate do not belong together")
    if not certificate.not_valid_before_utc <= now <= certificate.not_valid_after_utc:
        valid = facts_of(certificate)
        raise CertificateRefused(
            what=f"it is valid from {valid['valid_from']} to {valid['valid_until']}, not on {now.date()}"
        )


def _pem(certificate):
    return certificate.public_bytes(serialization.Encoding.PEM)


def _keep_public(certificate):
    """The certificate without its key, to be told to customers and to know old reports by."""
    data = _pem(certificate)
    path = _folder() / f"certificate-{hashlib.sha256(data).hexdigest()[:16]}.pem"
    if path.exists():
        return
    try:
        path.parent.mkdir(mode=0o755, parents=True, exist_ok=True)
        _give_to_owner(path.parent)
        _put(path, data, 0o644)
    except OSError as problem:
        raise CertificateRefused(what=f"{path} cannot be written: {problem}") from None


def _put(path, data, mode):
    """Whole or not at all, and never over what is there."""
    passing = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with open(os.open(passing, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        _give_to_owner(passing)
        os.link(passing, path)
    except FileExistsError:
        pass
    finally:
        passing.unlink(missing_ok=True)


def _give_to_owner(path):
    """Made by root, it belongs to the owner of the data folder, who must be able to read it later."""
    if os.geteuid() == 0:
        owner = Path(settings.DATA).stat()
        os.chown(path, owner.st_uid, owner.st_gid)
