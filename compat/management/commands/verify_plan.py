"""Verify a plan or a transfer record, with the authority's certificate: no database and no server is needed."""

from __future__ import annotations

import logging
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from cryptography import x509
from django.core.management.base import BaseCommand
from django.db import DatabaseError

from compat.accord.earlier_files import is_earlier_file, verify_earlier
from compat.accord.pdf_verifying import verify_pdf
from compat.accord.plan_file import LARGEST_FILE_BYTES
from compat.accord.verdict import Verdict
from compat.accord.verifying import verify_data
from shared.authority import load_certificate
from shared.calc.errors import InputError

HOLDS, DOES_NOT_HOLD, INPUT_ERROR = 0, 1, 2


class Command(BaseCommand):
    """Tell in sentences who signed a plan or a record, who is missing, what was changed, and what the trail holds."""

    help = (
        "Verify a plan or a transfer record (PDF, or data file with its signatures beside it) with the certificate of"
        " the installation that issued it. Exit status: 0 both sides signed exactly these bytes, 1 they did not,"
        " 2 a file can't be read."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the plan, the certificate, and whether to ask this installation's trail too."""
        parser.add_argument("file", type=Path, help="a PDF, or plan.json or record.json with its .p7s beside it")
        parser.add_argument(
            "--authority", type=Path, required=True, help="the issuing installation's certificate (PEM), as published"
        )
        parser.add_argument("--signatures", type=Path, help="the signatures of a data file, if not FILE.p7s")
        parser.add_argument(
            "--trail", action="store_true", help="also ask the database of this installation what it holds of it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Verify and end with the exit status that says the outcome."""
        logging.getLogger("pyhanko").setLevel(logging.CRITICAL)  # what it would log is told in sentences
        sys.exit(self._status(options))

    def _status(self, options: dict[str, Any]) -> int:
        try:
            authority = load_certificate(_read(options["authority"]))
            data = _read(options["file"])
            verdict = _verdict(data, options, authority)
            held = _ask_trail(verdict, data) if options["trail"] else []
        except InputError as error:
            self.stderr.write(str(error))
            return INPUT_ERROR
        for sentence in [*verdict.sentences(), *(sentence for _, sentence in held)]:
            self.stdout.write(sentence)
        word = verdict.file.kind.word if verdict.file else "plan"
        if verdict.holds and all(good for good, _ in held):
            self.stdout.write(f"Both signatures hold: no byte of this {word} was changed since it was signed.")
            return HOLDS
        self.stdout.write(f"This {word} does not hold.")
        return DOES_NOT_HOLD


def _verdict(data: bytes, options: dict[str, Any], authority: x509.Certificate) -> Verdict:
    if data.startswith(b"%PDF-"):
        return verify_pdf(data, authority)
    if is_earlier_file(data):
        return verify_earlier(data, authority)
    path: Path = options["file"]
    return verify_data(data, _read(options["signatures"] or path.with_name(f"{path.name}.p7s")), authority)


def _ask_trail(verdict: Verdict, data: bytes) -> list[tuple[bool, str]]:
    """Ask the database only when it is wanted: everything else runs without one."""
    from compat.accord.plan_evidence import held_of  # noqa: PLC0415

    try:
        return list(held_of(verdict, data))
    except DatabaseError as error:
        raise InputError(f"The database of this installation can't be read: {error}.") from error


def _read(path: Path) -> bytes:
    """Return a file's bytes, one more than the largest data file at most; raise InputError with a sentence."""
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path} can't be read: {error.strerror}.") from error
