"""Fit and rate of any number of pairs: both sides made once, pairs of equal shape solved in one batch (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from compat.calc.fit.verdicts import OUTSIDE, Judged
from compat.case.answer import NO_FLOW_M3_PER_H, at_free_speeds
from compat.case.binding_arrays import NONE, binding_code, kind_of
from compat.case.composing import arms_connected, keel_elevation_m
from compat.case.steps import faster
from compat.fit.berth_columns import berth_columns, cargo_taken
from compat.fit.catalogue import judge_all, verdict_of
from compat.fit.columns import Columns, Pairs
from compat.fit.doubts import Doubtful, doubts_of, taken
from compat.fit.doubts import stacked as stacked_doubts
from compat.fit.ship_columns import ship_columns
from compat.fit.visit_columns import cargo_columns, no_outcome, visit_columns
from compat.screening import results as parts
from compat.screening.results import Results
from compat.screening.sides import (
    BerthSide,
    ShipSide,
    berth_side,
    check_pumps,
    chosen,
    pairs_of_sides,
    rated_berth,
    rated_ship,
    shape_of,
    ship_side,
    stacked,
)
from compat.screening.terms import (
    ScreeningTerms,
    agreed_pressure_bar,
    arrival_draught_m,
    connected_counts,
    operation_of,
    visit_of,
    water_level_m,
)
from shared.calc.errors import InputError
from shared.calc.units import BAR_PA, HOUR_S
from shared.facts import Facts
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts

MOST_IN_A_BATCH = 4000
PRESSURE_STEP_BAR = 1.0
_ALL = -1


class ShipKey(NamedTuple):
    """A ship as she is, or with every pump allowed to run faster by a step."""

    ship: int
    faster: bool = False


class BerthKey(NamedTuple):
    """A berth for so many flanges (−1: not known), as it is, with more pressure, or with one arm more of a kind."""

    berth: int
    connections: int
    raised: bool = False
    extra_arm: int = -1


class Pair(NamedTuple):
    """One ship at one berth; the keel's height follows from the terms."""

    ship: ShipKey
    berth: BerthKey


@dataclass(frozen=True)
class Solved:
    """Where each pair settles: how, its rate in m3/h, pressure in bar, fastest pump in rpm, and what binds."""

    outcome: np.ndarray
    rate: np.ndarray
    pressure: np.ndarray
    speed: np.ndarray
    binding: np.ndarray


class Screen:
    """A screening ready to be worked out piece by piece; pairs count ship by ship, cargo by cargo, berth by berth."""

    def __init__(
        self,
        terms: ScreeningTerms,
        ships: Sequence[ShipFacts],
        berths: Sequence[BerthFacts],
        doubtful: tuple[Sequence[Doubtful], Sequence[Doubtful]] | None = None,
    ) -> None:
        """Take ships and berths in the order that results count by, and what of each is old or assumed, if known."""
        self.terms, self.ships, self.berths, self.doubtful = terms, ships, berths, doubtful
        self._made: dict[tuple[int, ShipKey | BerthKey], Any] = {}
        self._shapes: dict[tuple[int, ShipKey | BerthKey], int] = {}
        self._known_shapes: dict[Any, int] = {}
        self._berth_columns: dict[int, tuple[Columns, np.ndarray]] = {}
        self._waters = [water_level_m(terms, berth) for berth in berths]
        self._pressures = [agreed_pressure_bar(terms, berth) for berth in berths]

    @property
    def total(self) -> int:
        """Return how many pairs there are."""
        return len(self.ships) * len(self.terms.cargoes) * len(self.berths)

    def results(self, start: int, stop: int) -> Results:
        """Return the pairs from ``start`` up to ``stop``."""
        number = np.arange(start, min(stop, self.total))
        berth = number % len(self.berths)
        cargo = number // len(self.berths) % len(self.terms.cargoes)
        ship = number // len(self.berths) // len(self.terms.cargoes)
        made = [self._of_cargo(int(one), ship[cargo == one], berth[cargo == one]) for one in np.unique(cargo)]
        together = parts.joined(made)
        order = np.lexsort((together.berth, together.cargo, together.ship))
        return together.take(order)

    def _of_cargo(self, cargo: int, ship: np.ndarray, berth: np.ndarray) -> Results:
        pairs = [
            Pair(ShipKey(int(i)), BerthKey(int(j), self._connections(int(i), int(j))))
            for i, j in zip(ship, berth, strict=True)
        ]
        solved = self._solve(cargo, pairs)
        fit = self._fit(cargo, ship, berth, solved)
        volume = self.terms.cargoes[cargo].quantity_m3
        hours = np.full(ship.size, np.nan) if volume is None else volume / solved.rate
        made = replace(
            parts.empty(ship.size),
            ship=ship.astype(np.int32),
            berth=berth.astype(np.int32),
            cargo=np.full(ship.size, cargo, dtype=np.int16),
            **fit,
            outcome=solved.outcome,
            rate_m3_per_h=solved.rate,
            pressure_bar_gauge=solved.pressure,
            speed_rpm=solved.speed,
            hours=hours,
            binding=solved.binding,
        )
        return self._with_changes(cargo, pairs, made)

    def _connections(self, ship: int, berth: int) -> int:
        stated = self.ships[ship].manifold.connections
        arms = sum(arm.count for arm in self.berths[berth].arms)
        return _ALL if stated is None else min(stated, arms)

    def _with_changes(self, cargo: int, pairs: list[Pair], made: Results) -> Results:
        """Work out the one step that moves what binds, for pairs that are not outside."""
        changed: list[Pair] = []
        rows: list[int] = []
        change = np.zeros(len(made), dtype=np.int8)
        for row in np.flatnonzero((made.verdict != OUTSIDE) & (made.binding != NONE)).tolist():
            kind, place = kind_of(int(made.binding[row]))
            found = _change_for(kind, place, pairs[row])
            if found is not None:
                change[row] = found[0]
                changed.append(found[1])
                rows.append(row)
        gain, gain_h = np.full(len(made), np.nan), np.full(len(made), np.nan)
        if rows:
            after = self._solve(cargo, changed)
            gain[rows] = after.rate - made.rate_m3_per_h[rows]
            volume = self.terms.cargoes[cargo].quantity_m3
            if volume is not None:
                gain_h[rows] = made.hours[rows] - volume / after.rate
        return replace(made, change=change, gain_m3_per_h=gain, gain_h=gain_h)

    def _fit(self, cargo: int, ship: np.ndarray, berth: np.ndarray, solved: Solved) -> dict[str, np.ndarray]:
        stated = self.terms.cargoes[cargo]
        here, place = np.unique(ship, return_inverse=True)
        ships = [self.ships[i] for i in here]
        visits = [visit_of(self.terms, one) for one in ships]
        if cargo not in self._berth_columns:
            taken = np.array([cargo_taken(one, stated.name) for one in self.berths])
            self._berth_columns[cargo] = berth_columns([_rated(rated_berth, one, stated) for one in self.berths]), taken
        columns, taken = self._berth_columns[cargo]
        agreed = np.array([np.nan if one is None else one for one in self._pressures], dtype=float)[berth]
        visit = visit_columns(visits, np.full(len(visits), np.nan), no_outcome(len(visits))).take(place)
        said = {
            "cargo taken": taken[berth],
            "rate": solved.rate,
            "pressure": solved.pressure,
            "agreed pressure": agreed,
        }
        pairs = Pairs(
            ship_columns([_rated(rated_ship, one, stated) for one in ships]).take(place),
            columns.take(berth),
            Columns({**visit.arrays, **said}),
            cargo_columns([stated]).take(np.zeros(ship.size, dtype=int)),
        )
        judged = judge_all(pairs)
        verdict = verdict_of(judged)
        return {
            "verdict": verdict.overall,
            "deciding": verdict.deciding.astype(np.int16),
            "undecided": verdict.undecided.astype(np.int16),
            "open_checks": verdict.open_checks,
            "doubt": self._doubts(judged, pairs, ship, berth, solved),
        }

    def _doubts(
        self, judged: Sequence[Judged], pairs: Pairs, ship: np.ndarray, berth: np.ndarray, solved: Solved
    ) -> np.ndarray:
        if self.doubtful is None:
            return np.zeros(ship.size, dtype=np.int8)
        sides = []
        for known, places in zip(self.doubtful, (ship, berth), strict=True):
            here, rows = np.unique(places, return_inverse=True)
            sides.append(taken(stacked_doubts([known[int(one)] for one in here]), rows))
        return doubts_of(judged, pairs, solved.binding, sides)

    def _solve(self, cargo: int, pairs: Sequence[Pair]) -> Solved:
        """Solve pairs, those of equal shapes side by side; what lacks a fact is not worked out."""
        size = len(pairs)
        solved = Solved(
            outcome=np.full(size, parts.NOT_WORKED_OUT, dtype=np.int8),
            rate=np.full(size, np.nan),
            pressure=np.full(size, np.nan),
            speed=np.full(size, np.nan),
            binding=np.full(size, NONE, dtype=np.int32),
        )
        alike: dict[tuple[int, int], list[int]] = {}
        for row, pair in enumerate(pairs):
            shapes = self._shape(cargo, pair.ship), self._shape(cargo, pair.berth)
            if min(shapes) >= 0:
                alike.setdefault(shapes, []).append(row)
        for rows in alike.values():
            for start in range(0, len(rows), MOST_IN_A_BATCH):
                self._solve_alike(cargo, pairs, rows[start : start + MOST_IN_A_BATCH], solved)
        return solved

    def _solve_alike(self, cargo: int, pairs: Sequence[Pair], rows: list[int], solved: Solved) -> None:
        ships, ship_rows = self._stacked(cargo, [pairs[row].ship for row in rows])
        berths, berth_rows = self._stacked(cargo, [pairs[row].berth for row in rows])
        keels = np.array([self._keel(pairs[row]) for row in rows])
        ship, berth = chosen(ships, ship_rows), chosen(berths, berth_rows)
        searched = pairs_of_sides(ship, berth, keels, self.terms.cargoes[cargo])
        found = at_free_speeds(searched)
        flow = found.point.flow_m3_per_s
        rate = flow * HOUR_S
        none = (found.static_excess_pa > 0) | (rate <= NO_FLOW_M3_PER_H)
        throttled = found.point.throttled_head_m > 0
        at = found.searched if found.searched is not None else found.point
        binding = binding_code(searched.system, at, ship.allowed, berth.allowed, ship.suction, ship.power)
        pressure = searched.system.point_pressures(flow)[0][:, 0] / BAR_PA
        fastest = np.where(searched.system.pumps.count > 0, found.point.speed_rpm, -np.inf).max(-1)
        solved.outcome[rows] = np.where(none, parts.NO_POINT, np.where(throttled, parts.THROTTLED, parts.FOUND))
        solved.rate[rows] = np.where(none, np.nan, rate)
        solved.pressure[rows] = np.where(none, np.nan, pressure)
        solved.speed[rows] = np.where(none, np.nan, fastest)
        solved.binding[rows] = np.where(none, NONE, binding)

    def _keel(self, pair: Pair) -> float:
        water = self._waters[pair.berth.berth]
        draught = arrival_draught_m(self.terms, self.ships[pair.ship.ship])
        if water is None or draught is None:
            raise ValueError("A pair without water level or draught is not solved.")
        return keel_elevation_m(water, draught)

    def _stacked(self, cargo: int, keys: Sequence[ShipKey | BerthKey]) -> tuple[Any, np.ndarray]:
        places = {key: place for place, key in enumerate(dict.fromkeys(keys))}
        return stacked([self._made[cargo, key] for key in places]), np.array([places[key] for key in keys])

    def _shape(self, cargo: int, key: ShipKey | BerthKey) -> int:
        """Return which shape a side has, or −1 where it lacks a fact; the side itself is kept."""
        mark = cargo, key
        if mark not in self._shapes:
            try:
                side = self._ship(cargo, key) if isinstance(key, ShipKey) else self._berth(cargo, key)
            except (InputError, ValueError):
                self._shapes[mark] = -1
            else:
                self._made[mark] = side
                shape = type(side).__name__, shape_of(side)
                self._shapes[mark] = self._known_shapes.setdefault(shape, len(self._known_shapes))
        return self._shapes[mark]

    def _ship(self, cargo: int, key: ShipKey) -> ShipSide:
        ship, stated = self.ships[key.ship], self.terms.cargoes[cargo]
        if arrival_draught_m(self.terms, ship) is None:
            raise InputError("The draught on arrival is not known.")
        if key.faster:
            ship = ship.model_copy(update={"pumps": [faster(pump) for pump in ship.pumps]})
        operation = operation_of(self.terms, ship)
        check_pumps(ship, stated, operation)
        return ship_side(ship, stated, operation)

    def _berth(self, cargo: int, key: BerthKey) -> BerthSide:
        berth, pressure = self.berths[key.berth], self._pressures[key.berth]
        if pressure is None or self._waters[key.berth] is None:
            raise InputError("Manifold pressure or water level is not known.")
        counts = connected_counts(berth.arms, None if key.connections == _ALL else key.connections)
        arms = arms_connected(berth.arms, counts)
        if key.extra_arm >= 0:
            more = arms[key.extra_arm]
            arms[key.extra_arm] = more.model_copy(update={"count": more.count + 1})
        changes: dict[str, Any] = {"arms": arms}
        if key.raised:
            limit = berth.manifold_pressure_limit_bar_gauge
            changes["manifold_pressure_limit_bar_gauge"] = None if limit is None else limit + PRESSURE_STEP_BAR
            pressure += PRESSURE_STEP_BAR
        return berth_side(berth.model_copy(update=changes), self.terms.cargoes[cargo], pressure)


def _change_for(kind: str, place: int, pair: Pair) -> tuple[int, Pair] | None:
    if kind in {"agreed-manifold-pressure", "berth-manifold-pressure"}:
        return parts.MORE_PRESSURE, Pair(pair.ship, pair.berth._replace(raised=True))
    if kind == "speed":
        return parts.MORE_SPEED, Pair(pair.ship._replace(faster=True), pair.berth)
    if kind == "arm-velocity":
        return parts.MORE_ARMS, Pair(pair.ship, pair.berth._replace(extra_arm=place))
    return None


def _rated(rate: Any, facts: Facts, cargo: Facts) -> Any:
    """Return facts with ratings from flange tables, or as they are where the temperature is outside the table."""
    try:
        return rate(facts, cargo)
    except InputError:
        return facts
