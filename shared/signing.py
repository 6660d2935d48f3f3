"""The installation's own signature: ECDSA on P-256 over SHA-256 (pure: no Django).

The private key stays in one file that only its owner reads; anyone with the public key verifies.
"""

from __future__ import annotations

import base64
import binascii
import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from shared.calc.errors import InputError
from shared.canonical import sha256_hex

ALGORITHM = "ECDSA P-256 with SHA-256, DER, base64"
_SCHEME = ec.ECDSA(hashes.SHA256())


class KeyFileError(InputError):
    """A key file or public key that can't be used."""


@dataclass(frozen=True)
class SigningKey:
    """The private key of this installation."""

    private: ec.EllipticCurvePrivateKey

    def public_key_pem(self) -> str:
        """Return the public key as PEM text (SubjectPublicKeyInfo)."""
        return _pem(self.private.public_key())

    def key_id(self) -> str:
        """Return the name of the key: see ``key_id_of``."""
        return key_id_of(self.public_key_pem())

    def sign(self, data: bytes) -> str:
        """Return the base64 of the DER signature over ``data``."""
        return base64.b64encode(self.private.sign(data, _SCHEME)).decode("ascii")


def load_or_make_key(path: Path) -> SigningKey:
    """Load the key at ``path``; make one there first, readable by its owner only, if the file is absent."""
    if not path.exists():
        _make_key(path)
    return load_key(path)


def load_key(path: Path) -> SigningKey:
    """Load the private key at ``path``; raise KeyFileError when it is absent or is no P-256 key."""
    try:
        key = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except FileNotFoundError:
        raise KeyFileError(f"There is no signing key at {path}; run “manage.py up” once to make it.") from None
    except (OSError, ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise KeyFileError(f"The signing key at {path} can't be read: {error}.") from error
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise KeyFileError(f"The signing key at {path} is not an elliptic-curve key on P-256.")
    return SigningKey(key)


def verify(public_pem: str, data: bytes, signature: str) -> bool:
    """Tell whether ``signature`` (base64) over ``data`` was made by the owner of the public key.

    Raises KeyFileError when ``public_pem`` holds no P-256 public key; a damaged signature is just False.
    """
    public = _load_public(public_pem)
    try:
        public.verify(base64.b64decode(signature, validate=True), data, _SCHEME)
    except (InvalidSignature, binascii.Error, ValueError):
        return False
    return True


def key_id_of(public_pem: str) -> str:
    """Return the SHA-256 of the public key's DER form, in hexadecimal; raise KeyFileError for another text."""
    der = _load_public(public_pem).public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    return sha256_hex(der)


def _load_public(public_pem: str) -> ec.EllipticCurvePublicKey:
    try:
        key = serialization.load_pem_public_key(public_pem.encode("utf-8"))
    except (ValueError, UnsupportedAlgorithm) as error:
        raise KeyFileError("The public key is no PEM text of a public key.") from error
    if not isinstance(key, ec.EllipticCurvePublicKey) or not isinstance(key.curve, ec.SECP256R1):
        raise KeyFileError("The public key is not an elliptic-curve key on P-256.")
    return key


def _pem(public: ec.EllipticCurvePublicKey) -> str:
    return public.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo).decode(
        "ascii"
    )


def _make_key(path: Path) -> None:
    pem = ec.generate_private_key(ec.SECP256R1()).private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    write_private_file(path, pem)


def write_private_file(path: Path, data: bytes) -> None:
    """Write a file that only its owner reads; a file that is already there stays as it is."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.{secrets.token_hex(8)}")
    descriptor = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(data)
    try:
        # A link is made whole or not at all, so two processes that start together agree on one key.
        os.link(part, path)
    except FileExistsError:
        pass
    finally:
        part.unlink()
