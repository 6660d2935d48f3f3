"""Loading over time: the rate from shore, within what vents and filling velocities allow, tank after tank topped off.

Everything is constant between two events, so that times are exact: an inlet is covered, a tank comes to its topping
level, a tank is full. SI, no Django. The ship's own procedures for venting and static electricity decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shared.calc.errors import InputError
from shared.calc.gas_and_static import bulk_filling_flow, initial_filling_flow, loading_allowed_by_vents

_TINY_M3 = 1e-9


@dataclass(frozen=True)
class LoadedTank:
    """A tank to be loaded: ``stop_m3`` is what it takes up to its stop margin, ``cover_m3`` what covers its inlet."""

    name: str
    inlet_bore_m: float
    stop_m3: float
    cover_m3: float
    topping_m3: float = 0.0


@dataclass(frozen=True)
class LoadingLimits:
    """What bounds the rate in m3/s; None where it is not known, and then it bounds nothing.

    ``shore_m3_per_s`` is what the shore gives by pumps or gravity; ``topping_m3_per_s`` holds while a single tank
    that is open last is topped off. Filling velocities count for static accumulators only.
    """

    shore_m3_per_s: float
    start_m3_per_s: float | None = None
    vent_capacity_m3_per_s: float | None = None
    topping_m3_per_s: float | None = None
    static_accumulator: bool = True


@dataclass(frozen=True)
class LoadingStep:
    """A time of constant rate: open tanks, what binds, what ends it; ``held_m3`` is what each tank took by then."""

    stage: str
    begins_s: float
    ends_s: float
    rate_m3_per_s: float
    open_tanks: tuple[str, ...]
    binding: str
    ended_by: str
    held_m3: tuple[float, ...]

    @property
    def volume_m3(self) -> float:
        """Volume loaded in this time."""
        return self.rate_m3_per_s * (self.ends_s - self.begins_s)


def load(tanks: Sequence[LoadedTank], limits: LoadingLimits) -> tuple[LoadingStep, ...]:
    """Return the loading step by step; raise InputError where nothing may flow or a tank is given wrongly.

    Flow is shared by the areas of the open inlets, so that velocities in them are equal: first at 1 m/s until every
    inlet is covered, then at up to 7 m/s (International Safety Guide for Oil Tankers and Terminals, 5th ed.,
    11.1.7.3); vents take 1.25 times the rate (MSC/Circ.585, 2.6.1).
    """
    _check(tanks)
    area = np.array([tank.inlet_bore_m**2 for tank in tanks])
    stop = np.array([tank.stop_m3 for tank in tanks])
    cover = np.array([min(tank.cover_m3, tank.stop_m3) for tank in tanks])
    topping = np.array([max(tank.stop_m3 - tank.topping_m3, 0.0) for tank in tanks])
    held, time = np.zeros(len(tanks)), 0.0
    steps: list[LoadingStep] = []
    while (held < stop - _TINY_M3).any():
        is_open = held < stop - _TINY_M3
        covered = bool((held >= cover - _TINY_M3).all())
        last = bool(is_open.sum() == 1 and covered and held[is_open][0] >= topping[is_open][0] - _TINY_M3)
        stage = "start" if not covered else "topping off" if last else "bulk"
        rate, binding = _rate([tank for tank, here in zip(tanks, is_open, strict=True) if here], limits, stage)
        share = np.where(is_open, area, 0.0) / area[is_open].sum()
        ahead = _ahead(held, cover if not covered else topping, stop, only_last=covered and is_open.sum() == 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            wait = np.where(is_open & (share > 0), (ahead - held) / (share * rate), np.inf)
        first = int(wait.argmin())
        held = np.minimum(held + share * rate * wait[first], stop)
        held[first] = ahead[first]
        ended = _ended(tanks[first].name, ahead[first], stop[first], covered=covered)
        names = tuple(tank.name for tank, here in zip(tanks, is_open, strict=True) if here)
        steps.append(
            LoadingStep(stage, time, time + float(wait[first]), rate, names, binding, ended, tuple(held.tolist()))
        )
        time += float(wait[first])
    return tuple(steps)


def _ahead(held: np.ndarray, mark: np.ndarray, stop: np.ndarray, *, only_last: bool) -> np.ndarray:
    """Return the next volume of each tank at which something changes: its mark where that counts, or its stop."""
    counts = held < mark - _TINY_M3
    if not only_last and (held >= mark - _TINY_M3).all():
        return stop
    return np.where(counts, mark, stop)


def _ended(name: str, at: float, stop: float, *, covered: bool) -> str:
    if at >= stop - _TINY_M3:
        return f"{name} is full to its stop margin"
    return f"{name} is at its topping level" if covered else f"the inlet of {name} is covered"


def _rate(open_tanks: Sequence[LoadedTank], limits: LoadingLimits, stage: str) -> tuple[float, str]:
    """Return the highest rate in m3/s and what binds."""
    bores = np.array([tank.inlet_bore_m for tank in open_tanks])
    known: dict[str, float] = {"rate from shore": limits.shore_m3_per_s}
    if limits.vent_capacity_m3_per_s is not None:
        known["vents at 1.25 times the rate"] = float(loading_allowed_by_vents(limits.vent_capacity_m3_per_s))
    if limits.static_accumulator:
        slow = stage == "start"
        flow = initial_filling_flow(bores) if slow else bulk_filling_flow(bores)
        known["1 m/s in the inlets" if slow else "7 m/s in the inlets"] = float(flow.sum())
    if stage == "start" and limits.start_m3_per_s is not None:
        known["agreed start rate"] = limits.start_m3_per_s
    if stage == "topping off" and limits.topping_m3_per_s is not None:
        known["topping-off rate"] = limits.topping_m3_per_s
    binding = min(known, key=lambda name: known[name])
    if known[binding] <= 0:
        raise InputError(
            f"Nothing can be loaded: {binding} is {known[binding] * 3600.0:g} m³/h; allowed: above 0 m³/h."
        )
    return known[binding], binding


def _check(tanks: Sequence[LoadedTank]) -> None:
    names = [tank.name for tank in tanks]
    twice = sorted({name for name in names if names.count(name) > 1})
    if not tanks or twice:
        raise InputError(f"Tank {', '.join(twice)} is given twice; give each once." if twice else "No tank is given.")
    for tank in tanks:
        if tank.stop_m3 <= 0 or tank.cover_m3 < 0 or not 0 <= tank.topping_m3 <= tank.stop_m3:
            raise InputError(
                f"Tank {tank.name}: stop volume {tank.stop_m3:g} m³, to cover the inlet {tank.cover_m3:g} m³, topping"
                f" {tank.topping_m3:g} m³; allowed: stop above 0, the others from 0 to the stop volume."
            )
