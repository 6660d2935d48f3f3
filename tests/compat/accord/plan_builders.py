"""A whole plan with invented parties, as the accord would gather it, and signed by a key made for the test."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec

from compat.accord.checklist import required_before_signing
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Item, Side
from compat.accord.plan_document import STATEMENTS, plan_bytes, plan_payload
from compat.accord.plan_file import PlanFile, SignedStatement, envelope, read_envelope, signature_statement
from compat.accord.plan_inputs import (
    PlanAct,
    PlanFacts,
    PlanInputs,
    PlanMark,
    PlanParty,
    PlanPerson,
    PlanPlace,
    PlanShip,
    PlanValue,
)
from compat.case.answer import answer_case
from compat.case.case_file import case_document as document_of
from compat.case.case_file import check_case
from compat.case.diagram_document import diagram_document
from shared.canonical import sha256_hex
from shared.signing import SigningKey
from tests.builders import case_document

PREPARED = datetime(2031, 4, 14, 6, 30, tzinfo=UTC)
KEY = SigningKey(ec.generate_private_key(ec.SECP256R1()))
ORGANISATIONS = {Side.SHIP: "Halvard Tankers", Side.TERMINAL: "Sandvik Oil"}
PEOPLE = {
    Side.SHIP: PlanPerson("Ines Marlowe", "Chief officer"),
    Side.TERMINAL: PlanPerson("Tor Askeland", "Loading master"),
}
CONDITIONS = TransferConditions(
    operation="discharge",
    connection="arms",
    crude=False,
    volatile=False,
    static_accumulator=True,
    inerted=True,
    vapour_return=False,
    hydrogen_sulphide=False,
    benzene=False,
    crude_oil_washing=False,
    night=None,
    pump_room=False,
    notice_required=False,
)
AGREED = {"manifold_pressure_bar_gauge": 8.0, "highest_rate_m3_per_h": 2900.0, "start_rate_m3_per_h": 500.0}
_SAMPLES = {"text": "as discussed", "date": "2031-03-02", "moment": "2031-04-14T05:10:00Z", "yes or no": "yes"}


def act(side: Side, minutes: int = 0) -> PlanAct:
    return PlanAct(side, PEOPLE[side].name, ORGANISATIONS[side], PREPARED - timedelta(minutes=minutes))


def mark(item: Item, side: Side, **changes: Any) -> PlanMark:
    values = {asked.key: _sample(asked.kind, asked.least) for asked in item.asked if asked.required}
    found = PlanMark(
        item_key=item.key,
        side=side,
        answer="yes",
        person=PEOPLE[side].name,
        organisation=ORGANISATIONS[side],
        at=PREPARED - timedelta(hours=1),
        values=values,
    )
    return replace(found, **changes)


def _sample(kind: str, least: Decimal | None) -> str:
    return str(least + 1) if kind == "number" and least is not None else _SAMPLES[kind]


@cache
def _worked_out() -> tuple[dict[str, Any], dict[str, Any], dict[str, Any] | None]:
    case = check_case(case_document(agreed=AGREED), "The case")
    answer = answer_case(case).document()
    return document_of(case), answer, diagram_document(case, answer)


def _values() -> tuple[PlanValue, ...]:
    ship, terminal = act(Side.SHIP, 70), act(Side.TERMINAL, 65)
    return (
        PlanValue(
            "manifold_pressure_bar_gauge",
            "Highest manifold pressure",
            "bar",
            Decimal("8.000000"),
            terminal,
            ship,
            gauge=True,
        ),
        PlanValue("highest_rate_m3_per_h", "Highest rate", "m³/h", Decimal(2900), ship, terminal),
        PlanValue("start_rate_m3_per_h", "Start rate", "m³/h", Decimal(500), ship, terminal),
    )


def plan_inputs(**changes: Any) -> PlanInputs:
    case, answer, diagram = _worked_out()
    found = PlanInputs(
        accord_id="5f0a6b0e-7b8f-4a53-9a59-0d0f2f6f3c11",
        reference="5F0A-6B0E",
        plan_number=1,
        prepared_at=PREPARED,
        planned_start=PREPARED + timedelta(hours=5, minutes=30),
        ship_party=PlanParty(ORGANISATIONS[Side.SHIP], "2 Quay Street, Halvardsund", (PEOPLE[Side.SHIP],)),
        terminal_party=PlanParty(ORGANISATIONS[Side.TERMINAL], "1 Jetty Road, Port Merrow", (PEOPLE[Side.TERMINAL],)),
        ship=PlanShip("Astrid Halvard", "9074729"),
        place=PlanPlace("Sandvik Oil Terminal", "Outer berth", "1 Jetty Road, Port Merrow", "Port Merrow"),
        conditions=CONDITIONS,
        values=_values(),
        case=case,
        answer=answer,
        diagram=diagram,
        marks=tuple(mark(item, side) for item, side in required_before_signing(CONDITIONS)),
        facts=(PlanFacts("ship", "Astrid Halvard", 3, "a" * 64), PlanFacts("berth", "Outer berth", 2, "b" * 64)),
        trail_position=412,
        trail_sha256="c" * 64,
    )
    return replace(found, **changes)


def statement(payload: bytes, by: Side, **changes: Any) -> bytes:
    said: dict[str, Any] = {
        "payload_sha256": sha256_hex(payload),
        "side": by,
        "person": PEOPLE[by].name,
        "organisation": ORGANISATIONS[by],
        "title": PEOPLE[by].title,
        "signed_at": PREPARED + timedelta(minutes=20),
        "statement": STATEMENTS[by],
    }
    return signature_statement(**{**said, **changes})


def signed(payload: bytes, by: Side, key: SigningKey = KEY, **changes: Any) -> SignedStatement:
    said = statement(payload, by, **changes)
    return SignedStatement(said, key.sign(said))


def data_file(sides: tuple[Side, ...] = tuple(Side), **changes: Any) -> bytes:
    payload = plan_bytes(plan_payload(plan_inputs(**changes)))
    return envelope(payload, [signed(payload, side) for side in sides], KEY.public_key_pem())


@cache
def whole_file() -> bytes:
    """Return one signed data file, always the same: each signature of this kind is another one."""
    return data_file()


def draft_file(payload: dict[str, Any]) -> PlanFile:
    """Return a payload as the file of a draft, signed by nobody."""
    return read_envelope(envelope(plan_bytes(payload), [], KEY.public_key_pem()))
