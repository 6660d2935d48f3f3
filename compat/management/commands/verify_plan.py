"""Verify the data file of a plan with a published key: no database, no server."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from compat.accord.plan_file import LARGEST_FILE_BYTES
from compat.accord.verifying import verify
from shared.calc.errors import InputError

HOLDS, DOES_NOT_HOLD, INPUT_ERROR = 0, 1, 2


class Command(BaseCommand):
    """Tell in sentences who signed a plan, who is missing and what is wrong."""

    help = (
        "Verify a plan's data file with the public key of the installation that issued it."
        " Exit status: 0 both sides signed exactly these bytes, 1 they did not, 2 a file can't be read."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take the data file and the key."""
        parser.add_argument("file", type=Path, help="the plan's data file (attached to its PDF)")
        parser.add_argument(
            "--key", type=Path, required=True, help="public key as PEM, from where the installation publishes it"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Verify and end with the exit status that says the outcome."""
        sys.exit(self._status(options["file"], options["key"]))

    def _status(self, file: Path, key: Path) -> int:
        try:
            verdict = verify(_read(file), _read(key).decode("utf-8", errors="replace"))
        except InputError as error:
            self.stderr.write(str(error))
            return INPUT_ERROR
        for sentence in verdict.sentences():
            self.stdout.write(sentence)
        if verdict.holds:
            self.stdout.write("Both signatures hold: no byte of this plan was changed since it was signed.")
            return HOLDS
        self.stdout.write("This plan does not hold.")
        return DOES_NOT_HOLD


def _read(path: Path) -> bytes:
    """Return a file's bytes, one more than the largest data file at most; raise InputError with a sentence."""
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise InputError(f"{path} can't be read: {error.strerror}.") from error
