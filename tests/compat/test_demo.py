"""The demo scenario: every figure within what such ships and berths make, and loaded by acts into an empty database."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.contrib.auth import authenticate
from django.contrib.auth.password_validation import validate_password
from django.db import transaction

from compat import demo
from compat.accord.answering import latest_answers
from compat.accord.keys import authority
from compat.accord.models import Accord, Plan
from compat.accord.permissions import visible_to
from compat.accord.plan_file import read_plan
from compat.accord.states import State
from compat.accord.verifying import verify_data
from compat.assessing.actions import worked_out
from compat.assessing.models import Assessment
from compat.case.answer import answer_case
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseFile
from compat.case.composing import compose_case
from compat.demo import berths as demo_berths
from compat.demo import ships as demo_ships
from compat.demo.transfers import ALL_TRANSFERS, CRUDE_AGAINST_TOO_LOW_A_PRESSURE, Transfer
from compat.record.models import TransferRecord
from shared.calc.units import GRAVITY_M_PER_S2
from shared.models import Organisation, Person, TrailRow
from shared.roles import Kind, Role
from shared.trail import verify_trail
from terminals.models import Berth
from vessels.models import Vessel

SHIPS = {
    facts.name: facts
    for facts in (
        demo_ships.small_product_tanker(),
        demo_ships.medium_range_product_tanker(),
        demo_ships.crude_tanker(),
    )
}
BERTHS = [
    demo_berths.ellery_product_berth(),
    demo_berths.ellery_small_berth(),
    demo_berths.ellery_crude_jetty(),
    demo_berths.skarra_north_berth(),
    demo_berths.skarra_sea_island(),
]
BY_NAME = {berth.facts.name: berth.facts for berth in BERTHS}
FLOWING = [transfer for transfer in ALL_TRANSFERS if transfer is not CRUDE_AGAINST_TOO_LOW_A_PRESSURE]


def case_of(transfer: Transfer) -> CaseFile:
    ship = SHIPS[transfer.ship]
    return compose_case(ship, BY_NAME[transfer.berth], transfer.setting([pump.key for pump in ship.pumps]))


def answer_of(transfer: Transfer) -> Answer:
    return answer_case(case_of(transfer))


@pytest.mark.parametrize("transfer", FLOWING, ids=lambda transfer: transfer.title)
def test_every_transfer_is_one_that_a_cargo_officer_would_believe(transfer: Transfer) -> None:
    """Common practice, no source: 3 to 12 bar at the manifold, up to 12 m/s in arms, 6 to 36 hours, pumps on curve."""
    case, answer = case_of(transfer), answer_of(transfer)
    assert answer.outcome == "found"
    assert answer.converged
    assert answer.residual_m < 1e-6
    assert 3.0 < (answer.manifold_pressure_bar_gauge or 0) < 12.0
    assert 6.0 < (transfer.cargo.quantity_m3 or 0) / (answer.total_flow_m3_per_h or 1) < 36.0
    assert all(1.5 < arm.velocity_m_per_s < 12.0 for arm in answer.arms)
    assert not [limit.label for limit in answer.limits if limit.state == "exceeded"]
    assert answer.questions == ()
    ranges = {pump.key: (pump.least_speed_rpm, pump.greatest_speed_rpm) for pump in case.ship.pumps}
    for reading in (reading for reading in answer.pumps if reading.running):
        least, greatest = ranges[reading.pump]
        assert least < (reading.speed_rpm or 0) < greatest
        assert not reading.beyond_curve
        assert reading.npsh_available_m is not None
        assert reading.npsh_required_m is not None
        assert reading.npsh_available_m > 0.99 * reading.npsh_required_m > 0


@pytest.mark.parametrize("transfer", FLOWING, ids=lambda transfer: transfer.title)
def test_gauges_and_head_agree(transfer: Transfer) -> None:
    """Hydrostatics: head is the difference of the pump's two gauges over the weight of the liquid."""
    for reading in (reading for reading in answer_of(transfer).pumps if reading.running):
        difference_pa = 1e5 * ((reading.discharge_pressure_bar_gauge or 0) - (reading.suction_pressure_bar_gauge or 0))
        weight = (transfer.cargo.density_kg_per_m3 or 0) * GRAVITY_M_PER_S2
        assert reading.head_m == pytest.approx(difference_pa / weight, rel=1e-9)


def test_different_limits_bind_and_one_pressure_is_too_low() -> None:
    """Nobody learns anything from five berths with one and the same limit."""
    binding = {(answer_of(transfer).binding or "speeds as stated").rstrip("0123456789-P") for transfer in FLOWING}
    assert len(binding) >= 5, binding
    assert answer_of(CRUDE_AGAINST_TOO_LOW_A_PRESSURE).outcome == "no operating point"


def test_berths_differ_in_what_is_known() -> None:
    """One keeps its line, one is known by its back-pressure, one has a rating that nobody found, one has a ridge."""
    assert [berth.line_data_shared for berth in BERTHS].count(False) == 1
    assert sum(berth.facts.shore_end.back_pressure_bar_gauge is not None for berth in BERTHS) == 1
    assert sum(any(arm.rating_bar_gauge is None for arm in berth.facts.arms) for berth in BERTHS) == 1
    assert {arm.kind for berth in BERTHS for arm in berth.facts.arms} == {"arm", "hose"}
    ridges = [
        berth.facts.name
        for berth in BERTHS
        if any(
            before.end_elevation_m > after.end_elevation_m + 5
            for before, after in zip(berth.facts.shore_line, berth.facts.shore_line[1:], strict=False)
        )
    ]
    assert ridges == ["Berth 1"]


def test_ships_differ_in_size_and_pump_room() -> None:
    """Their IMO numbers stand at the far end of the range, where no ship has been registered (from memory)."""
    sizes = sorted(facts.particulars.summer_deadweight_t or 0 for facts in SHIPS.values())
    assert [size > least for size, least in zip(sizes, (5_000, 40_000, 100_000), strict=True)] == [True] * 3
    assert sizes[0] < 10_000
    assert sizes[1] < 60_000
    assert {pump.drive for facts in SHIPS.values() for pump in facts.pumps} == {
        "electric motor, variable speed",
        "hydraulic",
        "steam turbine",
    }
    assert all((facts.imo_number or "").startswith("99999") for facts in SHIPS.values())


@pytest.mark.django_db
def test_it_loads_into_an_empty_database(now: datetime) -> None:
    """Organisations, people, ships, berths, assessments and accords are all there, and every act is in the trail."""
    assert demo.load(now=now) == list(demo.LOG_INS)
    kinds = sorted(Organisation.objects.values_list("kind", flat=True))
    assert kinds == [Kind.AUDIT, Kind.SHIP, Kind.SHIP, Kind.TERMINAL, Kind.TERMINAL]
    assert (Vessel.objects.count(), Berth.objects.count()) == (5, 5)
    assert Assessment.objects.count() == len(ALL_TRANSFERS) + 1
    assert verify_trail() is None
    times = list(TrailRow.objects.order_by("position").values_list("at", flat=True))
    assert times == sorted(times)
    assert times[-1] <= now
    for assessment in Assessment.objects.all():
        assert worked_out(assessment.case_file()).document() == assessment.answer


@pytest.mark.django_db
def test_accords_stand_in_different_states_that_acts_led_to(now: datetime) -> None:
    demo.load(now=now)
    by_state = {accord.state: accord for accord in Accord.objects.all()}
    assert set(by_state) == {
        State.ON_TABLE,
        State.SETTLED,
        State.SIGNED_BY_SHIP,
        State.IN_FORCE,
        State.EXPIRED,
        State.WITHDRAWN,
    }
    acts = list(TrailRow.objects.values_list("act", flat=True))
    assert acts.count("accord opened") == 6
    assert acts.count("accord settled") == 4
    assert acts.count("plan signed") == 5
    assert acts.count("checklist answered") == sum(accord.answers.count() for accord in by_state.values())
    table = by_state[State.ON_TABLE]
    assert table.proposals.filter(status="open", side="terminal").exists()
    assert table.proposals.filter(status="open", side="ship").exists()
    assert 0 < len(latest_answers(table)) < len(latest_answers(by_state[State.SETTLED]))
    unsigned = read_plan(bytes(by_state[State.SIGNED_BY_SHIP].payload or b"")).payload
    stay = unsigned["parts"]["stay"]["answer"]
    assert stay["outcome"] == "planned"
    assert len(stay["hourly"][0]["tanks"]) == 12
    for plan in Plan.objects.all():
        verdict = verify_data(bytes(plan.payload), bytes(plan.signatures or b""), authority().certificate)
        assert verdict.holds, verdict.sentences()
    record = TransferRecord.objects.get(state="closed")
    verdict = verify_data(bytes(record.payload or b""), bytes(record.signatures or b""), authority().certificate)
    assert verdict.holds, verdict.sentences()
    assert record.watches.count() == 6


@pytest.mark.django_db
def test_everybody_signs_in_with_the_printed_secret_and_sees_their_part(now: datetime) -> None:
    """All roles are there; the auditor reads the accords that were granted, strangers none of another's."""
    demo.load(now=now)
    for login in demo.LOG_INS:
        person = authenticate(username=login.username, password=demo.SECRET)
        assert isinstance(person, Person)
        assert not person.secret_is_initial
        validate_password(demo.SECRET, person)
        assert login.role == person.role
    people = {person.username: person for person in Person.objects.all()}
    assert {login.role for login in demo.LOG_INS if login.organisation} == set(Role)
    assert {accord.state for accord in visible_to(people["noor.castell"])} == {State.IN_FORCE, State.EXPIRED}
    assert {accord.ship_name for accord in visible_to(people["anselm.krog"])} == {"Brannoch Skerry"}
    assert people["keeper"].is_superuser
    assert people["keeper"].organisation is None


@pytest.mark.django_db
def test_it_refuses_to_load_twice(now: datetime) -> None:
    """Nothing is written where anybody can sign in already."""
    demo.load(now=now)
    rows = TrailRow.objects.count()
    with transaction.atomic(), pytest.raises(demo.NotEmptyError, match="holds people already"):
        demo.load(now=now)
    assert TrailRow.objects.count() == rows


@pytest.mark.django_db
def test_it_refuses_a_database_that_is_in_use(now: datetime, ship_officer: Person) -> None:
    with pytest.raises(demo.NotEmptyError):
        demo.load(now=now)
    assert Organisation.objects.count() == 1
