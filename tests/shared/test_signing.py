"""The installation's key, checked with OpenSSL where it is installed."""

from __future__ import annotations

import base64
import hashlib
import shutil
import stat
import subprocess
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519

from shared.signing import KeyFileError, SigningKey, key_id_of, load_key, load_or_make_key, verify

needs_openssl = pytest.mark.skipif(shutil.which("openssl") is None, reason="OpenSSL's command is not installed")
DATA = b"manifold pressure 8 bar gauge, agreed by both"


@pytest.fixture
def key(tmp_path: Path) -> SigningKey:
    return load_or_make_key(tmp_path / "keys" / "signing.pem")


def test_the_key_file_is_its_owners_alone_and_stays(tmp_path: Path) -> None:
    path = tmp_path / "signing.pem"
    first = load_or_make_key(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert load_or_make_key(path).key_id() == first.key_id() == load_key(path).key_id()
    assert [file.name for file in tmp_path.iterdir()] == ["signing.pem"]


def test_a_signature_holds_for_its_data_and_key_only(key: SigningKey, tmp_path: Path) -> None:
    signature = key.sign(DATA)
    other = load_or_make_key(tmp_path / "other.pem")
    assert verify(key.public_key_pem(), DATA, signature)
    assert not verify(key.public_key_pem(), DATA + b" ", signature)
    assert not verify(other.public_key_pem(), DATA, signature)


def test_no_changed_byte_of_a_signature_passes(key: SigningKey) -> None:
    signature = base64.b64decode(key.sign(DATA))
    for place in range(len(signature)):
        changed = bytearray(signature)
        changed[place] ^= 1
        assert not verify(key.public_key_pem(), DATA, base64.b64encode(changed).decode("ascii"))


@pytest.mark.parametrize("signature", ["", "not base64!", "AAAA", "é"])
def test_a_damaged_signature_is_simply_false(key: SigningKey, signature: str) -> None:
    assert not verify(key.public_key_pem(), DATA, signature)


def test_a_file_that_is_no_p256_key_is_named(tmp_path: Path) -> None:
    path = tmp_path / "signing.pem"
    with pytest.raises(KeyFileError, match=r"no signing key at .*signing\.pem; run “manage.py up”"):
        load_key(path)
    path.write_text("rubbish", encoding="ascii")
    with pytest.raises(KeyFileError, match="can't be read"):
        load_key(path)
    for other in (ed25519.Ed25519PrivateKey.generate(), ec.generate_private_key(ec.SECP384R1())):
        path.write_bytes(_private_pem(other))
        with pytest.raises(KeyFileError, match="on P-256"):
            load_key(path)


@pytest.mark.parametrize("pem", ["", "rubbish"])
def test_a_text_that_is_no_public_key_is_refused(pem: str) -> None:
    with pytest.raises(KeyFileError, match="no PEM text"):
        verify(pem, DATA, "AAAA")


def test_a_public_key_of_another_kind_is_refused() -> None:
    public = ed25519.Ed25519PrivateKey.generate().public_key()
    pem = public.public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
    with pytest.raises(KeyFileError, match="on P-256"):
        key_id_of(pem.decode("ascii"))


@needs_openssl
def test_openssl_verifies_what_was_signed_and_names_the_key_alike(key: SigningKey, tmp_path: Path) -> None:
    data, signature, public = tmp_path / "data", tmp_path / "data.sig", tmp_path / "public.pem"
    data.write_bytes(DATA)
    signature.write_bytes(base64.b64decode(key.sign(DATA)))
    public.write_text(key.public_key_pem(), encoding="ascii")
    check = ["openssl", "dgst", "-sha256", "-verify", str(public), "-signature", str(signature), str(data)]
    assert subprocess.run(check, capture_output=True, text=True, check=True).stdout.strip() == "Verified OK"
    der = ["openssl", "pkey", "-pubin", "-in", str(public), "-outform", "DER"]
    assert hashlib.sha256(subprocess.run(der, capture_output=True, check=True).stdout).hexdigest() == key.key_id()


def _private_pem(private: ed25519.Ed25519PrivateKey | ec.EllipticCurvePrivateKey) -> bytes:
    return private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
