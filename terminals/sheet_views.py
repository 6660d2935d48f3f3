"""The questionnaire of a terminal's berths as spreadsheets: blank, filled, and taken back."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import cast
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from shared.http import get_or_404, person_of
from shared.models import Person
from shared.permissions import check_acts_for
from shared.sheet_pages import KINDS, Questionnaire, questionnaire_file, sheet_import
from shared.sheets.answers import Answered
from shared.sheets.layout import Layout, layout_of
from terminals import actions
from terminals.facts import BerthFacts
from terminals.models import BerthRevision, Terminal
from terminals.queries import own_terminals


@cache
def berth_layout() -> Layout:
    """Return the questionnaire of berths; terminal and port are the terminal's own."""
    return layout_of(BerthFacts, "Berths", "Berth", skip=("terminal", "port"))


@require_http_methods(["GET", "POST"])
def berths_import(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take berths of a terminal from a questionnaire, after showing what it changes."""
    person = person_of(request)
    terminal = get_or_404(own_terminals(person), public_id=public_id)
    check_acts_for(person, terminal.organisation)
    return sheet_import(request, _questionnaire(person, terminal))


@require_GET
def berths_questionnaire(request: HttpRequest, public_id: UUID, kind: str, filled: str) -> HttpResponse:
    """Send the questionnaire of berths, blank or filled with those of the terminal."""
    person = person_of(request)
    terminal = get_or_404(own_terminals(person), public_id=public_id)
    if kind not in KINDS or filled not in {"blank", "filled"}:
        raise Http404("There is no such questionnaire.")
    return questionnaire_file(_questionnaire(person, terminal), kind, filled=filled == "filled")


def _questionnaire(person: Person, terminal: Terminal) -> Questionnaire:
    stated = _stated(terminal)

    def save(answered: Sequence[Answered], note: str) -> int:
        return actions.import_berths(
            by=person,
            now=timezone.now(),
            terminal=terminal,
            berths=[(cast("BerthFacts", one.facts), cast("BerthFacts | None", one.before)) for one in answered],
            note=note,
        )

    def address(kind: str, filled: str) -> str:
        return reverse("berth-questionnaire", args=[terminal.public_id, filled, kind])

    return Questionnaire(
        layout=berth_layout(),
        purpose=f"berths:{terminal.public_id}",
        known={facts.name.casefold(): facts for facts in stated},
        stated=stated,
        save=save,
        questions=_no_questions,
        done=reverse("terminal", args=[terminal.public_id]),
        address=reverse("berth-import", args=[terminal.public_id]),
        context={
            "heading": "Berths from a questionnaire",
            "subject": terminal,
            "lead": "It takes the data of several berths at once; a berth is known by its name.",
            "blank_xlsx": address("xlsx", "blank"),
            "filled_xlsx": address("xlsx", "filled"),
            "blank_csv": address("csv", "blank"),
            "filled_csv": address("csv", "filled"),
        },
    )


def _no_questions(facts: BerthFacts) -> tuple[str, ...]:  # noqa: ARG001 - nothing is asked about a berth
    return ()


def _stated(terminal: Terminal) -> list[BerthFacts]:
    """Return the newest facts of every berth on the terminal's list."""
    berths = terminal.berths.filter(archived=False).order_by("name", "pk").values_list("pk", flat=True)
    newest = {row.berth_id: row for row in BerthRevision.objects.filter(berth__in=berths).order_by("number")}
    return [newest[key].berth_facts() for key in berths if key in newest]
