"""Loading over time: the rate from shore, within what vents and filling velocities allow, tank after tank topped off.

Between two events the tanks share the flow by fixed parts, so that volumes are exact: an inlet is covered, a tank comes
to its topping level, a tank is full. Where the shore's head sets the rate, time is integrated over the volume. SI, no
Django. The ship's own procedures for venting and static electricity decide.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.calc.errors import InputError
from shared.calc.gas_and_static import bulk_filling_flow, initial_filling_flow, loading_allowed_by_vents
from shared.calc.root import Array, Flags

NO_MORE = "nothing flows any more"
_TINY_M3 = 1e-9
_PARTS = 32  # of a stretch in which the shore's head sets the rate
_GAUSS, _WEIGHT = np.polynomial.legendre.leggauss(4)
_DRY_M3_PER_S = 1.0 / 3600.0  # below it nothing flows any more
_HALVINGS = 50


@dataclass(frozen=True)
class Supply:
    """What pumps or gravity give in m3/s over the volume loaded in m3, and what that is called."""

    rate: Callable[[Array], Array]
    name: str


@dataclass(frozen=True)
class LoadedTank:
    """A tank to be loaded: ``stop_m3`` is what it takes up to its stop margin, ``cover_m3`` what covers its inlet.

    It is shut when only ``topping_m3`` are left, and topped off after all others have come so far.
    """

    name: str
    inlet_bore_m: float
    stop_m3: float
    cover_m3: float
    topping_m3: float = 0.0


@dataclass(frozen=True)
class LoadingLimits:
    """What bounds the rate in m3/s; None where it is not known, and then it bounds nothing.

    ``shore_m3_per_s`` is the most that the shore gives. ``topping_m3_per_s`` holds while a tank is topped off.
    Filling velocities count for static accumulators only.
    """

    shore_m3_per_s: float | None
    start_m3_per_s: float | None = None
    vent_capacity_m3_per_s: float | None = None
    topping_m3_per_s: float | None = None
    static_accumulator: bool = True


@dataclass(frozen=True)
class LoadingStep:
    """A time with the same tanks open: what binds, what ends it; ``held_m3`` is what each tank took by its end.

    ``time_s`` and ``loaded_m3`` are points along it, its ends among them, with the rate there.
    """

    stage: str
    time_s: tuple[float, ...]
    loaded_m3: tuple[float, ...]
    rate_at_m3_per_s: tuple[float, ...]
    open_tanks: tuple[str, ...]
    binding: str
    ended_by: str
    held_m3: tuple[float, ...]

    @property
    def begins_s(self) -> float:
        """When it begins."""
        return self.time_s[0]

    @property
    def ends_s(self) -> float:
        """When it ends."""
        return self.time_s[-1]

    @property
    def volume_m3(self) -> float:
        """Volume loaded in this time."""
        return self.loaded_m3[-1] - self.loaded_m3[0]

    @property
    def rate_m3_per_s(self) -> float:
        """Rate at its begin, where it is highest."""
        return self.rate_at_m3_per_s[0]


@dataclass(frozen=True)
class _Phase:
    """Which tanks are open now, and the volume in each at which something changes."""

    stage: str
    is_open: Flags
    ahead_m3: Array


@dataclass(frozen=True)
class _Piece:
    """Points of a time with one binding limit."""

    time_s: Array
    loaded_m3: Array
    rate: Array
    binding: str


def load(tanks: Sequence[LoadedTank], limits: LoadingLimits, supply: Supply | None = None) -> tuple[LoadingStep, ...]:
    """Return the loading step by step; raise InputError where nothing may flow or a tank is given wrongly.

    Flow is shared by the areas of the open inlets, so that velocities in them are equal: first at 1 m/s until every
    inlet is covered, then at up to 7 m/s (International Safety Guide for Oil Tankers and Terminals, 5th ed.,
    11.1.7.3); vents take 1.25 times the rate (MSC/Circ.585, 2.6.1). where ``supply`` gives
    nothing any more, the loading ends.
    """
    _check(tanks)
    area = np.array([tank.inlet_bore_m**2 for tank in tanks])
    stop = np.array([tank.stop_m3 for tank in tanks])
    held, time = np.zeros(len(tanks)), 0.0
    steps: list[LoadingStep] = []
    while (held < stop - _TINY_M3).any():
        phase = _phase(tanks, held, stop)
        rate, binding = _rate(
            [tank for tank, here in zip(tanks, phase.is_open, strict=True) if here], limits, phase.stage
        )
        share = np.where(phase.is_open, area, 0.0) / area[phase.is_open].sum()
        with np.errstate(divide="ignore", invalid="ignore"):
            volume = float(np.where(phase.is_open, (phase.ahead_m3 - held) / share, np.inf).min())
        before, loaded = held, float(held.sum())
        names = tuple(tank.name for tank, here in zip(tanks, phase.is_open, strict=True) if here)
        for piece in _pieces(loaded, volume, rate, binding, supply):
            held = before + share * (piece.loaded_m3[-1] - loaded)
            at_mark = phase.is_open & (held >= phase.ahead_m3 - _TINY_M3 * np.maximum(stop, 1.0))
            held = np.where(at_mark, phase.ahead_m3, held)
            ended = _ended(tanks, at_mark, phase) or "another limit takes over"
            steps.append(_step(phase.stage, piece, time, names, ended, held))
            time = steps[-1].ends_s
        if float(held.sum()) < loaded + volume * (1.0 - 1e-9):
            steps[-1] = _step(phase.stage, piece, steps[-1].begins_s, names, NO_MORE, held)
            break
    return tuple(steps)


def _phase(tanks: Sequence[LoadedTank], held: Array, stop: Array) -> _Phase:
    cover = np.array([min(tank.cover_m3, tank.stop_m3) for tank in tanks])
    topping = np.maximum(stop - np.array([tank.topping_m3 for tank in tanks]), cover)
    filling = held < topping - _TINY_M3
    if (held < cover - _TINY_M3).any():
        return _Phase("start", filling, np.where(held < cover - _TINY_M3, cover, topping))
    if filling.any():
        return _Phase("bulk", filling, topping)
    first = int(np.flatnonzero(held < stop - _TINY_M3)[0])
    return _Phase("topping off", np.arange(len(tanks)) == first, stop)


def _step(stage: str, piece: _Piece, time: float, names: tuple[str, ...], ended: str, held: Array) -> LoadingStep:
    times, loaded, rates = ((time + piece.time_s).tolist(), piece.loaded_m3.tolist(), piece.rate.tolist())
    return LoadingStep(
        stage, tuple(times), tuple(loaded), tuple(rates), names, piece.binding, ended, tuple(held.tolist())
    )


def _pieces(loaded: float, volume: float, rate: float, binding: str, supply: Supply | None) -> Iterator[_Piece]:
    """Yield the times in which a volume is loaded: at the rate allowed, and where the shore gives less, at that."""
    if supply is None:
        yield _Piece(np.array([0.0, volume / rate]), np.array([loaded, loaded + volume]), np.full(2, rate), binding)
        return
    edges = _edges(loaded, volume, rate, supply)
    widths, middles = np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    inside = middles[:, None] + 0.5 * widths[:, None] * _GAUSS
    flows = np.minimum(supply.rate(inside.ravel()), rate).reshape(inside.shape)
    lasts = 0.5 * widths * (_WEIGHT / flows).sum(-1)
    along = np.minimum(supply.rate(edges), rate)
    short = supply.rate(middles) < rate
    starts = np.concatenate([[0], np.flatnonzero(short[1:] != short[:-1]) + 1, [short.size]])
    for first, last in pairwise(starts.tolist()):
        time = np.concatenate([[0.0], np.cumsum(lasts[first:last])])
        name = supply.name if short[first] else binding
        yield _Piece(time, edges[first : last + 1], along[first : last + 1], name)


def _edges(loaded: float, volume: float, rate: float, supply: Supply) -> Array:
    """Return volumes from start to end, those among them at which the shore's head begins or ends to set the rate."""
    edges = np.linspace(loaded, loaded + volume, _PARTS + 1)
    given = supply.rate(edges)
    if given[0] <= _DRY_M3_PER_S:
        raise InputError(f"Nothing can be loaded any more with {loaded:,.0f} m³ on board: {supply.name} is no flow.")
    dry = np.flatnonzero(given <= _DRY_M3_PER_S)
    if dry.size:
        last = int(dry[0])
        end = _crossing(supply, _DRY_M3_PER_S, edges[last - 1], edges[last])
        edges = np.append(edges[:last], end)
        given = given[: last + 1]
    short = given < rate
    changes = np.flatnonzero(short[1:] != short[:-1])
    return np.unique(np.append(edges, [_crossing(supply, rate, edges[one], edges[one + 1]) for one in changes]))


def _crossing(supply: Supply, rate: float, low: float, high: float) -> float:
    """Return the volume between two at which the shore gives a rate, by halving."""
    above = bool(supply.rate(np.array([low]))[0] > rate)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if bool(supply.rate(np.array([middle]))[0] > rate) == above:
            low = middle
        else:
            high = middle
    return low


def _ended(tanks: Sequence[LoadedTank], at_mark: Flags, phase: _Phase) -> str:
    """Say what the tanks that came to their marks have come to, nothing where none has."""
    names = [tank.name for tank, here in zip(tanks, at_mark, strict=True) if here]
    if not names:
        return ""
    one, who = len(names) == 1, ", ".join(names)
    stops = [tank.stop_m3 for tank, here in zip(tanks, at_mark, strict=True) if here]
    if (phase.ahead_m3[at_mark] >= np.array(stops) - _TINY_M3).all():
        return f"{who} {'is' if one else 'are'} full to {'its' if one else 'their'} stop margin"
    if phase.stage == "start":
        return f"the inlet{'' if one else 's'} of {who} {'is' if one else 'are'} covered"
    return f"{who} {'is' if one else 'are'} at {'its' if one else 'their'} topping level"


def _rate(open_tanks: Sequence[LoadedTank], limits: LoadingLimits, stage: str) -> tuple[float, str]:
    """Return the highest rate in m3/s and what binds."""
    bores = np.array([tank.inlet_bore_m for tank in open_tanks])
    known: dict[str, float] = {}
    if limits.shore_m3_per_s is not None:
        known["rate from shore"] = limits.shore_m3_per_s
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
    if not known:
        return np.inf, ""
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
