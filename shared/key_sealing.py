"""Seals a private key under a person's secret: without the secret nobody opens it, this program included (pure).

Argon2id stretches the secret with the second set of parameters that RFC 9106, section 4, recommends; AES-256-GCM
encrypts. PKCS#12 is not used, because its check value is stretched far less than its content.
"""

from __future__ import annotations

import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from shared.calc.errors import AccordError

ARGON_MEMORY_KIB = 64 * 1024
_ARGON_PASSES, _ARGON_LANES = 3, 4
_FORMAT = b"\x01"
_SALT, _NONCE, _KEY = 16, 12, 32  # lengths in bytes


class SealedKeyError(AccordError):
    """A sealed key that this secret does not open."""


def seal(key: ec.EllipticCurvePrivateKey, secret: str, owner: str) -> bytes:
    """Return the key encrypted under ``secret`` and bound to ``owner``: moved to another owner it does not open."""
    salt, nonce = os.urandom(_SALT), os.urandom(_NONCE)
    plain = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    return _FORMAT + salt + nonce + AESGCM(_stretched(secret, salt)).encrypt(nonce, plain, owner.encode("utf-8"))


def open_sealed(sealed: bytes, secret: str, owner: str) -> ec.EllipticCurvePrivateKey:
    """Return the private key; raise SealedKeyError where secret or owner is another one, or a byte was changed."""
    salt, rest = sealed[1 : 1 + _SALT], sealed[1 + _SALT :]
    try:
        if sealed[:1] != _FORMAT or len(rest) <= _NONCE:
            raise InvalidTag
        plain = AESGCM(_stretched(secret, salt)).decrypt(rest[:_NONCE], rest[_NONCE:], owner.encode("utf-8"))
    except InvalidTag:
        raise SealedKeyError("The signing key can't be opened with this secret.") from None
    key = serialization.load_der_private_key(plain, password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise SealedKeyError("The signing key is not one that signs plans.")
    return key


def _stretched(secret: str, salt: bytes) -> bytes:
    stretch = Argon2id(
        salt=salt, length=_KEY, iterations=_ARGON_PASSES, lanes=_ARGON_LANES, memory_cost=ARGON_MEMORY_KIB
    )
    return stretch.derive(secret.encode("utf-8"))
