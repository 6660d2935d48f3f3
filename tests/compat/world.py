"""One of everything that the site has an address for, and the people around it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from compat.accord import actions
from compat.accord.checklist.item import Phase
from compat.accord.checklist.own_items import OwnItem
from compat.accord.models import Accord, AnswerChoice
from compat.accord.states import State
from compat.api.actions import make_token
from compat.api.scopes import Scope
from compat.record.checking import give_check
from compat.record.closing import settle_record
from compat.record.models import TransferRecord
from compat.screening.actions import run_again, share_screening, start_screening
from compat.screening.models import Screening
from compat.screening.terms import ScreeningTerms
from shared.models import Person
from tests.addresses import Offers
from tests.builders import NOW, make_berth, make_terminal, make_vessel
from tests.compat.accord.building import HIGHEST, PRESSURE, bring_to, open_accord
from tests.compat.accord.test_guests import invite, let_in
from tests.compat.assessing.test_surge_page import surge_assessment
from tests.compat.fit.building import berth_document, ship_document
from tests.compat.record.keeping import START, flowing, read
from tests.compat.record.test_closing import LATER, answered, ended_by, sign
from tests.compat.screening.conftest import terms_document
from vessels.actions import archive_vessel

OWN_ITEM = OwnItem(
    key="gangway-net",
    phase=Phase.BEFORE_ARRIVAL,
    statement="A net hangs below the gangway.",
    answered_by="ship",
    source="Rules of the terminal",
)
CAST = (
    *("ship_officer", "ship_admin", "ship_reader", "terminal_officer", "terminal_admin", "terminal_reader"),
    *("auditor", "stranger", "other_terminal_officer", "installation_admin"),
)


@dataclass(frozen=True)
class World:
    """The people by what they are, what every address is offered, and a token of each person of an organisation."""

    people: dict[str, Person]
    offers: dict[str, Offers]
    tokens: dict[str, str]
    accord: Accord


@pytest.fixture
def world(request: pytest.FixtureRequest) -> World:
    """Make one of everything; the ship's and the terminal's people, and a guest of each side, know of all of it."""
    people: dict[str, Person] = {name: request.getfixturevalue(name) for name in CAST}
    ship, terminal = people["ship_officer"], people["terminal_officer"]
    names = {"ship_name": "Berit Halvard", "berth_name": "Inner berth"}
    on_table = open_accord(ship, terminal, **names)
    proposal = actions.propose_value(by=terminal, now=NOW, accord=on_table, key=PRESSURE, value=Decimal(7), seen=None)
    settled = bring_to(State.SETTLED, ship, terminal, ship_name="Cora Halvard", berth_name="River berth")
    record = _record(ship, terminal)
    accord = record.accord
    amendment = actions.open_amendment(
        by=terminal,
        now=NOW,
        accord=accord,
        reason="The shore tank changed.",
        planned_start=accord.planned_start,
        newest_facts=False,
    )
    grant = actions.grant_audit(by=ship, now=NOW, accord=accord, organisation=people["auditor"].organisation)
    waiting = invite(on_table, ship)
    people["guest_of_ship"] = let_in(accord, ship, "astrid", may_sign=True)
    people["guest_of_terminal"] = let_in(accord, terminal, "nils", may_sign=True)
    assessment = surge_assessment(ship, terminal, NOW, shared=True)
    screening = _screening(people)
    terminal_room = make_terminal(terminal.organisation)  # type: ignore[arg-type]
    archived = _archived(people)
    tokens = {
        name: make_token(by=person, now=NOW, name="program", scopes=list(Scope), days=360)
        for name, person in people.items()
        if person.organisation
    }
    vessel, berth = accord.vessel_revision.vessel, accord.berth_revision.berth
    ready = _ready_to_sign(ship, terminal, ship_name="Gerda Halvard", berth_name="East berth")
    closed = _ready_to_sign(ship, terminal, ship_name="Hilde Halvard", berth_name="West berth")
    for person in (ship, terminal):
        sign(closed, person)
    actions.keep_own_item(by=terminal, now=NOW, terminal=terminal_room, started_from=0, item=OWN_ITEM)
    kept = (ready.accord, closed.accord)
    accords = [one.public_id for one in (on_table, settled, accord, amendment, *kept)]
    facts: dict[str, Any] = {
        "filled": ["blank", "filled"],
        "kind": ["xlsx", "csv"],
        "key": ["P1"],
        "number": [1],
    }
    numbers = [proposal.pk, waiting.invitation.pk, grant.pk]
    for rows in (record.readings, record.events):
        numbers += [row.pk for row in rows.all()[:2]]
    of_accord = {
        "public_id": accords,
        "key": [PRESSURE, HIGHEST, "signs.shown", "watch.no-leaks"],
        "number": sorted(set(numbers)),
        "assessment": [assessment.public_id],
    }
    made = tokens["ship_officer"][0]
    api = {
        "ship": [vessel.public_id],
        "berth": [berth.public_id],
        "terminal": [terminal_room.public_id],
        "assessment": [assessment.public_id],
        "accord": accords,
        "key": [PRESSURE, "signs.shown"],
        "row": [proposal.pk],
    }
    offers: dict[str, Offers] = {
        "": {},
        "me/": {"number": [1]},
        "organisation/": {"username": ["ship-reader", "terminal-reader"]},
        "ships/": {**facts, "public_id": [vessel.public_id, archived]},
        "berths/": {**facts, "public_id": [berth.public_id]},
        "berths/terminals/": {**facts, "public_id": [terminal_room.public_id]},
        "assessments/": {
            "public_id": [assessment.public_id],
            "ship": [vessel.public_id],
            "berth": [berth.public_id],
            "valve": ["ship-valve", "arm-valve", "shore-valve"],
        },
        "screenings/": {
            "public_id": [screening.public_id],
            "username": ["ship-reader"],
            **{key: [0] for key in ("ship", "berth", "cargo")},
        },
        "accords/": of_accord,
        "accords/practice/": {"terminal": [terminal_room.public_id], "key": [OWN_ITEM.key]},
        "accords/guests/": {"token": [waiting.token]},
        "learned/ships/": {"public_id": [vessel.public_id]},
        "learned/berths/": {"public_id": [berth.public_id]},
        "api/v1/": api,
        "tokens/": {"token": [made.public_id]},
    }
    return World(people, offers, {name: words for name, (_, words) in tokens.items()}, accord)


def _record(ship: Person, terminal: Person) -> TransferRecord:
    """Keep a record with readings and a check, of a ship and at a berth that state everything."""
    accord = bring_to(State.IN_FORCE, ship, terminal, ship_name="Freya Halvard", berth_name="North berth")
    record = flowing(ship, terminal, accord=accord)
    for hours in (0.5, 1.0, 1.5):
        read(record, ship, after_h=hours)
    give_check(
        by=ship, now=START + timedelta(hours=1), record=record, item_key="watch.no-leaks", answer=AnswerChoice.YES
    )
    return record


def _ready_to_sign(ship: Person, terminal: Person, **names: str) -> TransferRecord:
    """Keep a record to its end, with nothing missing but the signatures."""
    record = flowing(ship, terminal, accord=bring_to(State.IN_FORCE, ship, terminal, **names))
    read(record, ship, after_h=1)
    ended_by(record, ship)
    answered(record, ship, terminal)
    settle_record(by=ship, now=LATER, record=record)
    record.refresh_from_db()
    return record


def _screening(people: dict[str, Person]) -> Screening:
    ship, terminal = people["ship_officer"], people["terminal_officer"]
    vessel = make_vessel(
        ship.organisation, ship, **{**ship_document(), "name": "Dora Halvard", "imo_number": "9551973"}
    )  # type: ignore[arg-type]
    berth = make_berth(terminal.organisation, terminal, **{**berth_document(), "name": "Lee berth"})  # type: ignore[arg-type]
    made = start_screening(
        by=ship,
        now=NOW,
        title="One at one",
        terms=ScreeningTerms.model_validate(terms_document()),
        vessels=[vessel],
        berths=[berth],
    )
    rerun = run_again(by=ship, now=NOW, screening=made)
    share_screening(by=ship, now=NOW, screening=rerun, person=people["ship_reader"])
    return rerun


def _archived(people: dict[str, Person]) -> Any:
    ship = people["ship_admin"]
    vessel = make_vessel(ship.organisation, ship, name="Elsa Halvard", imo_number=None)  # type: ignore[arg-type]
    archive_vessel(by=ship, now=NOW, vessel=vessel)
    return vessel.public_id
