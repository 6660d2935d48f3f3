"""Time stamps (RFC 3161): asked for over HTTP where the installation names a service, told when a plan is verified."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import Any

import pytest
from asn1crypto import keys as asn1_keys
from asn1crypto import tsp
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from pyhanko.sign.timestamps.dummy_client import DummyTimeStamper

from compat.accord.keys import authority
from compat.accord.models import Accord, Signature
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.states import State
from compat.accord.time_stamps import TimeStampError
from compat.accord.verifying import verify_data
from shared.models import Person, TrailRow
from tests.builders import NOW
from tests.compat.accord.building import bring_to, sign

STAMPED_AT = NOW.astimezone(UTC) + timedelta(seconds=7)


def service() -> DummyTimeStamper:
    """Return a time-stamping service of an invented name, with a certificate made for it."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Merrow Harbour Clock")])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(datetime(2025, 1, 1, tzinfo=UTC))
        .not_valid_after(datetime(2045, 1, 1, tzinfo=UTC))
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        .sign(key, hashes.SHA256())
    )
    der = key.private_bytes(serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    return DummyTimeStamper(
        asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
        asn1_keys.PrivateKeyInfo.load(der),
        fixed_dt=STAMPED_AT,
    )


@contextmanager
def served(answer: bytes | None = None, *, of: bytes | None = None) -> Iterator[str]:
    """Serve time stamps on this machine, or always the same answer, or stamps ``of`` one digest; yield the address."""
    stamper = service()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            assert self.headers["Content-Type"] == "application/timestamp-query"
            query = tsp.TimeStampReq.load(self.rfile.read(int(self.headers["Content-Length"])))
            if of is not None:
                query["message_imprint"]["hashed_message"] = of
            body = stamper.request_tsa_response(query).dump() if answer is None else answer
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.fixture
def settled(ship_officer: Person, terminal_officer: Person) -> Accord:
    return bring_to(State.SETTLED, ship_officer, terminal_officer)


def test_each_signature_carries_the_stamp_of_the_named_service_and_the_verdict_tells_it(
    settled: Accord, ship_officer: Person, terminal_officer: Person, settings: Any, whole_plans: None
) -> None:
    with served() as settings.TIMESTAMP_URL:
        sign(settled, ship_officer)
        plan = sign(settled, terminal_officer).plan
    certificate = authority().certificate
    for verdict in (
        verify_pdf(bytes(plan.pdf), certificate),
        verify_data(bytes(plan.payload), bytes(plan.signatures), certificate),
    ):
        assert verdict.holds, verdict.sentences()
        assert len(verdict.signatures) == 2
        for one in verdict.signatures:
            assert one.time_stamp.startswith(f"Time stamp of {STAMPED_AT:%Y-%m-%dT%H:%M:%S}")
            assert "Merrow Harbour Clock" in one.time_stamp


def test_without_a_named_service_none_is_asked(settled: Accord, ship_officer: Person) -> None:
    signed = sign(settled, ship_officer).signature
    verdict = verify_data(bytes(settled.payload or b""), bytes(signed.cms), authority().certificate)
    assert [one.time_stamp for one in verdict.signatures] == [""]


REFUSAL = b"\x30\x05\x30\x03\x02\x01\x02"
"""A status of 2, rejection, and no stamp (RFC 3161, section 2.4.2)."""


@pytest.mark.parametrize("answer", [b"", b"busy", REFUSAL, REFUSAL[:-1], b"\x30\x03\x02\x01\x00"])
def test_a_service_that_gives_no_stamp_leaves_nothing_signed(
    answer: bytes, settled: Accord, ship_officer: Person, settings: Any
) -> None:
    with served(answer) as settings.TIMESTAMP_URL, pytest.raises(TimeStampError, match="nothing was signed"):
        sign(settled, ship_officer)
    assert not Signature.objects.exists()
    assert not TrailRow.objects.filter(act="plan signed").exists()


def test_a_service_that_refuses_is_quoted(settled: Accord, ship_officer: Person, settings: Any) -> None:
    with served(REFUSAL) as settings.TIMESTAMP_URL, pytest.raises(TimeStampError, match="it answered “rejection”"):
        sign(settled, ship_officer)


def test_a_stamp_of_something_else_is_refused(settled: Accord, ship_officer: Person, settings: Any) -> None:
    with served(of=b"\x00" * 32) as settings.TIMESTAMP_URL, pytest.raises(TimeStampError, match="another text"):
        sign(settled, ship_officer)
    assert not Signature.objects.exists()


def test_a_service_that_is_away_leaves_nothing_signed(settled: Accord, ship_officer: Person, settings: Any) -> None:
    with served() as address:
        settings.TIMESTAMP_URL = address
    with pytest.raises(TimeStampError, match="nothing was signed"):
        sign(settled, ship_officer)
    settled.refresh_from_db()
    assert settled.state == State.SETTLED
