"""Verifying a plan: who signed, who is missing, and that no byte of data file, signatures or PDF changes unseen.

OpenSSL and poppler's pdfsig verify the same files; both are programs of others.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from pyhanko.pdf_utils.generic import NumberObject, pdf_name
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

from compat.accord.checklist.item import Side
from compat.accord.cms_signature import merged
from compat.accord.pdf_making import Mark
from compat.accord.pdf_signature import FIELD_NAMES
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.plan_file import PlanFileError, read_plan
from compat.accord.plan_pdf import marked_pdf
from compat.accord.verdict import Verdict
from compat.accord.verifying import verify_data
from shared.authority import PERSON_YEARS
from shared.canonical import canonical_bytes
from tests.compat.accord.plan_builders import (
    AUTHORITY,
    ORGANISATIONS,
    PREPARED,
    data_file,
    new_authority,
    person_signer,
    signatures,
    signed_pdf,
    whole,
    whole_pdf,
)

DATA, SIGNED = whole()
CERTIFICATE = AUTHORITY.certificate
BOTH = (Side.SHIP, Side.TERMINAL)


def only(sentences: tuple[str, ...], part: str) -> bool:
    return len(sentences) == 1 and part in sentences[0]


def flipped(data: bytes, place: int, bit: int) -> bytes:
    changed = bytearray(data)
    changed[place] ^= 1 << bit
    return bytes(changed)


@pytest.mark.parametrize("verdict", [verify_data(DATA, SIGNED, CERTIFICATE), verify_pdf(whole_pdf(), CERTIFICATE)])
def test_a_whole_plan_holds_and_says_who_signed(verdict: Verdict) -> None:
    assert verdict.holds, verdict.sentences()
    assert (verdict.missing, verdict.problems) == ((), ())
    assert [(one.side, one.person, one.organisation) for one in verdict.signatures] == [
        (Side.SHIP, "Ines Marlowe", "Halvard Tankers"),
        (Side.TERMINAL, "Tor Askeland", "Sandvik Oil"),
    ]
    assert "Signed for the ship by Ines Marlowe, Chief officer, Halvard Tankers, at 2031-04-14T06:50:00Z." in (
        verdict.sentences()
    )


@pytest.mark.parametrize("side", BOTH)
def test_one_missing_signature_does_not_hold_and_is_named(side: Side) -> None:
    pdf = signed_pdf(read_plan(DATA), person_signer(side))
    for verdict in (
        verify_data(DATA, signatures(DATA, person_signer(side)), CERTIFICATE),
        verify_pdf(pdf, CERTIFICATE),
    ):
        assert not verdict.holds
        assert (verdict.missing, verdict.problems) == ((side.other,), ())
        assert f"No valid signature for the {side.other}." in verdict.sentences()


def test_the_second_signature_leaves_the_bytes_of_the_first() -> None:
    first = signed_pdf(read_plan(DATA), person_signer(Side.TERMINAL))
    assert verify_pdf(first, CERTIFICATE).missing == (Side.SHIP,)
    both = signed_pdf(read_plan(DATA), person_signer(Side.TERMINAL), person_signer(Side.SHIP))
    assert verify_pdf(both, CERTIFICATE).holds


def test_another_authority_than_the_one_given_does_not_hold() -> None:
    other = new_authority().certificate
    for verdict in (verify_data(DATA, SIGNED, other), verify_pdf(whole_pdf(), other)):
        assert verdict.missing == BOTH
        assert all("not made with a key that the given authority certified" in one for one in verdict.problems)


def test_a_certificate_that_ran_out_since_still_verifies_and_one_that_had_run_out_does_not() -> None:
    long_before = PREPARED - timedelta(days=366 * PERSON_YEARS)
    early = person_signer(Side.SHIP, now=long_before)
    verdict = verify_data(DATA, signatures(DATA, early, person_signer(Side.TERMINAL)), CERTIFICATE)
    assert verdict.missing == (Side.SHIP,)
    assert only(verdict.problems, "certified for that time")


def test_a_changed_value_under_unchanged_signatures_does_not_hold() -> None:
    changed = json.loads(DATA)
    changed["values"][0]["value"] = "9"
    verdict = verify_data(canonical_bytes(changed), SIGNED, CERTIFICATE)
    assert verdict.missing == BOTH
    assert all("was made over other bytes than these" in problem for problem in verdict.problems)


def test_a_person_of_another_organisation_does_not_sign_for_a_side() -> None:
    signer = person_signer(Side.SHIP, organisation="Elsewhere Shipping")
    verdict = verify_data(DATA, signatures(DATA, signer, person_signer(Side.TERMINAL)), CERTIFICATE)
    assert only(verdict.problems, "is for Elsewhere Shipping, which is not the plan's ship party")


def test_one_side_can_not_sign_for_both() -> None:
    twice = signatures(DATA, person_signer(Side.SHIP), person_signer(Side.SHIP, as_side=Side.TERMINAL))
    verdict = verify_data(DATA, twice, CERTIFICATE)
    assert only(verdict.problems, f"is for {ORGANISATIONS[Side.SHIP]}, which is not the plan's terminal party")


def test_two_signatures_for_one_side_are_a_problem() -> None:
    three = signatures(DATA, *(person_signer(side) for side in (Side.SHIP, Side.SHIP, Side.TERMINAL)))
    assert verify_data(DATA, three, CERTIFICATE).file_problems == ("There are two signatures for the ship.",)


def test_a_plan_signed_before_it_was_prepared_does_not_hold() -> None:
    later = data_file(prepared_at=PREPARED + timedelta(days=1))
    verdict = verify_data(later, signatures(later, *(person_signer(side) for side in BOTH)), CERTIFICATE)
    assert all("before the plan was prepared" in problem for problem in verdict.problems)
    assert verdict.missing == BOTH


@pytest.mark.parametrize("place", random.Random(1).sample(range(len(DATA)), 40))  # noqa: S311 - the same each time
def test_no_flipped_bit_of_the_data_file_passes(place: int) -> None:
    verdict = verify_data(flipped(DATA, place, place % 8), SIGNED, CERTIFICATE)
    assert not verdict.holds
    assert verdict.problems


def test_no_flipped_bit_of_the_signatures_passes() -> None:
    chooser = random.Random(2)  # noqa: S311 - the same places each time
    names = range(SIGNED.rindex(b"Berth Accord installation") - 60, SIGNED.rindex(b"Berth Accord installation") + 60)
    for place in [*chooser.sample(range(len(SIGNED)), 40), *names[::4]]:
        # Bit 5 changes the case of a letter, which names of certificates are compared without.
        assert not verify_data(DATA, flipped(SIGNED, place, 5), CERTIFICATE).holds, place


def test_no_flipped_bit_of_the_pdf_passes() -> None:
    pdf, chooser = whole_pdf(), random.Random(3)  # noqa: S311 - the same places each time
    contents = [place for place in range(len(pdf)) if pdf.startswith(b"/Contents <", place)]
    assert len(contents) == 2
    inside = [chooser.randrange(start + 10, start + 3000) for start in contents for _ in range(15)]
    for place in [*chooser.sample(range(len(pdf)), 25), *inside]:
        verdict = verify_pdf(flipped(pdf, place, chooser.randrange(8)), CERTIFICATE)
        assert not verdict.holds, place
        assert verdict.problems or verdict.missing


def appended(pdf: bytes) -> bytes:
    """Return the PDF with a revision after both signatures that changes a page and its catalog."""
    import io  # noqa: PLC0415

    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    page = writer.root["/Pages"]["/Kids"][0]
    page[pdf_name("/Rotate")] = NumberObject(0)
    writer.update_container(page)
    held = io.BytesIO()
    writer.write(held)
    return held.getvalue()


def test_a_revision_after_the_signatures_does_not_hold() -> None:
    verdict = verify_pdf(appended(whole_pdf()), CERTIFICATE)
    assert not verdict.holds
    assert any("added to the PDF after" in problem for problem in verdict.problems)


def test_bytes_at_the_end_of_the_pdf_do_not_hold() -> None:
    verdict = verify_pdf(whole_pdf() + b"\n% and more\n", CERTIFICATE)
    assert not verdict.holds
    assert any("Bytes were added" in problem or "can't be read" in problem for problem in verdict.problems)


def test_a_marked_copy_is_verified_by_the_signed_plan_in_it() -> None:
    copy = marked_pdf(read_plan(DATA), Mark("SUPERSEDED", "Plan 2 took its place."), whole_pdf())
    verdict = verify_pdf(copy, CERTIFICATE)
    assert verdict.holds, verdict.sentences()
    assert "marked copy" in verdict.sentences()[-1]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "not whole JSON"),
        (b"\x00\xff" * 100, "not whole JSON"),
        (DATA[:-1], "not whole JSON"),
        (b"[]", "holds no JSON object"),
        (b"[" * 100_000, "not whole JSON"),
        (DATA + b"\n", "not in canonical form"),
        (b'{"type":1.5}', "no canonical form"),
        (b'{"type":"letter"}', "of type 'letter', not 'berth-accord-plan'"),
        (canonical_bytes({**json.loads(DATA), "schema_version": "2.0"}), "of version 2.0; this program reads"),
        (canonical_bytes({**json.loads(DATA), "schema_version": 1}), "states no version that can be read: 1"),
    ],
)
def test_a_damaged_data_file_is_refused_in_one_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(PlanFileError, match=sentence):
        read_plan(data)
    verdict = verify_data(data, SIGNED, CERTIFICATE)
    assert (verdict.file, verdict.missing) == (None, BOTH)
    assert only(verdict.problems, sentence)


def test_a_file_that_is_too_large_is_refused_before_it_is_parsed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compat.accord.plan_file.LARGEST_FILE_BYTES", 1000)
    with pytest.raises(PlanFileError, match="a data file has at most 1,000"):
        read_plan(DATA)


def test_a_later_minor_version_is_read_and_what_it_adds_is_kept() -> None:
    later = canonical_bytes({**json.loads(DATA), "schema_version": "1.9", "tide_table": ["06:12"]})
    assert read_plan(later).payload["tide_table"] == ["06:12"]


@pytest.mark.parametrize("data", [b"", b"hello", SIGNED[:-1], SIGNED + b"\0", b"\x30\x80" + SIGNED])
def test_damaged_signatures_are_refused_in_one_sentence(data: bytes) -> None:
    assert len(verify_data(DATA, data, CERTIFICATE).problems) == 1


@pytest.mark.parametrize("data", [b"%PDF-1.7\n", whole_pdf()[:5000], whole_pdf()[:-2000], b""])
def test_a_damaged_pdf_is_a_verdict_and_no_failure(data: bytes) -> None:
    verdict = verify_pdf(data, CERTIFICATE)
    assert not verdict.holds
    assert verdict.problems or verdict.missing


# What others say of the same files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "plan.json").write_bytes(DATA)
    (tmp_path / "plan.json.p7s").write_bytes(SIGNED)
    (tmp_path / "plan.pdf").write_bytes(whole_pdf())
    pem = CERTIFICATE.public_bytes(serialization.Encoding.PEM)
    (tmp_path / "authority.pem").write_bytes(pem)
    return tmp_path


def ran(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    if shutil.which(command[0]) is None:
        pytest.skip(f"{command[0]} is not installed")
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


OPENSSL = (
    *("openssl", "cms", "-verify", "-binary", "-inform", "DER", "-in", "plan.json.p7s", "-content", "plan.json"),
    *("-CAfile", "authority.pem", "-purpose", "any", "-signer", "signers.pem", "-out", "verified.json"),
    *("-attime", str(int((PREPARED + timedelta(days=1)).timestamp()))),
)


def test_openssl_alone_verifies_the_data_file_and_names_the_signers(folder: Path) -> None:
    ended = ran(folder, *OPENSSL)
    assert (ended.returncode, "CMS Verification successful" in ended.stderr) == (0, True), ended.stderr
    assert (folder / "verified.json").read_bytes() == DATA
    told = ran(folder, "openssl", "storeutl", "-noout", "-text", "-certs", "signers.pem").stdout
    assert "CN=Ines Marlowe" in told.replace("CN = ", "CN=")
    assert "CN=Tor Askeland" in told.replace("CN = ", "CN=")


def test_openssl_alone_refuses_a_changed_data_file_and_another_authority(folder: Path) -> None:
    (folder / "plan.json").write_bytes(flipped(DATA, 5000, 0))
    assert ran(folder, *OPENSSL).returncode != 0
    (folder / "plan.json").write_bytes(DATA)
    other = new_authority().pem()
    (folder / "authority.pem").write_text(other, encoding="ascii")
    assert ran(folder, *OPENSSL).returncode != 0


def test_pdfsig_finds_both_signatures_valid_and_the_whole_document_signed(folder: Path) -> None:
    told = ran(folder, "pdfsig", "plan.pdf").stdout
    assert told.count("Signature Validation: Signature is Valid.") == 2
    assert told.count("- Total document signed") == 1
    assert all(f"Signature Field Name: {name}" in told for name in FIELD_NAMES.values())


def test_pdfsig_notices_a_changed_byte_and_what_was_added(folder: Path) -> None:
    (folder / "plan.pdf").write_bytes(appended(whole_pdf()))
    assert "- Total document signed" not in ran(folder, "pdfsig", "plan.pdf").stdout
    page = whole_pdf().index(b"stream\n") + 500
    (folder / "plan.pdf").write_bytes(flipped(whole_pdf(), page, 0))
    assert "Signature is Valid" not in ran(folder, "pdfsig", "plan.pdf").stdout


def test_merging_keeps_each_signature_as_it_was() -> None:
    one, other = (signatures(DATA, person_signer(side)) for side in BOTH)
    assert merged([one]) == one
    assert verify_data(DATA, merged([other, one]), CERTIFICATE).holds


def test_what_verifies_a_plan_says_nothing_secret() -> None:
    secrets: tuple[Any, ...] = (b"PRIVATE", AUTHORITY.key.private.private_numbers().private_value.to_bytes(32, "big"))
    assert not any(secret in data for secret in secrets for data in (DATA, SIGNED, whole_pdf()))
