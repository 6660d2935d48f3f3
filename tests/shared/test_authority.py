"""The installation's authority and sealed keys: what they certify, and that nothing opens a key but its secret."""

from __future__ import annotations

import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from shared.authority import PERSON_YEARS, fingerprint, load_certificate, load_or_make_authority
from shared.key_sealing import SealedKeyError, open_sealed, seal
from shared.signing import KeyFileError, load_or_make_key

NOW = datetime(2031, 4, 14, 6, 30, tzinfo=UTC)
KEY = ec.generate_private_key(ec.SECP256R1())


def test_an_authority_is_made_once_and_certifies_documents_for_people_only(tmp_path: Path) -> None:
    authority = load_or_make_authority(tmp_path / "key.pem")
    assert load_or_make_authority(tmp_path / "key.pem").pem() == authority.pem()
    assert stat.S_IMODE((tmp_path / "key.pem").stat().st_mode) == 0o600
    long_name = "A" * 80
    made = authority.certify(KEY.public_key(), name=long_name, organisation="Halvard", username="ines", now=NOW)
    made.verify_directly_issued_by(authority.certificate)
    assert made.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value == "A" * 64
    assert made.not_valid_before_utc < NOW < made.not_valid_after_utc < NOW + timedelta(days=366 * PERSON_YEARS)
    usage = made.extensions.get_extension_for_class(x509.KeyUsage).value
    assert (usage.digital_signature, usage.content_commitment, usage.key_cert_sign) == (True, True, False)
    assert not made.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    own = authority.certificate.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert (own.ca, own.path_length) == (True, 0)
    assert len(fingerprint(made)) == 64


def test_a_key_from_before_gets_its_certificate(tmp_path: Path) -> None:
    key = load_or_make_key(tmp_path / "key.pem")
    authority = load_or_make_authority(tmp_path / "key.pem")
    assert authority.certificate.public_key() == key.private.public_key()


def test_a_certificate_of_another_key_is_refused(tmp_path: Path) -> None:
    load_or_make_authority(tmp_path / "a.pem")
    with pytest.raises(KeyFileError, match="belongs to another key"):
        load_or_make_authority(tmp_path / "b.pem")


@pytest.mark.parametrize("pem", [b"", b"hello", b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"])
def test_a_text_that_is_no_certificate_is_refused(pem: bytes) -> None:
    with pytest.raises(KeyFileError, match="no PEM text of a certificate"):
        load_certificate(pem)


def test_a_sealed_key_opens_with_its_secret_for_its_owner_only() -> None:
    sealed = seal(KEY, "slack-water-at-dusk", "person:ines")
    assert open_sealed(sealed, "slack-water-at-dusk", "person:ines").private_numbers() == KEY.private_numbers()
    assert seal(KEY, "slack-water-at-dusk", "person:ines") != sealed
    for secret, owner in (("slack-water-at-dawn", "person:ines"), ("slack-water-at-dusk", "person:tor"), ("", "")):
        with pytest.raises(SealedKeyError):
            open_sealed(sealed, secret, owner)


@pytest.mark.parametrize("place", [0, 1, 20, 40, -1])
def test_a_changed_sealed_key_does_not_open(place: int) -> None:
    changed = bytearray(seal(KEY, "slack-water-at-dusk", "person:ines"))
    changed[place] ^= 1
    for damaged in (bytes(changed), bytes(changed)[:20], b""):
        with pytest.raises(SealedKeyError):
            open_sealed(damaged, "slack-water-at-dusk", "person:ines")
