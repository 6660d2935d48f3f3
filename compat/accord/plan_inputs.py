"""What a plan is made from, gathered by the accord and frozen (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from compat.accord.checklist.conditions import TransferConditions
from compat.accord.checklist.item import Item, Side
from compat.accord.value_kinds import Given


@dataclass(frozen=True)
class PlanPerson:
    """Someone who acts for a party, as the plan names them."""

    name: str
    title: str
    post: str = ""


@dataclass(frozen=True)
class PlanParty:
    """One side: its organisation, where it is reached, and its people in this transfer."""

    organisation: str
    address: str
    people: tuple[PlanPerson, ...] = ()


@dataclass(frozen=True)
class PlanShip:
    """The ship by name and IMO number (None where none was stated)."""

    name: str
    imo_number: str | None


@dataclass(frozen=True)
class PlanPlace:
    """Where the transfer takes place."""

    terminal: str
    berth: str
    address: str
    port: str = ""


@dataclass(frozen=True)
class PlanAct:
    """Who did something for a side, and when."""

    side: Side
    person: str
    organisation: str
    at: datetime


@dataclass(frozen=True)
class PlanValue:
    """One agreed value, a number in ``unit`` or words, with who proposed and who accepted it.

    ``gauge`` marks a pressure above atmosphere; ``at_a_glance`` puts the value on the first page.
    """

    key: str
    label: str
    unit: str
    value: Given
    proposed: PlanAct
    accepted: PlanAct
    gauge: bool = False
    kind: str = "number"
    group: str = ""
    at_a_glance: bool = True


@dataclass(frozen=True)
class PlanMark:
    """One side's answer to one checklist item; ``values`` are texts by the keys the item asks for."""

    item_key: str
    side: Side
    answer: Literal["yes", "no", "does not apply"]
    person: str
    organisation: str
    at: datetime
    remark: str = ""
    values: Mapping[str, str] = field(default_factory=dict)
    carried_from_plan: int | None = None


@dataclass(frozen=True)
class PlanFacts:
    """One revision of stated facts that the plan rests on."""

    kind: Literal["ship", "berth"]
    name: str
    revision: int
    sha256: str


@dataclass(frozen=True, kw_only=True)
class PlanInputs:
    """Everything that goes into a plan.

    ``case`` and ``answer`` are the JSON documents of the frozen case and its answer, ``diagram`` that of
    ``compat.case.diagram_document`` or None. ``trail_position`` and ``trail_sha256`` are the head of the trail when
    the plan was frozen; ``parts`` are the documents of ``compat.accord.plan_parts`` by key. With ``line_data_shared``
    false the shore line itself stays out of the plan, and only its hash goes in.
    ``own_items`` are the terminal's own, of the version ``practice_number`` of what it prepared.
    """

    accord_id: str
    reference: str
    plan_number: int
    prepared_at: datetime
    planned_start: datetime
    holds_until: datetime | None
    ship_party: PlanParty
    terminal_party: PlanParty
    ship: PlanShip
    place: PlanPlace
    conditions: TransferConditions
    values: tuple[PlanValue, ...]
    case: Mapping[str, Any]
    answer: Mapping[str, Any]
    diagram: Mapping[str, Any] | None
    marks: tuple[PlanMark, ...]
    facts: tuple[PlanFacts, ...]
    trail_position: int
    trail_sha256: str
    own_items: tuple[Item, ...] = ()
    practice_number: int | None = None
    cautions: tuple[str, ...] = ()
    amendment_reason: str = ""
    earlier_plan: Mapping[str, Any] | None = None
    line_data_shared: bool = True
    parts: Mapping[str, Any] = field(default_factory=dict)
