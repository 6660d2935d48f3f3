"""Editing a ship in the browser: what is typed is kept, what is wrong stands beside its field, nobody overwrites."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shared.models import Person
from tests.builders import make_vessel, pump_facts, ship_facts
from tests.pages import Sent, problems_on, send, sent_by, with_values
from vessels.facts import ShipFacts
from vessels.models import Vessel

ClientOf = Callable[[Person | None], Client]


@pytest.fixture
def vessel(ship_officer: Person) -> Vessel:
    assert ship_officer.organisation is not None
    return make_vessel(ship_officer.organisation, ship_officer)


@pytest.fixture
def client(ship_officer: Person, client_of: ClientOf) -> Client:
    return client_of(ship_officer)


def pump_page(vessel: Vessel, key: str = "P1") -> str:
    return reverse("vessel-pump", args=[vessel.public_id, key])


def particulars_page(vessel: Vessel) -> str:
    return reverse("vessel-particulars", args=[vessel.public_id])


def line_page(vessel: Vessel) -> str:
    return reverse("vessel-common-line", args=[vessel.public_id])


def newest(vessel: Vessel) -> ShipFacts:
    return vessel.revisions.latest("number").ship_facts()


@pytest.mark.parametrize("units", [{}, {"flow": "bbl/h", "length": "ft", "pressure": "psi"}])
@pytest.mark.parametrize("page", [pump_page, particulars_page, line_page])
def test_saving_a_page_untouched_finds_nothing_changed(
    page: Callable[[Vessel], str], units: dict[str, str], vessel: Vessel, ship_officer: Person, client: Client
) -> None:
    ship_officer.units = units
    ship_officer.save()
    answer = send(client, page(vessel), sent_by(client.get(page(vessel))))
    assert problems_on(answer) == ["Nothing differs from revision 1, so no new revision was made."]
    assert vessel.revisions.count() == 1


def test_a_saved_page_makes_the_next_revision_with_its_note(
    vessel: Vessel, ship_officer: Person, client: Client
) -> None:
    sent = with_values(
        sent_by(client.get(pump_page(vessel))), **{"facts-rated_flow_m3_per_h": "1450", "note": "new rating plate"}
    )
    answer = send(client, pump_page(vessel), sent)
    assert (answer.status_code, answer["Location"]) == (302, reverse("vessel", args=[vessel.public_id]))
    revision = vessel.revisions.latest("number")
    assert (revision.number, revision.note, revision.made_by) == (2, "new rating plate", ship_officer)
    changed = ship_facts(pumps=[pump_facts("P1", rated_flow_m3_per_h=1450.0), pump_facts("P2")])
    assert revision.ship_facts() == ShipFacts.model_validate(changed)
    page = client.get(answer["Location"]).text.replace("\xa0", " ")
    assert "Pumps › P1 › Rated flow" in page
    assert "1,500 m³/h" in page
    assert "1,450 m³/h" in page


def test_a_value_may_be_typed_in_another_unit(vessel: Vessel, client: Client) -> None:
    sent = with_values(
        sent_by(client.get(particulars_page(vessel))),
        **{"manifold-rating_bar_gauge": "225", "manifold-rating_bar_gauge_unit": "psi"},
    )
    send(client, particulars_page(vessel), sent)
    # 1 psi = 6894.757293168 Pa (NIST SP 811, appendix B.8)
    assert newest(vessel).manifold.rating_bar_gauge == pytest.approx(225 * 6894.757293168 / 1e5, rel=1e-12)


# Page, what is typed, how the one sentence begins.
BAD_INPUT: list[tuple[Callable[[Vessel], str], dict[str, str], str]] = [
    (pump_page, {"points-2-head_m": "155"}, "Head does not fall from 153.5 m at 600 m³/h to 155 m at 1200 m³/h"),
    (pump_page, {"points-1-flow_m3_per_h": "1200"}, "Two points are given at 1200 m³/h; keep one of them."),
    (pump_page, {"points-1-head_m": "high"}, "Head “high” m is not a number; allowed: 0 to 3000 m."),
    (pump_page, {"points-1-head_m": ""}, "Head is missing; allowed: 0 to 3000 m."),
    (pump_page, {"points-1-head_m": "153,5"}, "Head “153,5” m has a comma; write a point before decimals"),
    (pump_page, {"points-1-npsh_required_m": "-1"}, "NPSH required is -1 m; allowed: 0 to 100 m."),
    (pump_page, {"suction_line-0-bore_mm": "0"}, "Bore is 0 mm; allowed: 10 to 3000 mm."),
    (pump_page, {"suction_line-0-length_m": "-40"}, "Length is -40 m; allowed: 0 to 200000 m."),
    (pump_page, {"discharge_line-0-roughness_mm": "46"}, "Roughness is 46 mm; allowed: 0 to 10 mm."),
    (pump_page, {"discharge_line-0-loss_coefficient": "1e3"}, "K “1e3” is not a number; allowed: 0 to 100000."),
    (pump_page, {"facts-least_speed_rpm": "1600"}, "Least speed 1600 rpm is above greatest speed 1500 rpm."),
    (
        pump_page,
        {"facts-kind": "eductor"},
        "An eductor has no speed: give least speed and greatest speed the speed of its curve",
    ),
    (pump_page, {"facts-key": "No 1"}, "Short mark may hold letters, digits and _ . - only, without spaces."),
    (pump_page, {"facts-key": "P2"}, "Pump key P2 is given twice; each pump needs a key of its own."),
    (pump_page, {"facts-name": ""}, "Name is missing; state it."),
    (pump_page, {"curves-0-speed_rpm": "0"}, "Tested speed is 0 rpm; allowed: 1 to 20000 rpm."),
    (
        pump_page,
        {"coefficients-shut_off_head_m": "150", "drop_at_1_m3_per_h_m": "0.00001", "coefficients-exponent": "2"},
        "State the curve by points, by coefficients or by a polynomial, one of these.",
    ),
    (pump_page, {"coefficients-shut_off_head_m": "150", "coefficients-exponent": "2"}, "Drop b (head lost at 1 m³/h)"),
    (particulars_page, {"facts-imo_number": "9074728"}, "IMO number 9074728 has check digit 8"),
    (particulars_page, {"facts-imo_number": "907"}, "IMO number '907' must be seven digits"),
    (particulars_page, {"manifold-elevation_m": ""}, "Elevation is missing; allowed: -500 to 2000 m."),
    (particulars_page, {"manifold-connections": "17"}, "Manifold connections is not a whole number in the range"),
    (particulars_page, {"particulars-year_built": "nineteen"}, "Year built is not a whole number in the range"),
    (particulars_page, {"manifold-rating_bar_gauge_unit": "atm"}, "Rating has the unit atm; choose one of bar"),
    (particulars_page, {"top_elevation_m": "1"}, "Top elevation 1 m is not above bottom elevation 2.1 m."),
    (particulars_page, {"top_elevation_m": ""}, "Top elevation is missing; allowed: -500 to 2000 m."),
    (particulars_page, {"facts-name": "x" * 121}, "Name has 121 characters; allowed: up to 120."),
    (line_page, {"common_line-0-bore_mm": "1 x"}, "Bore “1 x” mm is not a number"),
    (line_page, {"common_line-length_m_unit": "km"}, "Length has the unit km; choose one of m, ft."),
]


@pytest.mark.parametrize(("page", "typed", "sentence"), BAD_INPUT)
def test_bad_input_is_told_in_one_sentence_and_nothing_typed_is_lost(
    page: Callable[[Vessel], str], typed: dict[str, str], sentence: str, vessel: Vessel, client: Client
) -> None:
    sent = with_values(sent_by(client.get(page(vessel))), **typed, note="kept note")
    answer = send(client, page(vessel), sent)
    assert answer.status_code == 200
    [told] = problems_on(answer)
    assert told.startswith(sentence)
    assert answer.text.count(told.replace("'", "&#x27;")) >= 2  # in the list, and beside its field
    unit_refused = "_unit" in next(iter(typed))
    if not unit_refused:  # a unit that is not offered can't be shown again
        assert sent_by(answer) == sent
    assert vessel.revisions.count() == 1


def test_a_curve_with_one_point_asks_for_another(vessel: Vessel, client: Client) -> None:
    sent = sent_by(client.get(pump_page(vessel)))
    kept = [
        (
            name,
            ""
            if "points-" in name and "-origin" not in name and "points-0-" not in name and "_unit" not in name
            else value,
        )
        for name, value in sent
    ]
    assert problems_on(send(client, pump_page(vessel), kept)) == ["Points: 1 given; state at least 2."]


def test_several_problems_are_all_told(vessel: Vessel, client: Client) -> None:
    typed = {"suction_line-0-bore_mm": "0", "suction_line-0-length_m": "-1", "facts-name": ""}
    answer = send(client, pump_page(vessel), with_values(sent_by(client.get(pump_page(vessel))), **typed))
    assert len(problems_on(answer)) == 3
    assert "3 things to correct; nothing is saved yet" in answer.text


def test_two_people_at_once_the_second_is_told_and_loses_nothing(
    vessel: Vessel, client: Client, ship_admin: Person, client_of: ClientOf
) -> None:
    colleague = client_of(ship_admin)
    mine = with_values(sent_by(client.get(pump_page(vessel))), **{"facts-rated_flow_m3_per_h": "1450", "note": "mine"})
    theirs = with_values(
        sent_by(colleague.get(pump_page(vessel))), **{"facts-rated_flow_m3_per_h": "1400", "note": "test of April"}
    )
    send(colleague, pump_page(vessel), theirs)
    answer = send(client, pump_page(vessel), mine)
    assert answer.status_code == 409
    told = answer.text.replace("\xa0", " ")
    assert "Maud Okafor saved revision 2 (“test of April”)" in told
    assert "1,400 m³/h" in told  # what the other person changed
    again = sent_by(answer)
    assert again == with_values(mine, seen="2")
    assert vessel.revisions.count() == 2
    send(client, pump_page(vessel), again)
    assert newest(vessel).pumps[0].rated_flow_m3_per_h == 1450.0
    assert vessel.revisions.latest("number").note == "mine"


def test_a_collision_in_another_part_keeps_both_changes(
    vessel: Vessel, client: Client, ship_admin: Person, client_of: ClientOf
) -> None:
    mine = with_values(sent_by(client.get(line_page(vessel))), **{"common_line-0-length_m": "95"})
    colleague = client_of(ship_admin)
    theirs = with_values(sent_by(colleague.get(particulars_page(vessel))), **{"facts-name": "Astrid Halvard II"})
    send(colleague, particulars_page(vessel), theirs)
    answer = send(client, line_page(vessel), mine)
    assert answer.status_code == 409
    send(client, line_page(vessel), sent_by(answer))
    assert (newest(vessel).name, newest(vessel).common_line[0].length_m) == ("Astrid Halvard II", 95.0)


def test_a_collision_with_a_third_save_is_told_again(
    vessel: Vessel, client: Client, ship_admin: Person, client_of: ClientOf
) -> None:
    colleague = client_of(ship_admin)
    mine = with_values(sent_by(client.get(line_page(vessel))), **{"common_line-0-length_m": "95"})
    for length in ("91", "92"):
        theirs = with_values(sent_by(colleague.get(line_page(vessel))), **{"common_line-0-length_m": length})
        send(colleague, line_page(vessel), theirs)
        answer = send(client, line_page(vessel), mine)
        assert answer.status_code == 409
        mine = sent_by(answer)
    assert vessel.revisions.count() == 3


def test_a_pump_that_was_taken_off_meanwhile_can_be_saved_back(
    vessel: Vessel, client: Client, ship_admin: Person, client_of: ClientOf
) -> None:
    mine = with_values(sent_by(client.get(pump_page(vessel))), **{"facts-rated_flow_m3_per_h": "1450"})
    client_of(ship_admin).post(reverse("vessel-pump-take-off", args=[vessel.public_id, "P1"]))
    answer = send(client, pump_page(vessel), mine)
    assert answer.status_code == 409
    assert "taken off" in answer.text
    send(client, pump_page(vessel), sent_by(answer))
    assert [(pump.key, pump.rated_flow_m3_per_h) for pump in newest(vessel).pumps] == [("P2", 1500.0), ("P1", 1450.0)]


def test_a_pump_is_copied_only_when_it_is_saved(vessel: Vessel, client: Client) -> None:
    page = reverse("vessel-pump-add", args=[vessel.public_id]) + "?copy=P1"
    sent = sent_by(client.get(page))
    assert vessel.revisions.count() == 1
    send(client, page, sent)
    keys = [pump.key for pump in newest(vessel).pumps]
    assert keys == ["P1", "P2", "P3"]
    assert newest(vessel).pumps[2].curves == newest(vessel).pumps[0].curves


def test_an_optional_part_that_is_emptied_is_not_known(vessel: Vessel, client: Client) -> None:
    sent = with_values(sent_by(client.get(particulars_page(vessel))), bottom_elevation_m="", top_elevation_m="")
    send(client, particulars_page(vessel), sent)
    assert newest(vessel).cargo_tanks is None


def test_an_earlier_revision_is_made_current_again(vessel: Vessel, client: Client) -> None:
    before = newest(vessel)
    sent = with_values(sent_by(client.get(line_page(vessel))), **{"common_line-0-length_m": "95"})
    send(client, line_page(vessel), sent)
    assert "It is not the newest" in client.get(reverse("vessel-revision", args=[vessel.public_id, 1])).text
    client.post(reverse("vessel-revision-again", args=[vessel.public_id, 1]))
    assert newest(vessel) == before
    assert vessel.revisions.latest("number").note == "Revision 1 again"


def _bare_ship(client: Client) -> Sent:
    filled = {
        "facts-name": "Bare Essential",
        "manifold-elevation_m": "17.5",
        "pumps-0-key": "COP1",
        "pumps-0-name": "Cargo oil pump 1",
        "pumps-0-least_speed_rpm": "900",
        "pumps-0-greatest_speed_rpm": "1500",
        "pumps-0-elevation_m": "2",
        "curves-0-speed_rpm": "1500",
        "points-0-flow_m3_per_h": "0",
        "points-0-head_m": "150",
        "points-1-flow_m3_per_h": "1500",
        "points-1-head_m": "120",
    }
    return with_values(sent_by(client.get(reverse("vessel-add"))), **filled)


def test_a_ship_is_added_by_form_with_little(ship_officer: Person, client: Client) -> None:
    answer = send(client, reverse("vessel-add"), _bare_ship(client))
    assert answer.status_code == 302
    facts = newest(Vessel.objects.get())
    assert (facts.name, facts.imo_number, facts.cargo_tanks) == ("Bare Essential", None, None)
    assert facts.pumps[0].suction_line == []


def test_a_blank_form_asks_for_what_a_ship_must_have(client: Client) -> None:
    answer = send(client, reverse("vessel-add"), sent_by(client.get(reverse("vessel-add"))))
    assert problems_on(answer) == ["Name is missing; state it.", "Elevation is missing; allowed: -500 to 2000 m."]
    named = with_values(sent_by(answer), **{"facts-name": "Bare", "manifold-elevation_m": "17"})
    assert problems_on(send(client, reverse("vessel-add"), named)) == ["Pumps: 0 given; state at least 1."]


def test_an_imo_number_that_the_operator_has_stands_beside_its_field(vessel: Vessel, client: Client) -> None:
    sent = with_values(_bare_ship(client), **{"facts-imo_number": "9074729"})
    answer = send(client, reverse("vessel-add"), sent)
    [told] = problems_on(answer)
    assert told.startswith("IMO number 9074729 belongs to Astrid Halvard")
    assert 'href="#id_facts-imo_number"' in answer.text
    assert sent_by(answer) == sent
