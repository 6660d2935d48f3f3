"""The one byte rule for hashing and signing: RFC 8785 over documents without floats (pure: no Django).

Languages print floats differently, and a signature must not depend on that. So a number that is
not whole is text here: its shortest decimal form, without exponent.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import rfc8785

from shared.calc.errors import InputError

BYTE_RULE = "rfc8785, numbers that are not whole as decimal text"
GREATEST_INTEGER = 2**53 - 1  # the largest integer that every JSON reader keeps exact (RFC 8785, 3.2.2.3)


class CanonicalError(InputError):
    """A document that has no canonical bytes, with the place in it that is wrong."""


def canonical_bytes(document: Any) -> bytes:
    """Return the canonical UTF-8 bytes of a JSON document; raise CanonicalError for floats and odd types."""
    _check(document, "document")
    try:
        return rfc8785.dumps(document)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as error:
        raise CanonicalError(f"The document has no canonical form: {error}") from error


def sha256_hex(data: bytes) -> str:
    """Return the SHA-256 of bytes as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def numbers_as_text(document: Any) -> Any:
    """Return a copy of a JSON document in which every float is its shortest decimal text."""
    if isinstance(document, float):
        return _decimal_text(document)
    if isinstance(document, Mapping):
        return {key: numbers_as_text(value) for key, value in document.items()}
    if isinstance(document, list | tuple):
        return [numbers_as_text(value) for value in document]
    return document


def _decimal_text(number: float) -> str:
    if not math.isfinite(number):
        raise CanonicalError(f"{number} is not a finite number and can't be signed.")
    text = format(Decimal(repr(number)), "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _check(value: Any, place: str) -> None:
    if value is None or isinstance(value, bool | str):
        return
    if isinstance(value, int):
        if abs(value) > GREATEST_INTEGER:
            raise CanonicalError(f"{place} is {value}, too large an integer for JSON; write it as text.")
        return
    if isinstance(value, Mapping):
        for key, item in value.items():
            if not isinstance(key, str):
                raise CanonicalError(f"{place} has the key {key!r}, which is not text.")
            _check(item, f"{place}.{key}")
        return
    if isinstance(value, list | tuple):
        for number, item in enumerate(value):
            _check(item, f"{place}[{number}]")
        return
    if isinstance(value, float):
        raise CanonicalError(f"{place} is the float {value!r}; write it as decimal text before signing or hashing.")
    raise CanonicalError(f"{place} is a {type(value).__name__}, which JSON does not know.")
