"""An assessment as a person may see it, and variants of it that are worked out while they are moved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from compat.assessing.models import Assessment
from compat.assessing.queries import assessments_seen_by
from compat.assessing.variant_forms import VariantForm, variant_form
from compat.case.case_file import CaseError, CaseFile
from compat.case.composing import compose_case, setting_of
from compat.case.withholding import without_line_data
from compat.surge.limiting import held_within_surge
from shared.http import get_or_404
from shared.models import Person
from shared.permissions import NotAllowedError
from terminals.facts import BerthFacts
from terminals.queries import sees_line_data


@dataclass(frozen=True)
class Stored:
    """One assessment, read once, for one person; ``berth`` states all the arms that could be connected."""

    row: Assessment
    person: Person
    case: CaseFile
    berth: BerthFacts
    line_shown: bool

    @property
    def answer(self) -> Mapping[str, Any]:
        """Return the stored answer as the person may see it."""
        return self.seen(self.row.answer)

    def seen(self, answer: Mapping[str, Any]) -> Mapping[str, Any]:
        """Return an answer without the shore line, where the terminal keeps that to itself."""
        return answer if self.line_shown else without_line_data(answer)

    def check_line_shown(self, consequence: str) -> None:
        """Raise NotAllowedError with the consequence, where the terminal keeps its shore line to itself."""
        if not self.line_shown:
            keeper = self.row.berth_revision.berth.terminal.organisation
            raise NotAllowedError(f"{keeper} keeps the data of this berth's shore line to itself, so {consequence}.")

    def form(self, sent: Any = None) -> VariantForm:
        """Return the form that moves this assessment."""
        return variant_form(self.case.ship, self.berth, setting_of(self.case, self.berth), self.person, sent)


@dataclass(frozen=True)
class Variant:
    """What is shown of an assessment: the stored case and answer, or moved ones; ``problems`` say why not."""

    case: CaseFile
    answer: Mapping[str, Any]
    form: VariantForm
    moved: bool = False
    problems: tuple[str, ...] = ()

    @property
    def query(self) -> str:
        """Return the part of an address that asks for the same again, with its question mark."""
        return f"?{urlencode(self.form.sent)}" if self.moved else ""


def seen_answer(person: Person, row: Assessment) -> Mapping[str, Any]:
    """Return the stored answer of an assessment as the person may see it."""
    answer: Mapping[str, Any] = row.answer
    return answer if sees_line_data(person, row.berth_revision.berth) else without_line_data(answer)


def stored_for(person: Person, public_id: UUID) -> Stored:
    """Return an assessment that the person may see; for anyone else it does not exist (404)."""
    row = get_or_404(assessments_seen_by(person), public_id=public_id)
    line_shown = sees_line_data(person, row.berth_revision.berth)
    return Stored(row, person, row.case_file(), row.berth_revision.berth_facts(), line_shown)


def variant_of(stored: Stored, sent: Mapping[str, str]) -> Variant:
    """Return the variant that an address asks for, or the stored answer with the reasons why there is none."""
    form = stored.form(sent if "arm_0" in sent else None)
    unmoved = Variant(stored.case, stored.answer, form)
    if not form.is_bound:
        return unmoved
    problems = [str(text) for texts in form.errors.values() for text in texts]
    if not problems:
        try:
            case = compose_case(stored.case.ship, stored.berth, form.setting())
            return Variant(case, stored.seen(held_within_surge(case).answer.document()), form, moved=True)
        except CaseError as error:
            problems = error.problems
            form.place_problems(problems)
    return Variant(stored.case, stored.answer, form, problems=tuple(problems))
