"""The installation's own certificate authority: it certifies the signing keys of people (pure: no Django).

Its private key is the installation's key of ``shared.signing``; its certificate lies beside it and is published, so
that anyone verifies what people signed here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from shared.signing import KeyFileError, SigningKey, load_or_make_key, write_private_file

AUTHORITY_YEARS = 30
PERSON_YEARS = 3
"""For how long a person signs with one key; what was signed meanwhile holds beyond it."""

_DAYS_PER_YEAR = 365.25
_CLOCK_TOLERANCE = timedelta(minutes=5)  # a reader's clock may stand a little behind the one that issued
_NAME_LENGTH = 64  # X.520 upper bound of a common or organisation name (RFC 5280, appendix A.1)


@dataclass(frozen=True)
class Authority:
    """The key and the certificate with which people's keys are certified."""

    key: SigningKey
    certificate: x509.Certificate

    def pem(self) -> str:
        """Return the certificate as PEM text, as it is published."""
        return self.certificate.public_bytes(serialization.Encoding.PEM).decode("ascii")

    def certify(
        self, public: ec.EllipticCurvePublicKey, *, name: str, organisation: str, username: str, now: datetime
    ) -> x509.Certificate:
        """Return a certificate that a person of an organisation signs with this key from ``now`` on."""
        subject = x509.Name(
            [
                x509.NameAttribute(NameOID.ORGANIZATION_NAME, organisation[:_NAME_LENGTH]),
                x509.NameAttribute(NameOID.COMMON_NAME, name[:_NAME_LENGTH]),
                x509.NameAttribute(NameOID.USER_ID, username),
            ]
        )
        end = min(now + timedelta(days=PERSON_YEARS * _DAYS_PER_YEAR), self.certificate.not_valid_after_utc)
        return (
            _builder(subject, self.certificate.subject, public, now, end)
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(_usage(signs=True), critical=True)
            .add_extension(
                x509.AuthorityKeyIdentifier.from_issuer_public_key(self.key.private.public_key()), critical=False
            )
            .sign(self.key.private, hashes.SHA256())
        )


def load_or_make_authority(key_file: Path) -> Authority:
    """Load the authority; make key and certificate first where they are absent. Raises KeyFileError."""
    key = load_or_make_key(key_file)
    path = certificate_file(key_file)
    if not path.exists():
        certificate = _own_certificate(key, datetime.now(UTC))
        write_private_file(path, certificate.public_bytes(serialization.Encoding.PEM))
    return Authority(key, load_certificate(path.read_bytes(), key))


def certificate_file(key_file: Path) -> Path:
    """Return where the certificate of the key in ``key_file`` lies: beside it."""
    return key_file.with_name("authority.pem")


def load_certificate(pem: bytes, key: SigningKey | None = None) -> x509.Certificate:
    """Read an authority's certificate; raise KeyFileError for another text, or one that is not of ``key``."""
    try:
        certificate = x509.load_pem_x509_certificate(pem)
        certificate.verify_directly_issued_by(certificate)
    except (ValueError, TypeError, InvalidSignature) as error:
        raise KeyFileError("The authority's certificate is no PEM text of a certificate that signs itself.") from error
    if not isinstance(certificate.public_key(), ec.EllipticCurvePublicKey):
        raise KeyFileError("The authority's certificate does not hold an elliptic-curve key.")
    if key is not None and certificate.public_key() != key.private.public_key():
        raise KeyFileError("The authority's certificate belongs to another key than the installation's signing key.")
    return certificate


def fingerprint(certificate: x509.Certificate) -> str:
    """Return the SHA-256 of a certificate's DER form in hexadecimal."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def _own_certificate(key: SigningKey, now: datetime) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Berth Accord installation {key.key_id()[:16]}")])
    end = now + timedelta(days=AUTHORITY_YEARS * _DAYS_PER_YEAR)
    return (
        _builder(name, name, key.private.public_key(), now, end)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .sign(key.private, hashes.SHA256())
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, start: datetime, end: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(start - _CLOCK_TOLERANCE)
        .not_valid_after(end)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    """Return the usage of a person's certificate (it signs documents) or of the authority's (it certifies)."""
    return x509.KeyUsage(
        digital_signature=signs,
        content_commitment=signs,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=not signs,
        crl_sign=not signs,
        encipher_only=False,
        decipher_only=False,
    )
