"""Puts the values of an accord into what its pages show; nothing is decided here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compat.accord.bargaining import Standing, agreed_values, values_on_table
from compat.accord.checklist.item import Side
from compat.accord.engine import Worked, refusals, work_out
from compat.accord.models import Accord, ValueProposal
from compat.accord.queries import ValueRow, value_rows
from compat.accord.states import State
from compat.accord.value_forms import ValueForm
from compat.accord.value_kinds import Given, ValueDefinition
from compat.accord.values import definition_of, in_groups
from compat.assessing.showing import Glance, glance
from compat.case.withholding import without_line_data
from shared.models import Person


@dataclass(frozen=True)
class Meaning:
    """What certain values come to: the engine's answer in its first lines, or why there is none."""

    glance: Glance | None
    problems: tuple[str, ...]
    refusals: tuple[str, ...] = ()


@dataclass(frozen=True)
class ValueCard:
    """One value on the page: what is agreed, what lies open and means, and the form to put another on the table."""

    definition: ValueDefinition
    agreed: ValueProposal | None
    open: ValueProposal | None
    history: tuple[ValueProposal, ...]
    meaning: Meaning | None
    may_accept: bool
    may_take_back: bool
    may_propose: bool
    needed: bool
    form: ValueForm | None

    def waits_for(self, side: Side | None) -> bool:
        """Tell whether an open value waits for this side's answer."""
        return side is not None and self.open is not None and self.open.side != side

    @property
    def folded(self) -> bool:
        """Tell whether the form can wait behind a word: the value is agreed and nothing was refused."""
        return self.agreed is not None and self.open is None and self.form is not None and not self.form.is_bound


@dataclass(frozen=True)
class CardGroup:
    """Values under one heading, and how far they are; ``waiting`` counts those open for one's own side."""

    name: str
    cards: tuple[ValueCard, ...]
    waiting: int

    @property
    def agreed(self) -> int:
        """Return how many are agreed."""
        return sum(card.agreed is not None for card in self.cards)

    @property
    def open(self) -> int:
        """Return how many lie open on the table."""
        return sum(card.open is not None for card in self.cards)

    @property
    def missing(self) -> int:
        """Return how many are needed and neither agreed nor on the table."""
        return sum(card.needed and card.agreed is None and card.open is None for card in self.cards)

    @property
    def unfolded(self) -> bool:
        """Tell whether the group stands open: something waits in it, or a form in it was refused."""
        return self.waiting > 0 or any(card.form is not None for card in self.cards)


@dataclass(frozen=True)
class Table:
    """The values of an accord and the answer that they come to."""

    cards: tuple[ValueCard, ...]
    groups: tuple[CardGroup, ...]
    waiting: int
    untouched: bool
    agreed_count: int
    needed_count: int
    worked: Worked
    meaning: Meaning
    agreed_only: Meaning | None


def table_of(
    accord: Accord, person: Person, side: Side | None, *, line_data: bool, bound: Mapping[str, ValueForm] | None = None
) -> Table:
    """Return the values as ``person`` sees them; ``side`` is the one they act for, ``bound`` are refused forms."""
    rows = value_rows(accord)
    stand = {row.definition.key: row.where for row in rows}
    on_table = values_on_table(stand)
    agreed = agreed_values(stand)
    acts = side if accord.state == State.ON_TABLE else None
    # What is settled shows its own answer, which nothing works out again.
    worked = (
        Worked(on_table, None) if accord.payload else _withheld(work_out(accord.case, on_table), line_data=line_data)
    )
    cards = {row.definition.key: _card(accord, row, person, acts, stand, line_data, bound or {}) for row in rows}
    listed = in_groups([row.definition for row in rows if not row.definition.at_a_glance])
    return Table(
        cards=tuple(card for card in cards.values() if card.definition.at_a_glance),
        groups=tuple(_group(str(group), [cards[one.key] for one in members], side) for group, members in listed),
        waiting=sum(card.waits_for(side) for card in cards.values()),
        untouched=any(not card.history for card in cards.values()),
        agreed_count=sum(card.needed and card.agreed is not None for card in cards.values()),
        needed_count=sum(card.needed for card in cards.values()),
        worked=worked,
        meaning=_meaning(accord, worked),
        agreed_only=_meaning(accord, _withheld(work_out(accord.case, agreed), line_data=line_data))
        if agreed and agreed != on_table
        else None,
    )


def value_card(
    accord: Accord,
    definition: ValueDefinition,
    person: Person,
    side: Side | None,
    *,
    line_data: bool,
    form: ValueForm | None,
) -> ValueCard:
    """Return one value with its form, as it stands on a page of its own; ``form`` is one that was refused."""
    rows = value_rows(accord)
    stand = {row.definition.key: row.where for row in rows}
    acts = side if accord.state == State.ON_TABLE else None
    row = next(row for row in rows if row.definition.key == definition.key)
    if form is None and acts is not None:
        form = _form(row, person)
    return _card(accord, row, person, acts, stand, line_data, {definition.key: form} if form else {})


def lying_open_for(accord: Accord, person: Person, side: Side, *, line_data: bool) -> list[ValueCard]:
    """Return the other side's open values, each with what it means and whether it can be accepted."""
    rows = value_rows(accord)
    stand = {row.definition.key: row.where for row in rows}
    acts = side if accord.state == State.ON_TABLE else None
    waiting = [row for row in rows if row.where.open is not None and row.where.open.side != side]
    return [_card(accord, row, person, acts, stand, line_data, {}) for row in waiting]


def _group(name: str, cards: list[ValueCard], side: Side | None) -> CardGroup:
    return CardGroup(name, tuple(cards), sum(card.waits_for(side) for card in cards))


def _form(row: ValueRow, person: Person) -> ValueForm:
    start = row.where.open or row.where.agreed
    return ValueForm(definition=row.definition, person=person, start=start.given if start else None)


def meaning_of(accord: Accord, key: str, value: Given, stand: Mapping[str, Standing], *, line_data: bool) -> Meaning:
    """Return what one value would mean with everything else as it lies on the table."""
    others = values_on_table(stand)
    told = tuple(refusals(accord.case, key, value, others, accord.transfer_conditions()))
    if definition_of(key).state_in_case is None:
        return Meaning(None, (), told)
    worked = _withheld(work_out(accord.case, {**others, key: value}), line_data=line_data)
    return _meaning(accord, worked, told)


def _meaning(accord: Accord, worked: Worked, told: tuple[str, ...] = ()) -> Meaning:
    shown = glance(accord.case_file(), worked.answer) if worked.answer else None
    return Meaning(shown, worked.problems, told)


def _withheld(worked: Worked, *, line_data: bool) -> Worked:
    if line_data or worked.answer is None:
        return worked
    return Worked(worked.values, without_line_data(worked.answer), worked.problems)


def _card(
    accord: Accord,
    row: ValueRow,
    person: Person,
    acts: Side | None,
    stand: Mapping[str, Standing],
    line_data: bool,
    bound: Mapping[str, ValueForm],
) -> ValueCard:
    definition, lying_open = row.definition, row.where.open
    meaning = None
    if lying_open is not None:
        meaning = meaning_of(accord, definition.key, lying_open.given, stand, line_data=line_data)
    others = acts is not None and lying_open is not None and lying_open.side != acts
    form = bound.get(definition.key)
    if form is None and acts is not None and definition.at_a_glance:
        form = _form(row, person)
    return ValueCard(
        definition=definition,
        agreed=row.where.agreed,
        open=lying_open,
        history=row.history,
        meaning=meaning,
        may_accept=others and meaning is not None and not meaning.refusals,
        may_take_back=acts is not None and lying_open is not None and lying_open.side == acts,
        may_propose=acts is not None,
        needed=definition.asked_with(agreed_values(stand)),
        form=form if acts is not None else None,
    )
