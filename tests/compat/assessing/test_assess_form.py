"""The form of a new assessment: what stands in it, what it refuses, and what it makes of good input."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from compat.assessing.models import Assessment
from shared.models import Person, TrailRow
from terminals.models import Berth
from tests.compat.assessing.conftest import ClientOf
from tests.pages import Sent, problems_on, send, sent_by, with_values
from vessels.models import Vessel

GOOD = {
    "stated-cargo-name": "Gas oil",
    "stated-cargo-density_kg_per_m3": "845",
    "stated-cargo-kinematic_viscosity_mm2_per_s": "4.2",
    "stated-cargo-temperature_c": "15",
    "stated-cargo-vapour_pressure_kpa_abs": "1",
    "stated-cargo-quantity_m3": "32000",
    "draught": "11.9",
    "water_level": "2.4",
    "tank_level": "12",
    "gas_pressure": "0.05",
    "pressure": "8",
}


@pytest.fixture
def address(vessel: Vessel, berth: Berth) -> str:
    return reverse("assessment-values", args=[vessel.public_id, berth.public_id])


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


def filled(client: Client, address: str, **changes: str) -> Sent:
    """Return what the page's form sends with everything needed typed in, and with changes by full name."""
    page = client.get(address)
    assert isinstance(page, HttpResponse)
    typed = GOOD | {name.replace("__", "-"): text for name, text in changes.items()}
    sent = [(name, "on" if name.endswith("_running") else value) for name, value in sent_by(page)]
    known = {name for name, _ in sent}
    assert typed.keys() <= known | {"speed"}, typed.keys() - known
    return [(name, typed.get(name, value)) for name, value in sent if typed.get(name) != "off"]


def test_only_what_ship_and_berth_state_stands_in_the_form(client: Client, address: str) -> None:
    """The berth's pressure limit and arms, and that she has two pumps; nothing about cargo, draught or tanks."""
    page = client.get(address)
    sent = dict(sent_by(page))
    assert sent["pressure"] == "10"
    assert sent["arm_0"] == "2"
    assert {"pump_0_running", "pump_1_running"} <= sent.keys()
    for name in set(GOOD) - {"pressure"}:
        assert sent[name] == "", name


def test_a_berth_that_keeps_its_line_does_not_show_its_limit(client: Client, vessel: Vessel, kept_berth: Berth) -> None:
    """Its own pressure limit is one of the things that it keeps."""
    page = client.get(reverse("assessment-values", args=[vessel.public_id, kept_berth.public_id]))
    assert dict(sent_by(page))["pressure"] == ""


def test_good_input_makes_the_case_that_was_typed(client: Client, address: str, ship_officer: Person) -> None:
    """Every typed number stands in the stored case, in the unit of its key."""
    answer = send(client, address, filled(client, address, pump_1_level="11.5", start_rate="300", closing_time="45"))
    assert answer.status_code == 302
    made = Assessment.objects.get()
    assert answer["Location"] == reverse("assessment", args=[made.public_id])
    case = made.case_file()
    assert made.title == "Astrid Halvard at Outer berth, Gas oil"
    assert case.keel_elevation_m == -9.5
    assert case.cargo.density_kg_per_m3 == 845.0
    assert [state.tank_surface_elevation_m for state in case.operation.pumps] == [12.0, 11.5]
    assert case.operation.pumps[0].tank_gas_pressure_bar_gauge == 0.05
    assert case.agreed.model_dump(exclude_none=True) == {
        "manifold_pressure_bar_gauge": 8.0,
        "start_rate_m3_per_h": 300.0,
        "closing_time_s": 45.0,
    }
    row = TrailRow.objects.get(act="assessment made")
    assert row.subject == f"assessment:{made.public_id}"
    assert ship_officer.username in row.person


def test_other_units_are_converted_once_at_the_door(client: Client, address: str) -> None:
    """8 kgf/cm² are 7.84532 bar (1 kgf = 9.80665 N, exact); 500 mmH₂O are 0.04903325 bar."""
    sent = filled(client, address, pressure="8", pressure_unit="kgf/cm²", gas_pressure="500", gas_pressure_unit="mmH₂O")
    assert send(client, address, sent).status_code == 302
    case = Assessment.objects.get().case_file()
    assert case.agreed.manifold_pressure_bar_gauge == 7.84532
    assert case.operation.pumps[0].tank_gas_pressure_bar_gauge == 0.04903325


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"draught": ""}, "Draught is missing; allowed: 0.5 to 30 m."),
        ({"draught": "eleven"}, "Draught “eleven” m is not a number; allowed: 0.5 to 30 m."),
        ({"water_level": "250"}, "Water level above the berth's zero is 250 m; allowed: -20 to 30 m."),
        (
            {"tank_level": "19.5"},
            (
                "Liquid surface in the tanks is 19.5 m; allowed: 2.1 to 19 m."
                " Is it in feet? 19.5 ft is 5.94 m: choose ft beside the number."
                " Her cargo tanks lie between these, above the keel."
            ),
        ),
        (
            {"gas_pressure": "50"},
            (
                "Gas pressure in the tanks is 50 bar; allowed: -0.5 to 2 bar."
                " Tanks are often read in mbar or mmH₂O; choose that unit."
            ),
        ),
        ({"pump_1_level": "1"}, "Liquid surface for Cargo pump P2 is 1 m; allowed: 2.1 to 19 m."),
        ({"pressure": ""}, "Agreed manifold pressure is missing; a sought speed needs it as a limit."),
        ({"pressure": "500"}, "Agreed manifold pressure is 500 bar; allowed: 0.1 to 400 bar."),
        ({"arm_0": "0"}, "No arm or hose is connected; connect at least one."),
        ({"pump_0_running": "off", "pump_1_running": "off"}, "No pump is running; tick at least one."),
        ({"speed": "as stated", "pump_0_speed": "1200"}, "Speed of Cargo pump P2 is missing; state it"),
        ({"pump_0_speed": "1600"}, "Speed of Cargo pump P1 is 1600 rpm; allowed: 900 to 1500 rpm."),
        ({"stated-cargo-name": ""}, "Name is missing; state it."),
        ({"stated-cargo-density_kg_per_m3": "0.845"}, "Density is 0.845 kg/m³; allowed: 500 to 1200 kg/m³."),
        ({"stated-cargo-kinematic_viscosity_mm2_per_s": ""}, "missing"),
    ],
)
def test_bad_input_gives_a_sentence_and_keeps_what_was_typed(
    client: Client, address: str, changes: dict[str, str], sentence: str
) -> None:
    """Nothing is stored, and the page comes back with every control as it was sent."""
    sent = filled(client, address, **changes)
    page = send(client, address, sent)
    assert page.status_code == 200
    assert any(sentence in told for told in problems_on(page)), problems_on(page)
    assert not Assessment.objects.exists()
    back = [(name, "on" if name.endswith("_running") else value) for name, value in sent_by(page)]
    assert sorted(back) == sorted(sent)


def test_stated_speeds_need_no_agreed_pressure(client: Client, address: str) -> None:
    """The speeds say what is to happen; pressure is then only a limit that may stay open."""
    sent = filled(client, address, speed="as stated", pump_0_speed="1200", pump_1_speed="1250", pressure="")
    assert send(client, address, sent).status_code == 302
    states = Assessment.objects.get().case_file().operation.pumps
    assert [state.speed_rpm for state in states] == [1200.0, 1250.0]


def test_a_row_command_stores_nothing_and_finds_no_fault(client: Client, address: str) -> None:
    """Without scripts the button for another row comes back with what was typed so far."""
    sent = [*filled(client, address, draught="", tank_level="12"), ("rows", "add:stated-cargo-laboratory-viscosities")]
    page = send(client, address, sent)
    assert page.status_code == 200
    assert problems_on(page) == []
    assert dict(sent_by(page))["tank_level"] == "12"
    assert not Assessment.objects.exists()


def test_laboratory_values_stand_in_for_measured_ones(client: Client, address: str) -> None:
    """Density at 15 °C and two viscosities are enough, with the temperature while pumping."""
    sent = filled(client, address)
    typed = with_values(
        sent,
        **{
            "stated-cargo-density_kg_per_m3": "",
            "stated-cargo-kinematic_viscosity_mm2_per_s": "",
            "laboratory-group": "refined product",
            "laboratory-density_at_15_c_kg_per_m3": "845",
            "viscosities-0-temperature_c": "20",
            "viscosities-0-kinematic_viscosity_mm2_per_s": "4.5",
            "viscosities-1-temperature_c": "40",
            "viscosities-1-kinematic_viscosity_mm2_per_s": "2.8",
        },
    )
    assert send(client, address, typed).status_code == 302, problems_on(send(client, address, typed))
    assert Assessment.objects.get().case_file().cargo.laboratory is not None


def test_limits_of_somebodys_own_are_taken(client: Client, address: str) -> None:
    """One of rate, pressure and speed in each row; two in one row are refused with a sentence."""
    row = {"own_limits-0-name": "Charter party", "own_limits-0-rate_m3_per_h": "2500"}
    sent = with_values(filled(client, address), **row)
    assert send(client, address, sent).status_code == 302
    limits = Assessment.objects.get().case_file().own_limits
    assert [(limit.name, limit.rate_m3_per_h) for limit in limits] == [("Charter party", 2500.0)]
    twice = with_values(sent, **{"own_limits-0-speed_rpm": "1300"})
    assert "one of" in " ".join(problems_on(send(client, address, twice)))
    assert Assessment.objects.count() == 1


def test_the_page_says_what_draught_and_water_level_mean(client: Client, vessel: Vessel, berth: Berth) -> None:
    """Keel 9.5 m below zero; her manifold 20.5 m above the keel is then 11 m above zero (by hand)."""
    address = reverse("assessment-keel", args=[vessel.public_id, berth.public_id])
    page = client.post(address, {"draught": "11.9", "water_level": "2.4", "draught_unit": "m"})
    assert "9.50\u00a0m below" in page.text
    assert "11.00\u00a0m above" in page.text
    assert "deeper" not in page.text
    deep = client.post(address, {"draught": "12.9", "water_level": "2.4", "draught_unit": "m"}).text
    assert "deeper than her summer draught, 12.40\u00a0m" in deep
    assert "greatest draught that the berth accepts" not in deep
    assert "Keel over the berth's zero" in client.post(address, {"draught": "", "water_level": "x"}).text


def test_choosing_ship_and_berth(client: Client, vessel: Vessel, berth: Berth, kept_berth: Berth) -> None:
    """Both must be chosen; the search narrows the berths; the button leads to the form."""
    address = reverse("assessment-new")
    both = {"ship": str(vessel.public_id), "berth": str(berth.public_id)}
    assert "No ship is chosen" in client.get(address, {"go": "yes", "berth": both["berth"]}).text
    assert "No berth is chosen" in client.get(address, {"go": "yes", "ship": both["ship"], "berth": "x"}).text
    found = client.get(address, {"search": "inner", "ship": both["ship"]}, HTTP_HX_REQUEST="true").text
    assert "Inner berth" in found
    assert "Outer berth" not in found
    assert "<html" not in found
    answer = client.get(address, {**both, "go": "yes"})
    assert answer["Location"] == reverse("assessment-values", args=[vessel.public_id, berth.public_id])
