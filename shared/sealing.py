"""Seals what the server has to read again, so that a copy of the database alone does not give it away."""

from __future__ import annotations

import base64

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from shared.calc.errors import AccordError

_PURPOSE = b"berth-accord sealed values 1"


class SealBrokenError(AccordError):
    """What was sealed can't be opened: the installation's secret key is another one by now."""


def seal(text: str) -> str:
    """Return ``text`` sealed under the installation's secret key."""
    return _box().encrypt(text.encode()).decode("ascii")


def unseal(sealed: str) -> str:
    """Return what was sealed; raise SealBrokenError where it was changed or the secret key was."""
    try:
        return _box().decrypt(sealed.encode("ascii")).decode()
    except InvalidToken as error:
        raise SealBrokenError(
            "This can't be read any more, because the installation's secret key was changed; set it up anew."
        ) from error


def _box() -> Fernet:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=_PURPOSE).derive(settings.SECRET_KEY.encode())
    return Fernet(base64.urlsafe_b64encode(derived))
