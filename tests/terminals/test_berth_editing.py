"""Editing terminals and berths in the browser: what is typed is kept, what is wrong stands beside its field."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from shared.models import Person
from terminals.facts import BerthFacts
from terminals.models import Berth, Terminal
from terminals.views import BERTH_FILE
from tests.builders import berth_facts, make_berth
from tests.pages import problems_on, send, sent_by, with_values

ClientOf = Callable[[Person | None], Client]


ONE_END = "State the receiving tank, several tanks, a fixed back-pressure, or observed pairs: one of these."
BOOSTER = {
    "name": "Booster 1",
    "feeds_segment": "Line to the tank farm",
    "points": [{"flow_m3_per_h": 0.0, "head_m": 60.0}, {"flow_m3_per_h": 3000.0, "head_m": 41.7}],
}
BRANCHES = [
    {
        "name": f"Tank {number}",
        "length_m": 120.5,
        "bore_mm": 438.2,
        "roughness_mm": 0.1,
        "surface_elevation_m": 14.25 + number,
        "gas_pressure_bar_gauge": 0.01,
    }
    for number in (12, 13)
]
OBSERVED = {
    "pairs": [
        {"rate_m3_per_h": 1000.0, "manifold_pressure_bar_gauge": 3.1},
        {"rate_m3_per_h": 2000.0, "manifold_pressure_bar_gauge": 5.9},
    ],
    "manifold_elevation_m": 11.5,
    "density_kg_per_m3": 845.0,
    "kinematic_viscosity_mm2_per_s": 4.2,
}


@pytest.fixture
def berth(terminal_officer: Person) -> Berth:
    assert terminal_officer.organisation is not None
    return make_berth(terminal_officer.organisation, terminal_officer)


@pytest.fixture
def client(terminal_officer: Person, client_of: ClientOf) -> Client:
    return client_of(terminal_officer)


def newest(berth: Berth) -> BerthFacts:
    return berth.revisions.latest("number").berth_facts()


def page(berth: Berth, name: str) -> str:
    return reverse(f"berth-{name}", args=[berth.public_id])


@pytest.mark.parametrize("units", [{}, {"flow": "bbl/h", "length": "ft", "pressure": "kgf/cm²"}])
@pytest.mark.parametrize("name", ["name", "arms", "line"])
@pytest.mark.parametrize(
    "stated",
    [
        {},
        {"booster": BOOSTER, "shore_end": {"tanks": BRANCHES}},
        {"shore_line": [], "shore_end": {"observed": OBSERVED}},
        {"shore_end": {"back_pressure_bar_gauge": 2.0}},
    ],
)
def test_saving_a_page_untouched_finds_nothing_changed(
    name: str, units: dict[str, str], stated: dict[str, Any], terminal_officer: Person, client: Client
) -> None:
    terminal_officer.units = units
    terminal_officer.save()
    assert terminal_officer.organisation is not None
    berth = make_berth(terminal_officer.organisation, terminal_officer, **stated)
    assert client.get(reverse("berth", args=[berth.public_id])).status_code == 200
    answer = send(client, page(berth, name), sent_by(client.get(page(berth, name))))
    assert problems_on(answer) == ["Nothing differs from revision 1, so no new revision was made."]
    assert berth.revisions.count() == 1


def test_a_run_is_put_between_two_others_without_scripts(berth: Berth, client: Client) -> None:
    sent = sent_by(client.get(page(berth, "line")))
    answer = send(client, page(berth, "line"), [*sent, ("rows", "after:facts-shore_line-0")])
    new = next(name for name, _ in sent_by(answer) if name.startswith("facts-shore_line-4"))
    assert new == "facts-shore_line-4-origin"  # after the two stated and the two spare rows
    typed = {"name": "Valve pit", "length_m": "12", "bore_mm": "489", "roughness_mm": "0.1", "end_elevation_m": "5.5"}
    sent = with_values(sent_by(answer), **{f"shore_line-4-{key}": value for key, value in typed.items()})
    send(client, page(berth, "line"), sent)
    assert [run.name for run in newest(berth).shore_line] == ["Jetty line", "Valve pit", "Line to the tank farm"]
    assert newest(berth).shore_line[1].loss_coefficient is None


def test_a_tank_is_replaced_by_a_back_pressure(berth: Berth, client: Client) -> None:
    sent = sent_by(client.get(page(berth, "line")))
    blank = {name: "" for name, _ in sent if "-tank-" in name and not name.endswith("_unit")}
    sent = [(name, blank.get(name, value)) for name, value in sent]
    sent = with_values(sent, back_pressure_bar_gauge="3.5")
    send(client, page(berth, "line"), sent)
    assert newest(berth).shore_end.tank is None
    assert newest(berth).shore_end.back_pressure_bar_gauge == 3.5


BAD_INPUT: list[tuple[str, dict[str, str], str]] = [
    ("arms", {"arms-0-bore_mm": "0"}, "Bore is 0 mm; allowed: 10 to 3000 mm."),
    ("arms", {"arms-0-count": "two"}, "How many is not a whole number in the range; allowed: 1 to 12."),
    ("arms", {"arms-0-count": "0"}, "How many is not a whole number in the range; allowed: 1 to 12."),
    ("arms", {"arms-0-rating_bar_gauge": "0"}, "Rating, gauge is 0 bar; allowed: 0.1 to 400 bar."),
    ("arms", {"arms-0-name": ""}, "Name is missing; state it."),
    ("line", {"shore_line-1-length_m": "-2400"}, "Length is -2400 m; allowed: 0 to 200000 m."),
    ("line", {"shore_line-0-end_elevation_m": "ground"}, "End elevation “ground” m is not a number"),
    ("line", {"shore_line-0-end_elevation_m": ""}, "End elevation is missing; allowed: -500 to 2000 m."),
    ("line", {"tank-surface_elevation_m": "25"}, "Surface elevation 25 m is above the tank's top at 24 m."),
    ("line", {"tank-surface_elevation_m": "7"}, "Surface elevation 7 m is below the tank's bottom at 8 m."),
    ("line", {"tank-gas_pressure_bar_gauge": "-2"}, "Gas pressure is -2 bar; allowed: -1.01325 to 400 bar."),
    ("line", {"back_pressure_bar_gauge": "3"}, ONE_END),
    ("name", {"facts-name": ""}, "Name is missing; state it."),
    ("name", {"size-greatest_draught_m": "43 ft"}, "Greatest draught “43 ft” m is not a number"),
    ("name", {"receiving_rate_m3_per_h": "0"}, "Highest receiving rate is 0 m³/h; allowed: 0.1 to 100000 m³/h."),
]


@pytest.mark.parametrize(("name", "typed", "sentence"), BAD_INPUT)
def test_bad_input_is_told_in_one_sentence_and_nothing_typed_is_lost(
    name: str, typed: dict[str, str], sentence: str, berth: Berth, client: Client
) -> None:
    sent = with_values(sent_by(client.get(page(berth, name))), **typed, note="kept note")
    answer = send(client, page(berth, name), sent)
    [told] = problems_on(answer)
    assert told.startswith(sentence)
    assert answer.text.count(told.replace("'", "&#x27;")) >= 2  # in the list, and beside its field
    assert sent_by(answer) == sent
    assert berth.revisions.count() == 1


def test_a_name_that_another_berth_has_stands_on_the_form(
    berth: Berth, terminal_officer: Person, client: Client
) -> None:
    assert terminal_officer.organisation is not None
    make_berth(terminal_officer.organisation, terminal_officer, name="Inner berth")
    sent = with_values(sent_by(client.get(page(berth, "name"))), **{"facts-name": "Inner berth"})
    answer = send(client, page(berth, "name"), sent)
    assert problems_on(answer)[0].startswith("Name Inner berth belongs to another berth")
    assert sent_by(answer) == sent


def test_two_people_at_once_the_second_is_told_and_loses_nothing(
    berth: Berth, client: Client, terminal_admin: Person, client_of: ClientOf
) -> None:
    colleague = client_of(terminal_admin)
    mine = with_values(sent_by(client.get(page(berth, "arms"))), **{"arms-0-count": "3"})
    theirs = with_values(sent_by(colleague.get(page(berth, "name"))), receiving_rate_m3_per_h="3500")
    send(colleague, page(berth, "name"), theirs)
    answer = send(client, page(berth, "arms"), mine)
    assert answer.status_code == 409
    assert "Joan Mercer saved revision 2" in answer.text
    assert sent_by(answer) == with_values(mine, seen="2")
    send(client, page(berth, "arms"), sent_by(answer))
    assert (newest(berth).arms[0].count, newest(berth).receiving_rate_m3_per_h) == (3, 3500.0)


def test_terminal_and_berth_are_added_by_form(client: Client) -> None:
    place = {"name": "Sandvik North", "port": "Port Merrow", "address": "2 Jetty Road"}
    answer = client.post(reverse("terminal-add"), place)
    terminal = Terminal.objects.get()
    assert answer["Location"] == reverse("terminal", args=[terminal.public_id])
    address = reverse("berth-add", args=[terminal.public_id])
    filled = {
        "facts-name": "North jetty",
        "arm_shore_end_elevation_m": "6",
        "arms-0-name": "Hose 8 in",
        "arms-0-kind": "hose",
        "arms-0-count": "1",
        "arms-0-length_m": "18",
        "arms-0-bore_mm": "203",
        "arms-0-roughness_mm": "0.2",
        "back_pressure_bar_gauge": "2",
    }
    answer = send(client, address, with_values(sent_by(client.get(address)), **filled))
    berth = Berth.objects.get()
    assert answer["Location"] == reverse("berth", args=[berth.public_id])
    assert (newest(berth).arms[0].kind, newest(berth).terminal) == ("hose", "Sandvik North")
    assert berth.line_data_shared is False


def test_a_terminal_form_keeps_what_is_typed(client: Client) -> None:
    answer = client.post(reverse("terminal-add"), {"name": "Sandvik North", "port": "", "address": "2 Jetty Road"})
    assert "Port is missing; state it." in answer.text
    assert 'value="2 Jetty Road"' in answer.text
    assert not Terminal.objects.exists()


def test_a_blank_berth_form_asks_for_what_a_berth_must_have(berth: Berth, client: Client) -> None:
    address = reverse("berth-add", args=[berth.terminal.public_id])
    answer = send(client, address, sent_by(client.get(address)))
    assert problems_on(answer) == [
        "Name is missing; state it.",
        "Elevation of the arms' shore end is missing; allowed: -500 to 2000 m.",
    ]
    sent = with_values(sent_by(answer), **{"facts-name": "Quay", "arm_shore_end_elevation_m": "6"})
    assert sorted(problems_on(send(client, address, sent))) == [
        "Arms and hoses: 0 given; state at least 1.",
        ONE_END,
    ]


def test_a_downloaded_berth_is_taken_as_a_revision_after_a_look(berth: Berth, client: Client) -> None:
    file = client.get(reverse("berth-facts-file", args=[berth.public_id, 1])).content
    assert BERTH_FILE.read(file, "berth.json") == newest(berth)
    document = json.loads(file)
    document["berth"]["receiving_rate_m3_per_h"] = 3500
    document["berth"]["port"] = "Somewhere else"
    data = SimpleUploadedFile("berth.json", json.dumps(document).encode())
    preview = client.post(page(berth, "upload"), {"file": data})
    assert "3,500" in preview.text
    send(client, page(berth, "upload"), sent_by(preview, "narrow"))
    assert (newest(berth).receiving_rate_m3_per_h, newest(berth).port) == (3500.0, "Port Merrow")


def test_a_ship_file_is_not_taken_for_a_berth(berth: Berth, client: Client) -> None:
    data = SimpleUploadedFile("ship.json", b'{"format": "berth-accord-ship/1", "ship": {}}')
    answer = client.post(page(berth, "upload"), {"file": data})
    assert "this page takes berth-accord-berth/1" in answer.text


def test_the_builders_facts_are_sound() -> None:
    assert BerthFacts.model_validate(berth_facts()).shore_end.tank is not None
