"""Loads the demo scenario into an empty database, through the acts that people use."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby

from django.db import transaction
from django.utils.text import slugify

from compat.accord.checklist.item import Side
from compat.assessing.actions import keep_variant, make_assessment
from compat.assessing.models import Assessment
from compat.demo import accords, closed_record, records, transfers
from compat.demo.berths import (
    DemoBerth,
    ellery_crude_jetty,
    ellery_product_berth,
    ellery_small_berth,
    skarra_north_berth,
    skarra_sea_island,
)
from compat.demo.cast import AUDITOR, KEEPER, KINDS, LOG_INS, SECRET, DemoLogin
from compat.demo.clock import Clock
from compat.demo.more_ships import long_range_tanker, older_product_tanker
from compat.demo.practice import ZONES, prepare
from compat.demo.ships import crude_tanker, medium_range_product_tanker, small_product_tanker
from compat.screening.actions import share_screening, start_screening
from shared.actions import add_organisation, add_person, choose_units
from shared.calc.errors import InputError
from shared.models import Organisation, Person
from shared.trail import record
from terminals.actions import add_berth, add_terminal
from terminals.models import Berth
from vessels.actions import add_vessel
from vessels.facts import ShipFacts
from vessels.models import Vessel


class NotEmptyError(InputError):
    """The database holds people or organisations already."""


@transaction.atomic
def load(*, now: datetime, tell: Callable[[str], None] = lambda _: None) -> list[DemoLogin]:
    """Load organisations, people, ships, berths, assessments and accords; ``now`` is when the last act has happened.

    ``tell`` hears what comes next: everything is worked out as for anybody, and surge takes its time. Raises
    NotEmptyError for a database in which anybody can sign in.
    """
    if Person.objects.exists() or Organisation.objects.exists():
        raise NotEmptyError("The database holds people already; the demo scenario goes into an empty one only.")
    clock = Clock(now - timedelta(days=9))
    tell("people, ships and berths")
    people = _load_people(clock)
    ships = _load_ships(people, clock)
    berths = _load_berths(people, clock)
    tell("assessments, with surge")
    assessments = _load_assessments(people, ships, berths, clock)
    tell("a screening")
    _load_screening(people, ships, berths, clock)
    _load_accords(people, assessments, clock, now, tell)
    # Only now, so that nobody is told by mail of what the scenario did; names under .example belong to nobody.
    transaction.on_commit(_give_mail_addresses)
    return list(LOG_INS)


def _give_mail_addresses() -> None:
    for login in LOG_INS:
        if login.organisation:
            address = f"{login.username}@{slugify(login.organisation)}.example"
            Person.objects.filter(username=login.username).update(email=address)


def _load_people(clock: Clock) -> dict[str, Person]:
    keeper_login = next(login for login in LOG_INS if login.username == KEEPER)
    keeper = Person.objects.create_superuser(
        KEEPER, password=SECRET, full_name=keeper_login.full_name, title=keeper_login.title
    )
    with_organisation = [login for login in LOG_INS if login.organisation]
    for organisation, members in groupby(with_organisation, key=lambda login: login.organisation):
        first, *others = members
        added = add_organisation(
            by=keeper,
            now=clock.tick(),
            name=organisation,
            kind=KINDS[organisation],
            username=first.username,
            full_name=first.full_name,
            title=first.title,
            secret=SECRET,
        )
        administrator = Person.objects.get(username=first.username)
        for login in others:
            add_person(
                by=administrator,
                now=clock.tick(),
                organisation=added,
                username=login.username,
                full_name=login.full_name,
                title=login.title,
                role=login.role,
                secret=SECRET,
            )
    # Who tries the demo signs in with the printed secret and is not asked for another one first.
    Person.objects.update(secret_is_initial=False)
    record(act="demo scenario loaded", by=None, now=clock.tick(), subject="installation:demo")
    people = {person.username: person for person in Person.objects.select_related("organisation")}
    choose_units(by=people["anselm.krog"], now=clock.tick(), units={"pressure": "kgf/cm²"})
    return people


def _load_ships(people: Mapping[str, Person], clock: Clock) -> dict[str, Vessel]:
    owners: Sequence[tuple[str, ShipFacts]] = (
        ("ida.marsh", medium_range_product_tanker()),
        ("ida.marsh", small_product_tanker()),
        ("ida.marsh", long_range_tanker()),
        ("ida.marsh", older_product_tanker()),
        ("morag.sethi", crude_tanker()),
    )
    note = "From the builder's test sheets"
    added = [add_vessel(by=people[who], now=clock.tick(), facts=facts, note=note) for who, facts in owners]
    return {vessel.name: vessel for vessel in added}


def _load_berths(people: Mapping[str, Person], clock: Clock) -> dict[str, Berth]:
    ellery = (ellery_product_berth(), ellery_small_berth(), ellery_crude_jetty())
    skarra = (skarra_north_berth(), skarra_sea_island())
    terminals: Sequence[tuple[str, str, Sequence[DemoBerth]]] = (
        ("julian.peake", "1 Breakwater Road, Port Ellery", ellery),
        ("sigrun.vale", "Causeway Gate, Skarra Point", skarra),
    )
    found: dict[str, Berth] = {}
    for who, address, berths in terminals:
        first = berths[0].facts
        terminal = add_terminal(
            by=people[who],
            now=clock.tick(),
            name=first.terminal,
            port=first.port,
            address=address,
            zone=ZONES[first.terminal],
        )
        prepare(terminal, by=people[who], clock=clock)
        for berth in berths:
            found[berth.facts.name] = add_berth(
                by=people[who],
                now=clock.tick(),
                terminal=terminal,
                facts=berth.facts,
                line_data_shared=berth.line_data_shared,
                note="From as-built drawings",
            )
    return found


def _load_assessments(
    people: Mapping[str, Person], ships: Mapping[str, Vessel], berths: Mapping[str, Berth], clock: Clock
) -> dict[str, Assessment]:
    by_ship = (("teodor.lund", transfers.BY_SHIP_A), ("morag.sethi", transfers.BY_SHIP_B))
    made: dict[str, Assessment] = {}
    for who, wanted in by_ship:
        for transfer in wanted:
            vessel = ships[transfer.ship]
            pumps = vessel.revisions.latest("number").ship_facts().pumps
            made[transfer.title] = make_assessment(
                by=people[who],
                now=clock.tick(),
                vessel=vessel,
                berth=berths[transfer.berth],
                setting=transfer.setting([pump.key for pump in pumps], clock.now.date()),
            )
    first = transfers.GAS_OIL_TO_BERTH_1
    original = made[first.title]
    setting = first.with_arms((2,)).setting([pump.key for pump in original.case_file().ship.pumps])
    keep_variant(by=people["ida.marsh"], now=clock.tick(), assessment=original, setting=setting)
    return made


def _load_screening(
    people: Mapping[str, Person], ships: Mapping[str, Vessel], berths: Mapping[str, Berth], clock: Clock
) -> None:
    """Screen the first operator's ships at every berth with two cargoes, and share it with her officer."""
    ida = people["ida.marsh"]
    made = start_screening(
        by=ida,
        now=clock.tick(),
        title="Our ships along this coast, gas oil and gasoline",
        terms=transfers.screening_terms(clock.now.date()),
        vessels=[vessel for vessel in ships.values() if vessel.organisation == ida.organisation],
        berths=list(berths.values()),
    )
    share_screening(by=ida, now=clock.tick(), screening=made, person=people["teodor.lund"])


def _load_accords(
    people: Mapping[str, Person],
    assessments: Mapping[str, Assessment],
    clock: Clock,
    now: datetime,
    tell: Callable[[str], None],
) -> None:
    linnet_wren, skerry = people["teodor.lund"], people["anselm.krog"]
    ellery, skarra = people["rosa.delmar"], people["lars.hamre"]
    auditor = Organisation.objects.get(name=AUDITOR)

    def at(days: float, ship: Person, terminal: Person) -> accords.Table:
        clock.wait_until(now - timedelta(days=days))
        return accords.Table(ship, terminal, clock)

    tell("a transfer that is over, with its signed record")
    first = assessments[transfers.GAS_OIL_TO_BERTH_1.title]
    reliefs = {Side.SHIP: people["ida.marsh"], Side.TERMINAL: people["julian.peake"]}
    closed_record.closed(at(8.9, linnet_wren, ellery), first, auditor, reliefs)
    tell("an accord that was withdrawn")
    accords.withdrawn(at(6, linnet_wren, skarra), assessments[transfers.GAS_OIL_TO_NORTH_BERTH.title])
    tell("an accord in force, with its signed plan")
    alongside = accords.in_force(at(4, linnet_wren, ellery), first, auditor)
    tell("accords that wait for signatures")
    accords.signed_by_the_ship(at(1.3, skerry, ellery), assessments[transfers.CRUDE_TO_JETTY.title])
    accords.settled(at(1.15, linnet_wren, ellery), assessments[transfers.KEROSENE_TO_BERTH_2.title])
    tell("an accord on the table")
    accords.on_the_table(at(1.0, skerry, skarra), assessments[transfers.CRUDE_TO_SEA_ISLAND.title])
    tell("a transfer record")
    records.alongside(alongside, linnet_wren, ellery, clock, now, list(reliefs.values()))
