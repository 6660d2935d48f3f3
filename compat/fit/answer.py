"""Will this ship fit this berth? Every check as a row with its facts, where they come from, and whom to ask (pure)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from compat.calc.fit.verdicts import UNDECIDED, Judged
from compat.fit.berth_columns import berth_columns, cargo_taken
from compat.fit.catalogue import CHECKS, WORDS, Word, is_narrow, judge_all, verdict_of
from compat.fit.check import Check, Need
from compat.fit.columns import Pairs, label_at, read_at, value_at
from compat.fit.doubts import Owner, rate_doubts, rules_narrow, sentence
from compat.fit.fit_case import HOLDERS, WORKED_OUT, FitCase, Holder, Sources, flat
from compat.fit.origins import Origin, origin_of, statements_of
from compat.fit.questions import questions, rule_question
from compat.fit.service_checks import RULE_NEEDS, RULES_STATED, own_rules
from compat.fit.ship_columns import ship_columns
from compat.fit.visit_columns import Outcome, cargo_columns, no_outcome, visit_columns
from shared.quantities import display

FORMAT = "berth-accord-fit/2"


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
    """The answer: what all checks together say, the check that decides, each check, and doubts about the rate.

    ``rate_doubts`` are old or assumed facts on which the rate stands, each with whose it is.
    """

    state: Word
    deciding: str
    rows: tuple[FitRow, ...]
    rate_doubts: tuple[tuple[Owner, str], ...] = ()

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
        of_checks = [doubt for row in self.rows for doubt in row.doubts]
        return tuple(dict.fromkeys([*of_checks, *(doubt for _, doubt in self.rate_doubts)]))

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        return {"format": FORMAT, **asdict(self)}


def fit_of(case: FitCase, sources: Sources | None = None) -> Fit:
    """Return every check of one ship at one berth that applies; the same rules as for a million pairs."""
    pairs = pairs_of([case])
    judged = judge_all(pairs)
    verdict = verdict_of(judged)
    rows = [row for check, one in zip(CHECKS, judged, strict=True) for row in _rows(check, one, case, pairs, sources)]
    deciding = CHECKS[int(verdict.deciding[0])].key
    return Fit(WORDS[int(verdict.overall[0])], deciding, tuple(rows), tuple(rate_doubts(case, sources)))


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
        yield from _rule_rows(case, pairs, sources)
        return
    state = WORDS[int(judged.verdict[0])]
    if state == "does not apply":
        return
    facts = tuple(_facts(check.needs, case, sources))
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
        asks=tuple(asked for _, asked in questions(check, case)) if state == "not decided" else (),
        doubts=tuple(_doubts(facts, sources)) if bool(is_narrow(check, judged)[0]) else (),
        note=check.agreement if state == "needs agreement" else "",
        guidance=check.guidance,
    )


def _rule_rows(case: FitCase, pairs: Pairs, sources: Sources | None) -> Iterator[FitRow]:
    """Yield one row for each of the terminal's own rules."""
    judged, narrow = own_rules(pairs), rules_narrow(pairs)
    for place, rule in enumerate(case.berth.berthing.own_rules if case.berth.berthing else ()):
        verdict = int(judged.verdict[0, place])
        state = WORDS[verdict]
        facts = tuple(_facts((RULE_NEEDS.get(rule.fact, ()), RULES_STATED), case, sources))
        yield FitRow(
            key=f"own-rule-{place + 1}",
            label=f"{rule.name}: {rule.fact} {rule.comparison} {rule.number:g}",
            group="The terminal's own rules",
            state=state,
            unit="1",
            value=_number(judged.value[0, place]),
            limit=_number(judged.limit[0, place]),
            margin=_number(judged.margin[0, place]),
            facts=tuple(fact for fact, _ in facts),
            asks=(rule_question(rule, case),) if verdict == UNDECIDED else (),
            doubts=tuple(_doubts(facts, sources)) if bool(narrow[0, place]) else (),
            note="By the terminal's agreement only." if state == "needs agreement" else "",
            guidance="",
        )


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _facts(needs: Sequence[Need], case: FitCase, sources: Sources | None) -> Iterator[tuple[FitFact, Origin | None]]:
    for name in flat(needs):
        if name in WORKED_OUT:
            continue
        owner, _, key = name.partition(":")
        document = case.document(owner)
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
        versions = () if sources is None else sources.of(owner)
        origin = origin_of(key, versions, statements_of(document))
        fact = FitFact(
            HOLDERS[owner],
            label_at(type(document), key),
            text,
            origin.by if origin else "",
            origin.on.isoformat() if origin else "",
            origin.sure if origin else "",
        )
        yield fact, origin


def _doubts(facts: Sequence[tuple[FitFact, Origin | None]], sources: Sources | None) -> Iterator[str]:
    """Point out each fact that is assumed or old, where the check that stands on it is not passed with room."""
    for fact, origin in facts:
        if origin is not None and sources is not None and (origin.sure == "assumed" or origin.is_old(sources.today)):
            yield sentence(f"{fact.label} ({fact.text})", origin, "here")
