"""The list and the page of an assessment: what stands on them, and in which words."""

from __future__ import annotations

from datetime import datetime, timedelta
from xml.etree import ElementTree

import pytest
from django.test import Client
from django.urls import reverse

from compat.assessing.actions import make_assessment
from compat.assessing.models import Assessment
from compat.assessing.showing import STATES, glance, limit_lines, names, pump_lines, tank_lines
from compat.case.case_file import AgreedFacts
from compat.case.questions import LOCAL_RULES_FIRST
from shared.calc.errors import InputError
from shared.cargo_facts import CargoFacts
from shared.models import Person
from terminals.actions import archive_berth
from terminals.models import Berth
from tests.builders import cargo_facts, make_berth
from tests.compat.assessing.conftest import ClientOf, make_setting
from vessels.actions import archive_vessel, revise_vessel
from vessels.models import Vessel


@pytest.fixture
def client(client_of: ClientOf, ship_officer: Person) -> Client:
    return client_of(ship_officer)


def make(by: Person, now: datetime, vessel: Vessel, berth: Berth, title: str, pressure: float = 8.0) -> Assessment:
    agreed = AgreedFacts(manifold_pressure_bar_gauge=pressure)
    return make_assessment(by=by, now=now, vessel=vessel, berth=berth, setting=make_setting(title=title, agreed=agreed))


def test_the_list_is_searched_filtered_and_sorted(
    client: Client, ship_officer: Person, vessel: Vessel, berth: Berth, kept_berth: Berth, now: datetime
) -> None:
    make(ship_officer, now, vessel, berth, "Slow", 4.0)
    make(ship_officer, now + timedelta(hours=1), vessel, kept_berth, "Fast", 9.0)
    make(ship_officer, now + timedelta(hours=2), vessel, berth, "Nothing moves", 0.5)
    address = reverse("assessment-list")

    def shown(query: str) -> list[str]:
        return [row.title for row, _ in client.get(f"{address}?{query}").context["rows"]]

    assert shown("") == ["Nothing moves", "Fast", "Slow"]
    assert shown("search=inner") == ["Fast"]
    assert shown("search=astrid+slow") == ["Slow"]
    assert shown("outcome=none") == ["Nothing moves"]
    assert shown("outcome=answered&sort=rate") == ["Slow", "Fast"]
    assert shown("outcome=answered&sort=-rate") == ["Fast", "Slow"]
    assert shown("sort=title") == ["Fast", "Nothing moves", "Slow"]
    assert shown("outcome=x&sort=y") == ["Nothing moves", "Fast", "Slow"]
    assert "No assessment fits this search." in client.get(f"{address}?search=nowhere").text


def test_a_long_list_comes_in_pages(client: Client, assessment: Assessment) -> None:
    row = Assessment.objects.values().get(pk=assessment.pk)
    copies = [{**row, "id": None, "public_id": f"{number:032x}", "title": f"Copy {number}"} for number in range(30)]
    Assessment.objects.bulk_create([Assessment(**copy) for copy in copies])
    assert len(client.get(reverse("assessment-list")).context["rows"]) == 25
    assert "31 in all" in client.get(reverse("assessment-list")).text
    assert len(client.get(f"{reverse('assessment-list')}?page=2").context["rows"]) == 6


def test_an_empty_list_says_what_to_do(client: Client, client_of: ClientOf, terminal_officer: Person) -> None:
    assert reverse("assessment-new") in client.get(reverse("assessment-list")).text
    other = client_of(terminal_officer).get(reverse("assessment-list")).text
    assert reverse("assessment-new") not in other
    assert reverse("assessment-case-file") in other


def test_the_page_gives_the_answer_and_every_limit(client: Client, assessment: Assessment) -> None:
    """Each limit with its word; the caution; hours labelled as what they are."""
    page = client.get(reverse("assessment", args=[assessment.public_id])).text
    assert "at this rate throughout; stages and falling levels are not in it" in page
    assert LOCAL_RULES_FIRST.replace("'", "&#x27;") in page
    for line in limit_lines(assessment.answer):
        assert line.label.replace("'", "&#x27;") in page
        assert f"{line.sign}</span> {line.state}" in page


def test_a_cargo_without_quantity_has_no_hours(
    client: Client, ship_officer: Person, vessel: Vessel, berth: Berth, now: datetime
) -> None:
    cargo = CargoFacts.model_validate({key: value for key, value in cargo_facts().items() if key != "quantity_m3"})
    made = make_assessment(by=ship_officer, now=now, vessel=vessel, berth=berth, setting=make_setting(cargo=cargo))
    assert "the quantity is not stated" in client.get(reverse("assessment", args=[made.public_id])).text


def test_a_newer_revision_is_told_and_changes_nothing(
    client: Client, assessment: Assessment, vessel: Vessel, ship_officer: Person, now: datetime
) -> None:
    facts = assessment.vessel_revision.ship_facts().model_copy(update={"ship_line_velocity_limit_m_per_s": 3.0})
    revise_vessel(by=ship_officer, now=now, vessel=vessel, started_from=1, facts=facts)
    page = client.get(reverse("assessment", args=[assessment.public_id])).text
    assert "revision 2 is the newest, this answer stands on revision 1" in page
    assert Assessment.objects.get(pk=assessment.pk).answer == assessment.answer


def test_archived_ships_and_berths_are_not_assessed(
    ship_officer: Person, terminal_officer: Person, vessel: Vessel, berth: Berth, now: datetime
) -> None:
    archive_berth(by=terminal_officer, now=now, berth=berth)
    with pytest.raises(InputError, match="Outer berth is archived"):
        make(ship_officer, now, vessel, berth, "Late")
    archive_vessel(by=ship_officer, now=now, vessel=vessel)
    with pytest.raises(InputError, match="Astrid Halvard is archived"):
        make(ship_officer, now, vessel, berth, "Later")


def test_pictures_are_svg_and_say_their_point_in_the_persons_units(
    client: Client, ship_officer: Person, assessment: Assessment
) -> None:
    """The same picture for the same answer, another one for another pressure; text stays text."""
    ship_officer.units = {"pressure": "kgf/cm²", "flow": "bbl/h"}
    ship_officer.save()
    address = reverse("assessment-diagram", args=[assessment.public_id])
    sent = {"pressure": "6", "pressure_unit": "bar", "arm_0": "2", "pump_0_running": "on", "pump_1_running": "on"}
    first, again, moved = client.get(address), client.get(address), client.get(address, sent)
    assert first.content == again.content != moved.content
    drawn = "".join(ElementTree.fromstring(first.content).itertext())  # noqa: S314 (our own drawing)
    assert "Manifold pressure [kgf/cm² gauge]" in drawn
    assert "Rate [bbl/h]" in drawn
    assert "agreed: 8.16 kgf/cm²" in drawn
    profile = client.get(reverse("assessment-profile", args=[assessment.public_id]))
    assert "hydraulic grade line" in "".join(ElementTree.fromstring(profile.content).itertext())  # noqa: S314


def test_a_picture_that_the_browser_holds_is_not_drawn_again(client: Client, assessment: Assessment) -> None:
    address = reverse("assessment-diagram", args=[assessment.public_id])
    tag = client.get(address)["ETag"]
    assert client.get(address, HTTP_IF_NONE_MATCH=tag).status_code == 304


def test_pumps_that_are_alike_stand_in_one_row(assessment: Assessment) -> None:
    """Two alike pumps from one level: one row of gauges, and one row for each kind of limit."""
    lines = pump_lines(assessment.answer)
    assert [(line.names, line.count) for line in lines] == [("Cargo pump P1, P2", 2)]
    labels = [line.label for line in limit_lines(assessment.answer)]
    assert "Rated flow of each running pump" in labels
    assert not any("P1" in label for label in labels)
    assert [line.pumps for line in tank_lines(assessment.case_file())] == ["Cargo pump P1, P2"]


def test_limits_that_matter_stand_first(assessment: Assessment) -> None:
    order = [list(STATES).index(line.state) for line in limit_lines(assessment.answer)]
    assert order == sorted(order)
    binding = glance(assessment.case_file(), assessment.answer).binding
    assert binding is not None
    assert (binding.limit["key"], binding.margin) == (assessment.answer["binding"], 0.0)


@pytest.mark.parametrize(
    ("given", "written"),
    [
        ([], ""),
        (["Pump"], "Pump"),
        (["Cargo pump 1 port", "Cargo pump 1 starboard"], "Cargo pump 1 port, starboard"),
        (["Cargo pump 1 port", "Cargo pump 2 port"], "Cargo pump 1 port, 2 port"),
        (["No. 1 cargo pump", "No. 3 cargo pump"], "No. 1 cargo pump, No. 3 cargo pump"),
        (["COP1", "COP2"], "COP1, COP2"),
    ],
)
def test_names_that_begin_alike_are_written_short(given: list[str], written: str) -> None:
    assert names(given) == written


@pytest.mark.parametrize("shared", [True, False])
def test_an_observed_shore_is_told_pair_by_pair_unless_its_terminal_keeps_it(
    client: Client, ship_officer: Person, terminal_officer: Person, vessel: Vessel, now: datetime, shared: bool
) -> None:
    assert terminal_officer.organisation is not None
    pairs = [
        {"rate_m3_per_h": rate, "manifold_pressure_bar_gauge": bar}
        for rate, bar in ((800.0, 2.61), (1600.0, 4.4), (2400.0, 7.31))
    ]
    seen = {
        "pairs": pairs,
        "manifold_elevation_m": 12.0,
        "density_kg_per_m3": 850.0,
        "kinematic_viscosity_mm2_per_s": 8.0,
    }
    berth = make_berth(
        terminal_officer.organisation,
        terminal_officer,
        line_data_shared=shared,
        shore_line=[],
        shore_end={"observed": seen},
    )
    made = make(ship_officer, now, vessel, berth, "Seen")
    page = client.get(reverse("assessment", args=[made.public_id])).text
    assert ("The shore as it was observed" in page) == shared
    assert ("4.40" in page and "Missed by" in page) == shared
