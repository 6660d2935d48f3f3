"""``manage.py stay FILE``: work out a whole discharge without a database."""

from __future__ import annotations

import sys
from pathlib import Path

from django.core.management.base import BaseCommand, CommandParser

from compat.management.commands.assess import INPUT_ERROR, as_json
from compat.stay.file import KIND, check_stay, stay_schema
from compat.stay.loading import FORMAT as LOADING_FORMAT
from compat.stay.loading import answer_loading, check_loading, loading_report, loading_schema
from compat.stay.report import stay_report
from compat.stay.variants import answer_with_variants, document_with_variants
from shared.calc.errors import InputError
from shared.reading import DocumentError, read_object

NOT_SETTLED = 3


class Command(BaseCommand):
    """Print a stay as text or JSON; exit 2 on an input error, 3 where it can't be settled."""

    help = (
        "Work out a stay file: hours by stage, what gauges should read each hour, water, problems with their hour."
        f" Exit status: 0 planned, {INPUT_ERROR} input error, {NOT_SETTLED} not to be settled."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, or the wish for its schema."""
        parser.add_argument("file", type=Path, nargs="?", help="the stay file or loading file (JSON)")
        parser.add_argument("--json", action="store_true", help="print the stay as JSON")
        parser.add_argument(
            "--schema",
            nargs="?",
            const="stay",
            choices=["stay", "loading"],
            help="print the JSON Schema of the stay file instead, or of the loading file",
        )

    def handle(self, *, file: Path | None, json: bool, schema: str | None, **_: object) -> None:
        """Read, work out, print."""
        if schema:
            self.stdout.write(as_json(loading_schema() if schema == "loading" else stay_schema()), ending="")
            return
        if file is None:
            self.stderr.write("Name a stay file, or ask for --schema.")
            sys.exit(INPUT_ERROR)
        try:
            document = read_object(file, KIND)
            if document.get("format") == LOADING_FORMAT:
                loading = answer_loading(check_loading(document, file.name))
                text, settled = as_json(loading.document()) if json else loading_report(loading), not loading.problems
            elif json:
                whole = document_with_variants(check_stay(document, file.name))
                text, settled = as_json(whole), not whole["problems"]
            else:
                answer, variants = answer_with_variants(check_stay(document, file.name))
                text, settled = stay_report(answer, variants), not answer.problems
        except DocumentError as error:
            self.stderr.write("\n".join(error.problems))
            sys.exit(INPUT_ERROR)
        except InputError as error:
            self.stderr.write(f"{file.name}: {error}")
            sys.exit(INPUT_ERROR)
        self.stdout.write(text, ending="")
        if not settled:
            sys.exit(NOT_SETTLED)
