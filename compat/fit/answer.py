"""Will this ship fit this berth? Every check as a row with its facts, where they come from, and whom to ask (pure)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Literal

import numpy as np

from compat.calc.fit.verdicts import UNDECIDED, Judged
from compat.fit.berth_columns import berth_columns, cargo_taken
from compat.fit.catalogue import CHECKS, WORDS, Word, is_narrow, judge_all, verdict_of
from compat.fit.check import Check, Need
from compat.fit.columns import Pairs, label_at, read_at, value_at
from compat.fit.origins import Origin, Stated, origin_of, statements_of
from compat.fit.service_checks import own_rules
from compat.fit.ship_columns import ship_columns
from compat.fit.visit import VisitFacts
from compat.fit.visit_columns import Outcome, cargo_columns, no_outcome, visit_columns
from shared.cargo_facts import CargoFacts
from shared.facts import Facts
from shared.quantities import display
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts

FORMAT = "berth-accord-fit/1"
Holder = Literal["ship", "terminal", "visit"]
_HOLDERS: Mapping[str, Holder] = {"ship": "ship", "berth": "terminal", "visit": "visit"}
_WORKED_OUT = {"visit:agreed pressure": "the agreed manifold pressure"}


@dataclass(frozen=True)
class FitCase:
    """One ship at one berth with one cargo; ``outcome`` is what the hydraulics say, where they were asked."""

    ship: ShipFacts
    berth: BerthFacts
    cargo: CargoFacts
    visit: VisitFacts
    outcome: Outcome | None = None


@dataclass(frozen=True)
class Sources:
    """The versions of the ship's and the berth's documents, newest first, and the day on which it is asked."""

    ship: Sequence[Stated]
    berth: Sequence[Stated]
    today: date


@dataclass(frozen=True)
class FitFact:
    """A fact that a check stands on: whose it is, what it says, and where it comes from."""

    holder: Holder
    label: str
    text: str
    stated_by: str
    stated_on: str
    sure: str


@dataclass(frozen=True)
class FitRow:
    """One check. ``asks`` says what is missing and who holds it; ``doubts`` point out old or assumed facts."""

    key: str
    label: str
    group: str
    state: Word
    unit: str
    value: float | None
    limit: float | None
    margin: float | None
    facts: tuple[FitFact, ...]
    asks: tuple[str, ...]
    doubts: tuple[str, ...]
    note: str
    guidance: str


@dataclass(frozen=True)
class Fit:
    """The answer: what all checks together say, the check that decides, and each check."""

    state: Word
    deciding: str
    rows: tuple[FitRow, ...]

    @property
    def counts(self) -> Mapping[str, int]:
        """Return how many checks have each state."""
        return Counter(row.state for row in self.rows)

    @property
    def asks(self) -> tuple[str, ...]:
        """Return every question once."""
        return tuple(dict.fromkeys(ask for row in self.rows for ask in row.asks))

    @property
    def doubts(self) -> tuple[str, ...]:
        """Return every doubt once."""
        return tuple(dict.fromkeys(doubt for row in self.rows for doubt in row.doubts))

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        return {"format": FORMAT, **asdict(self)}


def fit_of(case: FitCase, sources: Sources | None = None) -> Fit:
    """Return every check of one ship at one berth that applies; the same rules as for a million pairs."""
    pairs = pairs_of([case])
    judged = judge_all(pairs)
    verdict = verdict_of(judged)
    rows = [row for check, one in zip(CHECKS, judged, strict=True) for row in _rows(check, one, case, pairs, sources)]
    return Fit(WORDS[int(verdict.overall[0])], CHECKS[int(verdict.deciding[0])].key, tuple(rows))


def pairs_of(cases: Sequence[FitCase]) -> Pairs:
    """Return cases as columns, one row for each."""
    taken = np.array([cargo_taken(case.berth, case.cargo.name) for case in cases])
    outcomes = [case.outcome or no_outcome(1) for case in cases]
    outcome = Outcome(
        np.concatenate([one.rate_m3_per_h for one in outcomes]),
        np.concatenate([one.pressure_bar_gauge for one in outcomes]),
        np.concatenate([one.agreed_bar_gauge for one in outcomes]),
    )
    return Pairs(
        ship_columns([case.ship for case in cases]),
        berth_columns([case.berth for case in cases]),
        visit_columns([case.visit for case in cases], taken, outcome),
        cargo_columns([case.cargo for case in cases]),
    )


def _rows(check: Check, judged: Judged, case: FitCase, pairs: Pairs, sources: Sources | None) -> Iterator[FitRow]:
    if check.key == "own-rules":
        yield from _rule_rows(case, pairs)
        return
    state = WORDS[int(judged.verdict[0])]
    if state == "does not apply":
        return
    facts = tuple(_facts(check, case, sources))
    yield FitRow(
        key=check.key,
        label=check.label,
        group=check.group,
        state=state,
        unit=check.unit,
        value=_number(judged.value[0]),
        limit=_number(judged.limit[0]),
        margin=_number(judged.margin[0]),
        facts=tuple(fact for fact, _ in facts),
        asks=tuple(_asks(check, case, state)),
        doubts=tuple(_doubts(facts, sources)) if bool(is_narrow(check, judged)[0]) else (),
        note=check.agreement if state == "needs agreement" else "",
        guidance=check.guidance,
    )


def _rule_rows(case: FitCase, pairs: Pairs) -> Iterator[FitRow]:
    """Yield one row for each of the terminal's own rules."""
    judged = own_rules(pairs)
    for place, rule in enumerate(case.berth.berthing.own_rules if case.berth.berthing else ()):
        verdict = int(judged.verdict[0, place])
        state = WORDS[verdict]
        ask = (
            f"The terminal's rule “{rule.name}” needs the {rule.fact.partition(' in ')[0]}: state it, or ask the ship."
        )
        yield FitRow(
            key=f"own-rule-{place + 1}",
            label=f"{rule.name}: {rule.fact} {rule.comparison} {rule.number:g}",
            group="The terminal's own rules",
            state=state,
            unit="1",
            value=_number(judged.value[0, place]),
            limit=_number(judged.limit[0, place]),
            margin=_number(judged.margin[0, place]),
            facts=(),
            asks=(ask,) if verdict == UNDECIDED else (),
            doubts=(),
            note="By the terminal's agreement only." if state == "needs agreement" else "",
            guidance="",
        )


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _document(case: FitCase, owner: str) -> Facts:
    document: Facts = getattr(case, owner)
    return document


def _flat(needs: Sequence[Need]) -> Iterator[str]:
    for need in needs:
        yield from (need,) if isinstance(need, str) else need


def _facts(check: Check, case: FitCase, sources: Sources | None) -> Iterator[tuple[FitFact, Origin | None]]:
    for name in _flat(check.needs):
        if name in _WORKED_OUT:
            continue
        owner, _, key = name.partition(":")
        document = _document(case, owner)
        value = value_at(document, key)
        if value is None:
            continue
        read = read_at(type(document), key)
        if read.kind == "list":
            text = f"{len(value)} stated"
        elif read.kind == "quantity":
            text = display(value, read.unit)
        else:
            text = str(value)
        versions = getattr(sources, owner, ()) if sources is not None else ()
        origin = origin_of(key, versions, statements_of(document))
        fact = FitFact(
            _HOLDERS[owner],
            label_at(type(document), key),
            text,
            origin.by if origin else "",
            origin.on.isoformat() if origin else "",
            origin.sure if origin else "",
        )
        yield fact, origin


def _asks(check: Check, case: FitCase, state: Word) -> Iterator[str]:
    """Yield a question for each fact that is missing and who holds it, where the check is not decided."""
    if state != "not decided":
        return
    missing = [
        names[-1] if len(names) == 2 else names[0]
        for names in ((need,) if isinstance(need, str) else need for need in check.needs)
        if all(_is_missing(name, case) for name in names)
    ]
    yield from (_ask(name, case) for name in missing)
    if not missing:  # a list is there, but a row of it lacks a number
        yield from (f"{_ask(name, case)[:-1]}, complete." for name in _flat(check.needs) if _is_list(name, case))
    if check.key in {"discharge-rate", "manifold-pressure"} and (
        case.outcome is None or np.isnan(case.outcome.rate_m3_per_h[0])
    ):
        yield "Work out the rate first: no operating point was found or asked for."


def _is_list(name: str, case: FitCase) -> bool:
    owner, _, key = name.partition(":")
    return name not in _WORKED_OUT and read_at(type(_document(case, owner)), key).kind == "list"


def _is_missing(name: str, case: FitCase) -> bool:
    if name in _WORKED_OUT:
        return case.outcome is None or bool(np.isnan(case.outcome.agreed_bar_gauge[0]))
    owner, _, key = name.partition(":")
    value = value_at(_document(case, owner), key)
    if value is None:
        return not _is_unlimited(name, case)
    return name == "berth:arms" and any(arm.flange is None or arm.rating_bar_gauge is None for arm in case.berth.arms)


def _is_unlimited(name: str, case: FitCase) -> bool:
    column = berth_columns([case.berth]).arrays.get(name.removeprefix("berth:")) if name.startswith("berth:") else None
    return column is not None and column.ndim == 1 and bool(np.isinf(column[0]))


def _ask(name: str, case: FitCase) -> str:
    if name in _WORKED_OUT:
        return f"Agree {_WORKED_OUT[name]}."
    owner, _, key = name.partition(":")
    label = label_at(type(_document(case, owner)), key)
    label = label if label.startswith("IMO") else f"{label[:1].lower()}{label[1:]}"
    if name == "berth:arms":
        return "Ask the terminal for flange and rating of each arm and hose."
    return {"ship": f"Ask the ship: {label}.", "berth": f"Ask the terminal: {label}."}.get(
        owner, f"State for this visit: {label}."
    )


def _doubts(facts: Sequence[tuple[FitFact, Origin | None]], sources: Sources | None) -> Iterator[str]:
    """Point out each fact that is assumed or old, where the check that stands on it is not passed with room."""
    for fact, origin in facts:
        if origin is None or sources is None:
            continue
        who = f"{origin.by}, {origin.on.day} {origin.on:%B %Y}"
        if origin.sure == "assumed":
            yield f"{fact.label} ({fact.text}) is assumed ({who}) and decides here: have it measured or confirmed."
        elif origin.is_old(sources.today):
            yield f"{fact.label} ({fact.text}) is older than five years ({who}) and decides here: have it confirmed."
