"""Pages of screenings as stranger, reader and member; the table, its files, and what private berths keep."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from compat.assessing.models import Assessment
from compat.screening import actions
from compat.screening.models import Screening
from shared.models import Person
from terminals.models import Berth
from tests.compat.screening.conftest import terms_document
from vessels.models import Vessel

pytestmark = pytest.mark.django_db
ClientOf = Callable[[Person | None], Client]
PAGES = [
    "screening",
    "screening-progress",
    "screening-matrix",
    "screening-csv",
    "screening-xlsx",
    "screening-asks",
    "screening-asks-csv",
]
ACTS = ["screening-cancel", "screening-go-on", "screening-again"]


@pytest.fixture
def made(start: Callable[..., Screening], django_capture_on_commit_callbacks: Any) -> Screening:
    with django_capture_on_commit_callbacks(execute=True):
        row = start()
    row.refresh_from_db()
    return row


def posted(vessels: list[Vessel], berths: list[Berth], **changes: str) -> dict[str, Any]:
    """What the form of a new screening posts."""
    terms = terms_document()
    cargo = terms.pop("cargoes")[0]
    data: dict[str, Any] = {"title": "By form", "terms-cargoes-0-origin": ""}
    data |= {f"terms-{key}": str(value) for key, value in terms.items()}
    data |= {f"terms-cargoes-0-{key}": str(value) for key, value in cargo.items()}
    data |= {"terms-water": "the berth's lowest water", "terms-viscosity_correction": "as tested"}
    data |= {"ships": [str(row.public_id) for row in vessels], "berths": [str(row.public_id) for row in berths]}
    return {**data, **changes}


def addresses(made: Screening) -> list[str]:
    own = [reverse(name, args=[made.public_id]) for name in PAGES]
    return [*own, reverse("screening-pair", args=[made.public_id, 0, 0, 0])]


@pytest.mark.parametrize("who", ["stranger", "ship_reader", "ship_admin", "terminal_officer", "auditor"])
def test_a_screening_does_not_exist_for_those_who_were_not_given_it(
    who: str, made: Screening, client_of: ClientOf, request: pytest.FixtureRequest
) -> None:
    browser = client_of(request.getfixturevalue(who))
    assert {browser.get(address).status_code for address in addresses(made)} == {404}
    assert {browser.post(reverse(name, args=[made.public_id])).status_code for name in ACTS} == {404}
    assert "Two at two" not in browser.get(reverse("screening-list")).content.decode()


def test_nobody_sees_it_without_signing_in(made: Screening, client_of: ClientOf) -> None:
    assert {client_of(None).get(address).status_code for address in addresses(made)} == {302}


def test_a_reader_to_whom_it_is_given_sees_every_page_and_may_not_act(
    made: Screening, client_of: ClientOf, ship_officer: Person, ship_reader: Person, now: datetime
) -> None:
    actions.share_screening(by=ship_officer, now=now, screening=made, person=ship_reader)
    browser = client_of(ship_reader)
    assert {browser.get(address).status_code for address in addresses(made)} == {200}
    assert {browser.post(reverse(name, args=[made.public_id])).status_code for name in ACTS} == {403}
    assert browser.post(reverse("screening-keep", args=[made.public_id, 0, 0, 0])).status_code == 403
    assert browser.get(reverse("screening-new")).status_code == 403


def test_the_form_starts_a_screening_and_shows_it(
    client_of: ClientOf,
    ship_officer: Person,
    vessels: list[Vessel],
    berths: list[Berth],
    django_capture_on_commit_callbacks: Any,
) -> None:
    browser = client_of(ship_officer)
    assert browser.get(reverse("screening-new")).status_code == 200
    with django_capture_on_commit_callbacks(execute=True):
        answer = browser.post(reverse("screening-new"), posted(vessels, berths))
    made = Screening.objects.get()
    assert answer.status_code == 302
    assert (made.title, made.state, made.total) == ("By form", "done", 4)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"ships": []}, "No ship is chosen; choose at least one."),
        ({"terms-tank_filling_percent": "120"}, "Liquid in the cargo tanks is 120 %; allowed: 1 to 100 %."),
        ({"terms-tank_gas_pressure_bar_gauge": ""}, "Gas pressure in the tanks, gauge is missing"),
        ({"terms-cargoes-0-density_kg_per_m3": "0.845"}, "Density is 0.845 kg/m³"),
        ({"terms-arrives_on": "14 April"}, "Arrives on is not a day; write it as 2031-04-14"),
    ],
)
def test_bad_input_is_a_sentence_and_what_was_typed_stays(
    changes: dict[str, Any],
    sentence: str,
    client_of: ClientOf,
    ship_officer: Person,
    vessels: list[Vessel],
    berths: list[Berth],
) -> None:
    answer = client_of(ship_officer).post(reverse("screening-new"), posted(vessels, berths, **changes))
    page = answer.content.decode()
    assert sentence in page
    assert 'value="By form"' in page
    assert not Screening.objects.exists()


def test_a_row_command_comes_back_with_what_was_typed(
    client_of: ClientOf, ship_officer: Person, vessels: list[Vessel], berths: list[Berth]
) -> None:
    data = posted(vessels, berths[:1], rows="add:terms-cargoes")
    page = client_of(ship_officer).post(reverse("screening-new"), data).content.decode()
    assert "Cargo 2" in page
    assert page.count("checked") == 3
    assert not Screening.objects.exists()


def test_the_table_filters_sorts_and_searches(made: Screening, client_of: ClientOf, ship_officer: Person) -> None:
    browser, address = client_of(ship_officer), reverse("screening", args=[made.public_id])

    def ships(**asked: str) -> list[str]:
        found = browser.get(address, asked)
        return [f"{row.ship} at {row.berth.rpartition(', ')[2]}" for row in found.context["list"].rows]

    assert ships()[0] == "Astrid Halvard at Outer berth"
    assert ships(sort="-ship")[0].startswith("Birgit")
    assert ships(fit="1") == ["Astrid Halvard at Outer berth"]
    assert ships(fit="nonsense", ship="99", sort="nonsense") == ships()
    assert set(ships(search="birgit inner")) == {"Birgit Halvard at Inner berth"}
    assert ships(search="nothing like it") == []
    rate = browser.get(address).context["list"].rows[0].rate_m3_per_h
    assert ships(fit="1", least_rate=f"{rate - 1:.3f}") == ["Astrid Halvard at Outer berth"]
    assert ships(fit="1", least_rate=f"{rate + 1:.3f}") == []
    assert ships(fit="1", most_hours="0.5") == []
    assert ships(fit="1", doubt="without") == ["Astrid Halvard at Outer berth"]
    assert ships(doubt="with") == []
    found = browser.get(address, {"most_hours": "ten"})
    assert len(found.context["list"].rows) == 4
    assert "Berth hours at most [h]: “ten” is not a number" in found.content.decode()
    assert 'value="ten"' in found.content.decode()
    for sort in ("ship", "berth", "fit", "rate", "hours", "limit", "gain"):
        assert len(ships(sort=f"-{sort}")) == 4


def test_why_not_is_one_click_away_and_says_what_is_missing_and_whom_to_ask(
    made: Screening, client_of: ClientOf, ship_officer: Person
) -> None:
    browser = client_of(ship_officer)
    table = browser.get(reverse("screening", args=[made.public_id])).content.decode()
    outside, undecided = (reverse("screening-pair", args=[made.public_id, *places, 0]) for places in ((1, 0), (0, 1)))
    assert outside in table
    page = browser.get(outside).content.decode()
    assert "She does not fit as things are stated." in page
    assert "260.00\xa0m" in page
    assert "Ask the terminal: greatest bow to manifold." in browser.get(undecided).content.decode()
    assert browser.get(reverse("screening-pair", args=[made.public_id, 9, 0, 0])).status_code == 404


def test_what_is_left_open_is_asked_once_with_how_many_pairs_wait_for_it(
    made: Screening, client_of: ClientOf, ship_officer: Person
) -> None:
    browser = client_of(ship_officer)
    found = browser.get(reverse("screening-asks", args=[made.public_id]))
    called = {entry[0][1]: {question.text: question for question in entry[2]} for entry in found.context["listed"]}
    (inner,) = (asked for name, asked in called.items() if "Inner berth" in name)
    question = inner["Ask the terminal: greatest bow to manifold."]
    # Birgit Halvard is too long for it whatever the terminal answers.
    assert (question.pairs, question.alone) == (1, 1)
    assert not any("Birgit" in name for name in called)
    assert "1 of them for nothing else" in found.content.decode()
    text = browser.get(reverse("screening-asks-csv", args=[made.public_id])).content.decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0] == ["Whom", "About", "Question", "Pairs that wait for it", "Of them for nothing else"]
    assert ["Sandvik Terminals", "Ask the terminal: greatest bow to manifold."] in [[row[0], row[2]] for row in rows]


def test_what_is_missing_for_the_rate_is_asked_too(
    start: Callable[..., Screening],
    client_of: ClientOf,
    ship_officer: Person,
    vessels: list[Vessel],
    django_capture_on_commit_callbacks: Any,
) -> None:
    revision = vessels[0].revisions.get()
    facts = {**revision.facts}
    del facts["cargo_tanks"]
    vessels[0].revisions.create(number=2, facts=facts, made_by=revision.made_by, made_at=revision.made_at)
    with django_capture_on_commit_callbacks(execute=True):
        row = start()
    page = client_of(ship_officer).get(reverse("screening-asks", args=[row.public_id])).content.decode()
    assert "Ask the ship for the lowest and highest liquid surface in her cargo tanks." in page


def test_what_stands_on_an_assumed_fact_is_pointed_out_in_table_and_file(
    start: Callable[..., Screening],
    client_of: ClientOf,
    ship_officer: Person,
    vessels: list[Vessel],
    django_capture_on_commit_callbacks: Any,
) -> None:
    revision = vessels[1].revisions.get()
    facts = {**revision.facts}
    facts["berthing"]["statements"] = [{"fact": "length overall", "sure": "assumed", "by": "Her agent"}]
    vessels[1].revisions.create(number=2, facts=facts, made_by=revision.made_by, made_at=revision.made_at)
    with django_capture_on_commit_callbacks(execute=True):
        row = start()
    browser = client_of(ship_officer)
    found = browser.get(reverse("screening", args=[row.public_id]), {"doubt": "with"})
    assert {line.ship for line in found.context["list"].rows} == {"Birgit Halvard"}
    assert "An old or assumed fact decides the fit" in found.content.decode()
    pair = browser.get(reverse("screening-pair", args=[row.public_id, 1, 0, 0])).content.decode()
    assert "is assumed (Her agent" in pair


def test_a_berth_that_keeps_its_line_tells_verdicts_only(
    made: Screening, client_of: ClientOf, ship_officer: Person
) -> None:
    browser = client_of(ship_officer)
    shown = browser.get(reverse("screening-pair", args=[made.public_id, 0, 0, 0])).content.decode()
    kept = browser.get(reverse("screening-pair", args=[made.public_id, 0, 1, 0])).content.decode()
    assert "Jetty line" in shown
    assert "Jetty line" not in kept
    assert "Arms and hoses 1 stated" in shown
    assert "Arms and hoses 1 stated" not in kept


def test_the_files_hold_what_the_table_shows(made: Screening, client_of: ClientOf, ship_officer: Person) -> None:
    browser = client_of(ship_officer)
    asked = urlencode({"fit": "4"})
    text = browser.get(f"{reverse('screening-csv', args=[made.public_id])}?{asked}").content.decode("utf-8-sig")
    rows = list(csv.reader(io.StringIO(text)))
    assert rows[0][:4] == ["Ship", "Berth", "Cargo", "Fit"]
    assert {row[3] for row in rows[1:]} == {"outside"}
    book = load_workbook(
        io.BytesIO(browser.get(reverse("screening-xlsx", args=[made.public_id])).content), read_only=True
    )
    pairs = list(book["Pairs"].iter_rows(values_only=True))
    assert len(pairs) == 5
    assert "Rate [m³/h]" in pairs[0]
    assert dict(list(book["About"].iter_rows(values_only=True))[1:])["Pairs in all"] == 4
    book.close()


@pytest.mark.parametrize("name", ["=1+1", "+cmd", "-2", "@sum"])
def test_a_name_that_looks_like_a_formula_stays_text(
    name: str, made: Screening, client_of: ClientOf, ship_officer: Person, vessels: list[Vessel]
) -> None:
    Vessel.objects.filter(pk=vessels[0].pk).update(name=name)
    browser = client_of(ship_officer)
    text = browser.get(reverse("screening-csv", args=[made.public_id])).content.decode("utf-8-sig")
    assert f"'{name}" in text
    book = load_workbook(io.BytesIO(browser.get(reverse("screening-xlsx", args=[made.public_id])).content))
    cells = [row[0] for row in book["Pairs"].iter_rows(min_row=2)]
    assert {cell.data_type for cell in cells} == {"s"}
    assert name in {cell.value for cell in cells}


def test_a_pair_is_kept_as_an_assessment(made: Screening, client_of: ClientOf, ship_officer: Person) -> None:
    answer = client_of(ship_officer).post(reverse("screening-keep", args=[made.public_id, 0, 0, 0]))
    kept = Assessment.objects.get()
    assert answer["Location"] == reverse("assessment", args=[kept.public_id])
    page = client_of(ship_officer).get(answer["Location"]).content.decode()
    assert "Will she fit?" in page


def test_progress_asks_to_be_asked_again_only_while_it_runs(
    made: Screening, client_of: ClientOf, ship_officer: Person
) -> None:
    browser, address = client_of(ship_officer), reverse("screening-progress", args=[made.public_id])
    assert "hx-trigger" not in browser.get(address).content.decode()
    Screening.objects.filter(pk=made.pk).update(state="running", done=1)
    page = browser.get(address).content.decode()
    assert 'hx-trigger="every 1s"' in page
    assert "1 of 4 pairs worked out" in page
    assert browser.post(reverse("screening-cancel", args=[made.public_id])).status_code == 302
    assert "is cancelled" in browser.get(address).content.decode()


def test_a_rerun_shows_what_changed(
    made: Screening,
    client_of: ClientOf,
    ship_officer: Person,
    berths: list[Berth],
    django_capture_on_commit_callbacks: Any,
) -> None:
    browser = client_of(ship_officer)
    assert browser.get(reverse("screening-changes", args=[made.public_id])).status_code == 404
    revision = berths[0].revisions.get()
    facts = revision.facts
    facts["size"]["greatest_length_overall_m"] = 150.0
    facts["receiving_rate_m3_per_h"] = 500.0
    berths[0].revisions.create(number=2, facts=facts, made_by=revision.made_by, made_at=revision.made_at)
    with django_capture_on_commit_callbacks(execute=True):
        answer = browser.post(reverse("screening-again", args=[made.public_id]))
    later = Screening.objects.exclude(pk=made.pk).get()
    assert answer["Location"] == reverse("screening", args=[later.public_id])
    page = browser.get(reverse("screening-changes", args=[later.public_id])).content.decode()
    assert "2 pairs differ, in 1 of them the fit" in page
    assert "within → <b>outside</b>" in page
    assert "500\xa0m³/h" in page


def test_sharing_by_the_page(
    made: Screening, client_of: ClientOf, ship_officer: Person, ship_reader: Person, stranger: Person
) -> None:
    browser = client_of(ship_officer)
    address = reverse("screening-share", args=[made.public_id])
    browser.post(address, {"person": stranger.username})
    assert not made.shares.exists()
    browser.post(address, {"person": ship_reader.username})
    assert client_of(ship_reader).get(reverse("screening", args=[made.public_id])).status_code == 200
    browser.post(reverse("screening-unshare", args=[made.public_id, ship_reader.username]))
    assert client_of(ship_reader).get(reverse("screening", args=[made.public_id])).status_code == 404
