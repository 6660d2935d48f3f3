"""The parts of an answer (pure: no Django): frozen, in the units that documents are written in."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from shared.cargo_facts import Liquid

FORMAT = "berth-accord-answer/1"
Outcome = Literal["found", "throttling needed", "no operating point"]
State = Literal["kept", "binding", "exceeded", "not decided"]
Owner = Literal["ship", "terminal", "both"]


@dataclass(frozen=True)
class PumpReading:
    """What one pump does, and what its gauges should read; None where it stands, or where it is not known.

    ``suction_allows_m3_per_h`` is the highest flow at this level and speed that keeps the pump's suction, None where
    that is all it was tested for. Levels are of the tank's surface over the keel: below the first the pump has to slow
    down, below the second it loses suction or lift even at its least continuous flow. None where it is not known, or
    where no tank reaches so far down; ``level_note`` then says which.
    """

    pump: str
    name: str
    running: bool
    speed_rpm: float | None = None
    flow_m3_per_h: float = 0.0
    head_m: float | None = None
    suction_pressure_bar_gauge: float | None = None
    discharge_pressure_bar_gauge: float | None = None
    npsh_available_m: float | None = None
    npsh_required_m: float | None = None
    suction_allows_m3_per_h: float | None = None
    slow_below_level_m: float | None = None
    stop_below_level_m: float | None = None
    level_note: str = ""
    least_flow_m3_per_h: float | None = None
    shaft_power_kw: float | None = None
    beyond_curve: bool = False


@dataclass(frozen=True)
class EductorReading:
    """An eductor driven by the cargo pumps: what it takes from them, and what it strips into a tank on board.

    None where it is not known: without its drive liquid, or without the height of its outlet.
    """

    pump: str
    name: str
    drive_flow_m3_per_h: float | None
    drive_head_m: float
    stripped_flow_m3_per_h: float | None


@dataclass(frozen=True)
class ArmFlow:
    """What goes through each arm of one kind."""

    name: str
    count: int
    flow_each_m3_per_h: float
    velocity_m_per_s: float


@dataclass(frozen=True)
class ProfilePoint:
    """One point between manifold and the end of the shore line."""

    name: str
    distance_m: float
    elevation_m: float
    head_m: float
    pressure_bar_gauge: float
    rating_bar_gauge: float | None


@dataclass(frozen=True)
class TankFlow:
    """What goes into one of several receiving tanks; below zero, it runs out of it."""

    name: str
    flow_m3_per_h: float


@dataclass(frozen=True)
class BoosterReading:
    """What the booster pump on the shore line does; ``shut_off_head_m`` is its head at no flow."""

    name: str
    discharge_pressure_bar_gauge: float
    shut_off_head_m: float
    beyond_curve: bool


@dataclass(frozen=True)
class ShoreFit:
    """How a shore known from observed pairs was fitted: manifold head = static + k Q^exponent.

    A residual is fitted less observed pressure, of the liquid that was observed; the head lost by the liquid now pumped
    is ``loss_factor`` times as much, as its viscosity is ``viscosity_ratio`` times that of the observed one.
    """

    pairs: int
    rates_m3_per_h: tuple[float, ...]
    observed_bar_gauge: tuple[float, ...]
    exponent: float
    static_pressure_bar_gauge: float
    residuals_bar: tuple[float, ...]
    least_trusted_m3_per_h: float
    greatest_trusted_m3_per_h: float
    viscosity_ratio: float
    loss_factor: float

    @property
    def rows(self) -> list[tuple[float, float, float, float]]:
        """Return rate, observed and fitted pressure, and what lies between them, pair by pair."""
        each = zip(self.rates_m3_per_h, self.observed_bar_gauge, self.residuals_bar, strict=True)
        return [(rate, seen, seen + missed, missed) for rate, seen, missed in each]


@dataclass(frozen=True)
class LimitRow:
    """One limit: what is allowed, what it comes to, and what is left; ``ask`` says who can tell what is missing."""

    key: str
    label: str
    owner: Owner
    source: str
    state: State
    unit: str
    value: float | None
    allowed: float | None
    margin: float | None
    ask: str = ""

    @property
    def relative_margin(self) -> float:
        """Margin as a fraction of what is allowed; infinite where it is not decided."""
        if self.margin is None or not self.allowed:
            return float("inf")
        return self.margin / abs(self.allowed)


@dataclass(frozen=True)
class Readings:
    """Everything that is read off one operating point, before the limits are held against it."""

    total_flow_m3_per_h: float
    pumps: tuple[PumpReading, ...]
    arms: tuple[ArmFlow, ...]
    profile: tuple[ProfilePoint, ...]
    tanks: tuple[TankFlow, ...]
    shut_off_head_m: float
    booster: BoosterReading | None
    lowest_pump_m: float
    ship_line_pressure_bar_gauge: float

    @property
    def manifold_pressure_bar_gauge(self) -> float:
        """Gauge pressure at the ship's manifold."""
        return self.profile[0].pressure_bar_gauge


@dataclass(frozen=True)
class Answer:
    """One case answered; ``reason`` says in a sentence why, where there is no plain operating point."""

    title: str
    outcome: Outcome
    reason: str
    converged: bool
    residual_m: float
    total_flow_m3_per_h: float | None
    common_speed_rpm: float | None
    throttled_head_m: float
    manifold_pressure_bar_gauge: float | None
    manifold_pressure_at_rest_bar_gauge: float
    pumps: tuple[PumpReading, ...]
    arms: tuple[ArmFlow, ...]
    limits: tuple[LimitRow, ...]
    binding: str | None
    questions: tuple[str, ...]
    cautions: tuple[str, ...]
    profile: tuple[ProfilePoint, ...]
    tanks: tuple[TankFlow, ...]
    shore_fit: ShoreFit | None
    liquid: Liquid
    eductors: tuple[EductorReading, ...] = ()

    def document(self) -> dict[str, Any]:
        """Return the answer as a JSON document."""
        return {"format": FORMAT, **_lists(asdict(self))}


def _lists(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _lists(item) for key, item in value.items()}
    return [_lists(item) for item in value] if isinstance(value, tuple) else value
