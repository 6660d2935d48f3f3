"""A whole plan with invented parties, as the accord would gather it, and signed by a key made for the test."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec

from compat.accord.checklist import required_before_signing
from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Item, Side
from compat.accord.cms_signature import Office, PersonSigner, merged, sign_data
from compat.accord.pdf_making import signature_picture
from compat.accord.pdf_signature import sign_pdf
from compat.accord.plan_document import STATEMENTS, plan_bytes, plan_payload, utc_text
from compat.accord.plan_file import PlanFile, SignedBy, read_plan
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
from compat.accord.plan_pdf import pdf_to_sign
from compat.case.answer import answer_case
from compat.case.case_file import case_document as document_of
from compat.case.case_file import check_case
from compat.case.diagram_document import diagram_document
from shared.authority import Authority, load_or_make_authority
from tests.builders import case_document

PREPARED = datetime(2031, 4, 14, 6, 30, tzinfo=UTC)
SIGNED_AT = PREPARED + timedelta(minutes=20)


def new_authority() -> Authority:
    """Return an authority of its own, as an installation makes it."""
    with TemporaryDirectory() as folder:
        return load_or_make_authority(Path(folder) / "key.pem")


AUTHORITY = new_authority()
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
        holds_until=PREPARED + timedelta(hours=60),
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


def person_signer(side: Side, authority: Authority = AUTHORITY, **changes: Any) -> PersonSigner:
    """Return a signer with a new key; ``changes`` are name, organisation, and when the key was certified."""
    private = ec.generate_private_key(ec.SECP256R1())
    named = {"name": PEOPLE[side].name, "organisation": ORGANISATIONS[side], "username": str(side), "now": PREPARED}
    office = Office(changes.pop("as_side", side), PEOPLE[side].title)
    return PersonSigner(private, authority.certify(private.public_key(), **{**named, **changes}), office)


def data_file(**changes: Any) -> bytes:
    """Return the bytes of a plan."""
    return plan_bytes(plan_payload(plan_inputs(**changes)))


def signatures(data: bytes, *signers: PersonSigner) -> bytes:
    """Return the signatures of a plan, twenty minutes after it was prepared and then a minute apart."""
    times = [SIGNED_AT + timedelta(minutes=minute) for minute in range(len(signers))]
    return merged([sign_data(data, signer, now=at) for signer, at in zip(signers, times, strict=True)])


@cache
def whole() -> tuple[bytes, bytes]:
    """Return one signed plan, always the same: its data file and its signatures."""
    data = data_file()
    return data, signatures(data, *(person_signer(side) for side in Side))


@cache
def whole_pdf() -> bytes:
    """Return the PDF of that plan, signed first for the ship and then for the terminal."""
    return signed_pdf(read_plan(whole()[0]), *(person_signer(side) for side in Side))


def signed_pdf(file: PlanFile, *signers: PersonSigner) -> bytes:
    """Return the PDF of a plan with these signatures, in this order."""
    pdf = pdf_to_sign(file)
    for place, signer in enumerate(signers):
        at = SIGNED_AT + timedelta(minutes=place)
        side = signer.office.side
        shown = signature_picture(pdf, SignedBy(side, PEOPLE[side].name, signer.office.title, utc_text(at)))
        pdf = sign_pdf(pdf, signer, now=at, statement=STATEMENTS[side], shown=shown, first=place == 0)
    return pdf


def plan_file(*sides: Side, **changes: Any) -> PlanFile:
    """Return a plan as read, named as signed for these sides."""
    signed = tuple(SignedBy(side, PEOPLE[side].name, PEOPLE[side].title, utc_text(SIGNED_AT)) for side in sides)
    return read_plan(data_file(**changes), signed)


DATA_SAMPLE = b'{"type":"berth-accord-plan"}'
