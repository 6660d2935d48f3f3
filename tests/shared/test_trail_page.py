"""The trail's page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.template import Context, Template
from django.test import Client
from django.urls import reverse

from shared import trail
from shared.models import Person, TrailRow
from shared.trail import record
from shared.trail_guard import lift_guard, set_guard

ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def acts(ship_officer: Person, now: datetime) -> None:
    with transaction.atomic():
        for number in range(60):
            record(
                act="vessel changed", by=ship_officer, now=now, subject=f"vessel:{number:03}", facts={"pumps": number}
            )
        record(act="accord opened", by=ship_officer, now=now, subject="accord:9", facts={"place": None})


@pytest.mark.usefixtures("acts")
def test_members_see_their_organisations_acts_newest_first(ship_reader: Person, client_of: ClientOf) -> None:
    page = client_of(ship_reader).get(reverse("trail")).text
    assert "Page 1 of 2, 61 in all" in page
    assert page.index("accord:9") < page.index("vessel:059") < page.index("vessel:058")
    assert "Ingrid Solheim (ship-officer)" in page
    assert "14 Apr 2031 06:30:00" in page
    assert "not known" in page
    assert "vessel:000" in client_of(ship_reader).get(reverse("trail"), {"page": 2}).text


@pytest.mark.usefixtures("acts")
@pytest.mark.parametrize("who", ["stranger", "terminal_officer", "auditor"])
def test_others_see_nothing_of_it(who: str, request: pytest.FixtureRequest, client_of: ClientOf) -> None:
    page = client_of(request.getfixturevalue(who)).get(reverse("trail")).text
    assert "Nothing has been done yet." in page
    assert "vessel:" not in page


@pytest.mark.usefixtures("acts")
def test_an_auditor_sees_the_rows_of_what_was_granted(
    auditor: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trail, "_more_subjects", [lambda person: ["accord:9"] if person == auditor else []])
    page = client_of(auditor).get(reverse("trail")).text
    assert "accord:9" in page
    assert "vessel:" not in page


@pytest.mark.usefixtures("acts")
def test_the_trail_is_searched(ship_reader: Person, client_of: ClientOf) -> None:
    browser = client_of(ship_reader)
    page = browser.get(reverse("trail"), {"search": "changed vessel:007"}).text
    assert "vessel:007" in page
    assert "vessel:008" not in page
    assert "No row has these words." in browser.get(reverse("trail"), {"search": "zzz"}).text
    assert browser.get(reverse("trail"), {"search": "<script>"}).text.count("<script>") == 0


@pytest.mark.usefixtures("acts")
def test_any_reader_has_the_whole_chain_checked(stranger: Person, client_of: ClientOf) -> None:
    page = client_of(stranger).get(reverse("trail"), {"check": "yes"}).text
    assert "The whole trail holds. It has 61 rows" in page
    assert trail.trail_head()[1] in page
    lift_guard(connection)
    TrailRow.objects.filter(position=7).update(person="Somebody Else")
    set_guard(connection)
    page = client_of(stranger).get(reverse("trail"), {"check": "yes"}).text
    assert "The trail does not hold: row 7 was changed after it was written." in page


@pytest.mark.usefixtures("acts")
def test_the_command_checks_the_chain_and_its_status_says_the_outcome(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("verify_trail")
    assert f"holds: 61 rows, the last with hash {trail.trail_head()[1]}" in capsys.readouterr().out
    lift_guard(connection)
    TrailRow.objects.filter(position=61).update(facts="{}")
    set_guard(connection)
    with pytest.raises(CommandError, match="row 61 was changed after it was written"):
        call_command("verify_trail")


def test_a_row_is_written_in_words() -> None:
    page = Template(
        "{% load trail %}{% for key, value in facts.items %}{{ key|fact_name }}: {{ value|fact_words }}. {% endfor %}"
    )
    facts = {
        "plan_number": 2,
        "kept": True,
        "values": {"at_rest_bar": "1.4", "sea": None},
        "limits": ["a", "b"],
        "c": [],
    }
    assert page.render(Context({"facts": facts})) == (
        "plan number: 2. kept: yes. values: at rest bar 1.4; sea not known. limits: a, b. c: none. "
    )


def test_a_subject_leads_to_its_page(ship_officer: Person) -> None:
    vessel = "vessel:0f8fad5b-d9cb-469f-a165-70867728950e"
    page = Template("{% load trail %}{% subject_link vessel %} {% subject_link person %} {% subject_link other %}")
    text = page.render(Context({"vessel": vessel, "person": ship_officer.subject, "other": "<b>:1"}))
    assert f'<a href="/ships/{vessel[7:]}/" title="{vessel}">vessel 0f8fad5b…</a>' in text
    assert ">person ship-officer</a>" in text
    assert "<b>" not in text
