"""The questionnaire of ships as spreadsheets: blank, filled, and taken back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cache
from typing import cast

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from shared.http import person_of
from shared.models import Person
from shared.sheet_pages import KINDS, Questionnaire, questionnaire_file, sheet_import
from shared.sheets.answers import Answered
from shared.sheets.layout import Layout, layout_of
from vessels import actions
from vessels.facts import ShipFacts
from vessels.imo_number import check_imo_number
from vessels.models import VesselRevision
from vessels.plausible import size_questions
from vessels.queries import vessels_seen_by


@cache
def ship_layout() -> Layout:
    """Return the questionnaire of ships."""
    return layout_of(ShipFacts, "Ships", "Ship", checks={("imo_number",): check_imo_number})


@require_http_methods(["GET", "POST"])
def ships_import(request: HttpRequest) -> HttpResponse:
    """Take ships from a questionnaire, after showing what it changes."""
    person = person_of(request)
    actions.check_may_add(person)
    return sheet_import(request, _questionnaire(person))


@require_GET
def ships_questionnaire(request: HttpRequest, kind: str, filled: str) -> HttpResponse:
    """Send the questionnaire of ships, blank or filled with the fleet."""
    if kind not in KINDS or filled not in {"blank", "filled"}:
        raise Http404("There is no such questionnaire.")
    return questionnaire_file(_questionnaire(person_of(request)), kind, filled=filled == "filled")


def _questionnaire(person: Person) -> Questionnaire:
    stated = _stated(person)
    names = Counter(facts.name.casefold() for facts in stated)
    known = {facts.name.casefold(): facts for facts in stated if names[facts.name.casefold()] == 1}
    known |= {facts.imo_number: facts for facts in stated if facts.imo_number}

    def save(answered: Sequence[Answered], note: str) -> int:
        return actions.import_vessels(
            by=person,
            now=timezone.now(),
            ships=[(cast("ShipFacts", one.facts), cast("ShipFacts | None", one.before)) for one in answered],
            note=note,
        )

    def address(kind: str, filled: str) -> str:
        return reverse("vessel-questionnaire", args=[filled, kind])

    return Questionnaire(
        layout=ship_layout(),
        purpose="ships",
        known=known,
        stated=stated,
        save=save,
        questions=size_questions,
        done=reverse("vessel-list"),
        address=reverse("vessel-import"),
        context={
            "heading": "Ships from a questionnaire",
            "subject": "Ships",
            "lead": "It takes the data of many ships at once; a ship is known by her IMO number or her name.",
            "blank_xlsx": address("xlsx", "blank"),
            "filled_xlsx": address("xlsx", "filled"),
            "blank_csv": address("csv", "blank"),
            "filled_csv": address("csv", "filled"),
        },
    )


def _stated(person: Person) -> list[ShipFacts]:
    """Return the newest facts of every ship on the person's list."""
    vessels = vessels_seen_by(person).filter(archived=False).order_by("name", "pk").values_list("pk", flat=True)
    rows = VesselRevision.objects.filter(vessel__in=vessels).order_by("number")
    newest = {row.vessel_id: row for row in rows}
    return [newest[key].ship_facts() for key in vessels if key in newest]
