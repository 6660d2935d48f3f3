"""Data files from before people had keys of their own still verify: one made then is kept here with its public key."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization

from compat.accord.checklist.item import Side
from compat.accord.earlier_files import is_earlier_file, verify_earlier
from compat.accord.plan_view import plan_view
from compat.accord.verdict import Verdict
from shared.canonical import canonical_bytes
from tests.compat.accord.plan_builders import AUTHORITY, DATA_SAMPLE

FOLDER = Path(__file__).parent / "earlier"
WHOLE = (FOLDER / "plan-1.0.json").read_bytes()
PUBLIC = serialization.load_pem_public_key((FOLDER / "public-1.0.pem").read_bytes())


class Certificate:
    """Stands for the certificate of the key that signed then; only its key is asked for."""

    def public_key(self) -> Any:
        return PUBLIC


def verified(data: bytes) -> Verdict:
    certificate: Any = Certificate()
    return verify_earlier(data, certificate)


def remade(**changes: Any) -> bytes:
    return canonical_bytes({**json.loads(WHOLE), **changes})


def test_an_earlier_plan_still_holds_and_can_be_shown() -> None:
    verdict = verified(WHOLE)
    assert verdict.holds, verdict.sentences()
    assert [(one.side, one.person) for one in verdict.signatures] == [
        (Side.SHIP, "Ines Marlowe"),
        (Side.TERMINAL, "Tor Askeland"),
    ]
    assert verdict.file is not None
    assert plan_view(verdict.file)["accord"]["holds_until"] == ""


def test_it_is_told_from_one_of_today() -> None:
    assert is_earlier_file(WHOLE)
    assert not is_earlier_file(DATA_SAMPLE)


def test_no_flipped_bit_passes() -> None:
    chooser = random.Random(20310414)  # noqa: S311 - the same places each time
    for place in chooser.sample(range(len(WHOLE)), 120):
        changed = bytearray(WHOLE)
        changed[place] ^= 1 << chooser.randrange(8)
        assert not verified(bytes(changed)).holds, place


def test_another_key_does_not_hold() -> None:
    certificate: x509.Certificate = AUTHORITY.certificate
    assert not verify_earlier(WHOLE, certificate).holds
    assert certificate.not_valid_after_utc > datetime(2031, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (remade(note="x"), "does not have the parts"),
        (remade(algorithm="none"), "by a method that this program does not know"),
        (remade(signatures="none"), "does not have the parts"),
        (remade(signatures=[{"statement": "x"}]), "parts statement and signature"),
        (remade(signatures=[{"statement": "{}", "signature": "x"}]), "of type None"),
        (remade(schema_version="2.0"), "of version 2.0"),
        (WHOLE[:-1], "not whole JSON"),
    ],
)
def test_a_damaged_file_is_told_in_a_sentence(data: bytes, sentence: str) -> None:
    verdict = verified(data)
    assert not verdict.holds
    assert any(sentence in problem for problem in verdict.problems), verdict.problems
