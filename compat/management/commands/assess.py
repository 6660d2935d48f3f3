"""``manage.py assess FILE``: answer a case file without a database."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from compat.case.answer import answer_case
from compat.case.answer_parts import Answer
from compat.case.case_file import KIND, CaseFile, check_case
from compat.case.grades import FORMAT as GRADES_FORMAT
from compat.case.grades import GradesFile, answer_grades, check_grades
from compat.case.grades_report import grades_report
from compat.case.least_power import ways_to_make
from compat.case.report import report
from compat.case.sampling import SAMPLES, SEED, spread_of
from compat.case.steps import Step, steps_of
from compat.surge.answering import SurgeAnswer, surge_of
from compat.surge.asking import stated_valves
from compat.surge.found import Found
from compat.surge.limiting import answer_within_surge, times_within, with_times
from compat.surge.report import surge_report
from compat.surge.steps import steps_within_surge
from shared.calc.errors import InputError
from shared.reading import DocumentError, read_object

INPUT_ERROR, NO_OPERATING_POINT = 2, 3
_LEFT_OUT = """
Pressure surge is left out here. Where walls and valves are stated, --surge works it out: that takes seconds, and the
rate is lowered where a closing time asks for it.
"""
_SEARCH_PART = 0.8  # of the time that surge takes, the searches use about this much


class Command(BaseCommand):
    """Print the answer as text or JSON; exit 2 on an input error, 3 where there is no operating point."""

    help = (
        "Answer one case file: rate, speeds, gauge readings, every limit and the one that binds."
        f" Exit status: 0 answered, {INPUT_ERROR} input error, {NO_OPERATING_POINT} no operating point."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Take the file, and whether JSON is wanted."""
        parser.add_argument("file", type=Path, help="the case file (JSON); manage.py case_schema describes it")
        parser.add_argument("--json", action="store_true", help="print the answer as JSON")
        parser.add_argument("--samples", type=int, default=SAMPLES, help="samples over the case's tolerances")
        parser.add_argument("--surge", action="store_true", help="work out pressure surge too, which takes seconds")
        parser.add_argument("--seed", type=int, default=SEED, help="seed of the samples: same seed, same answer")

    def handle(self, *, file: Path, json: bool, samples: int, seed: int, surge: bool, **_: object) -> None:
        """Read, answer, print."""
        try:
            document = read_object(file, KIND)
            if document.get("format") == GRADES_FORMAT:
                outcome = self._grades(check_grades(document, file.name), as_text=not json)
            else:
                outcome = self._case(check_case(document, file.name), samples, seed, as_text=not json, surge=surge)
        except DocumentError as error:
            self.stderr.write("\n".join(error.problems))
            sys.exit(INPUT_ERROR)
        except InputError as error:
            self.stderr.write(f"{file.name}: {error}")
            sys.exit(INPUT_ERROR)
        if outcome == "no operating point":
            sys.exit(NO_OPERATING_POINT)

    def _case(self, case: CaseFile, samples: int, seed: int, *, as_text: bool, surge: bool) -> str:
        answer, worked, found, steps = self._answered(case, surge=surge)
        spread = spread_of(worked, samples, seed)
        ways = ways_to_make(worked, answer)
        if as_text:
            text = report(answer, steps, spread, ways) + (f"\n{surge_report(found)}" if found else _LEFT_OUT)
            self.stdout.write(text, ending="")
        else:
            more: dict[str, Any] = {
                "steps": [asdict(step) for step in steps],
                "spread": asdict(spread) if spread else None,
                "ways": asdict(ways),
            }
            more["surge"] = found.document() if found else None
            self.stdout.write(as_json(answer.document() | more), ending="")
        return answer.outcome

    def _answered(
        self, case: CaseFile, *, surge: bool
    ) -> tuple[Answer, CaseFile, SurgeAnswer | None, tuple[Step, ...]]:
        """Return the answer, the case with the limits that it was held to, its surge, and what each step would buy.

        A person who waits at a terminal is told how far it is.
        """
        if not surge:
            answer = answer_case(case)
            return answer, case, None, steps_of(case, answer)
        watched = sys.stderr.isatty()

        def tell(part: float) -> None:
            if watched:
                self.stderr.write(f"\rsurge: {part:.0%}", ending="\n" if part >= 1.0 else "")

        asked = Found(valves=len(stated_valves(case)), tell=lambda part: tell(_SEARCH_PART * part))
        within = answer_within_surge(case, asked)
        times = times_within(within, asked)
        found = surge_of(within, times, lambda part: tell(_SEARCH_PART + (1.0 - _SEARCH_PART) * part))
        return with_times(within, times), within.case, found, steps_within_surge(within)

    def _grades(self, grades: GradesFile, *, as_text: bool) -> str:
        found = answer_grades(grades)
        self.stdout.write(grades_report(found) if as_text else as_json(found.document()), ending="")
        outcomes = [answer.outcome for answer in found.answers]
        return "no operating point" if "no operating point" in outcomes else outcomes[0]


def as_json(document: dict[str, object]) -> str:
    """Return a document as indented JSON text with a line end."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
