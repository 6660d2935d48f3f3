"""What stands at the ends of the line and in its joints: pumps, tanks, valves, a booster, a relief valve.

Each is asked once a time step for head [m] and flow [m3/s] at its place, given what the waves bring there:
``from_left`` = H + BQ of the reach before it, ``from_right`` = H - BQ of the reach behind it, each less friction
(Wylie & Streeter 1993, ch. 3; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf, sqrt
from typing import Protocol

from shared.calc.root import Array

_HALVINGS = 40


class Joint(Protocol):
    """Something in a joint of the line."""

    def step(
        self, step: int, from_left: float, left: float, from_right: float, right: float, /
    ) -> tuple[float, float, float, float]:
        """Return head and flow on its left and on its right; ``left`` and ``right`` are the impedances B."""
        ...


class FarEnd(Protocol):
    """What the line ends in."""

    def step(self, step: int, from_left: float, left: float, /) -> tuple[float, float]:
        """Return head and flow at the end."""
        ...


class NearEnd(Protocol):
    """What the line starts from."""

    def step(self, step: int, from_right: float, right: float, /) -> tuple[float, float]:
        """Return head and flow at the start."""
        ...


def _valve_flow(head: float, impedance: float, loss: float) -> float:
    """Return Q of k Q|Q| + B Q = head; none through a shut valve, whose k is infinite."""
    if loss == inf:
        return 0.0
    return 2.0 * head / (impedance + sqrt(impedance * impedance + 4.0 * loss * abs(head)))


@dataclass
class Valve:
    """A valve in a joint; ``loss`` is its k of k Q|Q| at each time step, the last one holds on."""

    loss: Sequence[float]

    def step(
        self, step: int, from_left: float, left: float, from_right: float, right: float
    ) -> tuple[float, float, float, float]:
        """Pass what its loss lets through."""
        loss = self.loss[step] if step < len(self.loss) else self.loss[-1]
        flow = _valve_flow(from_left - from_right, left + right, loss)
        return from_left - left * flow, flow, from_right + right * flow, flow


@dataclass
class Tank:
    """A surface of constant head behind the far end, through a valve where ``loss`` is given."""

    head_m: float
    loss: Sequence[float] = (0.0,)

    def step(self, step: int, from_left: float, left: float) -> tuple[float, float]:
        """Take what comes against the surface."""
        loss = self.loss[step] if step < len(self.loss) else self.loss[-1]
        flow = _valve_flow(from_left - self.head_m, left, loss)
        return from_left - left * flow, flow


@dataclass
class Reservoir:
    """A surface of constant head before the near end, without a non-return valve."""

    head_m: float

    def step(self, _step: int, from_right: float, right: float) -> tuple[float, float]:
        """Give what the line takes."""
        return self.head_m, (self.head_m - from_right) / right


@dataclass
class HeldFlow:
    """Flows given at the near end, one for each time step; the last one holds on."""

    flow_m3_per_s: Sequence[float]

    def step(self, step: int, from_right: float, right: float) -> tuple[float, float]:
        """Give the stated flow."""
        flow = self.flow_m3_per_s[step] if step < len(self.flow_m3_per_s) else self.flow_m3_per_s[-1]
        return from_right + right * flow, flow


@dataclass
class HeadCurve:
    """Head gained [m] over flow [m3/s], falling, straight between its points and beyond the last by Q².

    ``flows`` start at 0 and rise.
    """

    flows: Sequence[float]
    heads: Sequence[float]
    _at: int = field(default=0, init=False)
    _bend: float = field(default=0.0, init=False)

    def __post_init__(self) -> None:
        slope = (self.heads[-1] - self.heads[-2]) / (self.flows[-1] - self.flows[-2])
        self._bend = max(-slope / (2.0 * self.flows[-1]), 1e-9)

    def meets(self, impedance: float, head: float) -> float:
        """Return the flow at which the curve equals ``head`` + impedance * flow; 0 where it can't reach it."""
        flows, heads = self.flows, self.heads
        if heads[0] <= head:
            return 0.0
        i, last = self._at, len(flows) - 1
        while i < last and heads[i + 1] - impedance * flows[i + 1] > head:
            i += 1
        while i > 0 and heads[i] - impedance * flows[i] <= head:
            i -= 1
        if i == last:
            self._at = last - 1
            free = heads[last] + self._bend * flows[last] ** 2 - head
            return 2.0 * free / (impedance + sqrt(impedance * impedance + 4.0 * self._bend * free))
        self._at = i
        slope = (heads[i + 1] - heads[i]) / (flows[i + 1] - flows[i])
        return flows[i] + (heads[i] - impedance * flows[i] - head) / (impedance - slope)


@dataclass
class PumpEnd:
    """Centrifugal pumps side by side behind their non-return valves, as one curve over the tank's head.

    ``curve`` holds at full speed; ``speed`` is the fraction of it at each time step, the last one holds on. From
    ``trips_at`` on the driver is off: without ``run_down_s`` the pumps stop at once, which is the worst for the line;
    else they slow down by what they still pump. ``run_down_s`` is the moments of inertia times the square of the
    angular velocity, over the shaft power, all at the start. Affinity laws hold at reduced speed.
    """

    tank_head_m: float
    curve: HeadCurve
    step_s: float
    speed: Sequence[float] = (1.0,)
    trips_at: int | None = None
    run_down_s: float | None = None
    power_at_start: float = 1.0
    _now: float = field(default=1.0, init=False)

    def step(self, step: int, from_right: float, right: float) -> tuple[float, float]:
        """Give what the curve gives against the line; nothing flows back."""
        if self.trips_at is None or step < self.trips_at:
            speed = self.speed[step] if step < len(self.speed) else self.speed[-1]
            self._now = speed
        elif self.run_down_s is None:
            return from_right, 0.0
        speed = self._now
        if speed <= 1e-3:
            return from_right, 0.0
        flow = speed * self.curve.meets(right / speed, (from_right - self.tank_head_m) / speed**2)
        head = from_right + right * flow
        if self.trips_at is not None and step >= self.trips_at and self.run_down_s is not None:
            power = flow * max(head - self.tank_head_m, 0.0) / self.power_at_start
            self._now = max(speed - power * self.step_s / (self.run_down_s * speed), 0.0)
        return head, flow


@dataclass
class Booster:
    """A pump on the line that goes on running, with a non-return valve."""

    curve: HeadCurve

    def step(
        self, _step: int, from_left: float, left: float, from_right: float, right: float
    ) -> tuple[float, float, float, float]:
        """Raise the head by the curve."""
        flow = self.curve.meets(left + right, from_right - from_left)
        return from_left - left * flow, flow, from_right + right * flow, flow


@dataclass
class ThrottledBooster:
    """A booster with a valve right before it; ``loss`` is the valve's k of k Q² at each time step."""

    curve: HeadCurve
    loss: Sequence[float]

    def step(
        self, step: int, from_left: float, left: float, from_right: float, right: float
    ) -> tuple[float, float, float, float]:
        """Raise the head by the curve less what the valve takes, by halving: both fall with the flow."""
        loss = self.loss[step] if step < len(self.loss) else self.loss[-1]
        low, high = 0.0, 0.0 if loss == inf else self.curve.meets(left + right, from_right - from_left)
        for _ in range(_HALVINGS if loss > 0.0 else 0):
            middle = 0.5 * (low + high)
            free = self.curve.meets(left + right, from_right - from_left + loss * middle * middle) > middle
            low, high = (middle, high) if free else (low, middle)
        return from_left - left * high, high, from_right + right * high, high


@dataclass
class ReliefValve:
    """A relief valve: opens evenly between two heads [m], then passes its full flow [m3/s] and no more."""

    opens_at_head_m: float
    full_at_head_m: float
    full_flow_m3_per_s: float

    def step(
        self, _step: int, from_left: float, left: float, from_right: float, right: float
    ) -> tuple[float, float, float, float]:
        """Let out what is over the set head."""
        admits = 1.0 / left + 1.0 / right
        brought = from_left / left + from_right / right
        gain = self.full_flow_m3_per_s / (self.full_at_head_m - self.opens_at_head_m)
        head = brought / admits
        if head > self.opens_at_head_m:
            head = (brought + gain * self.opens_at_head_m) / (admits + gain)
            if head > self.full_at_head_m:
                head = (brought - self.full_flow_m3_per_s) / admits
        return head, (from_left - head) / left, head, (head - from_right) / right


def as_steps(values: Array) -> Sequence[float]:
    """Return numbers over time as plain floats, which a loop reads faster than an array's."""
    return [float(value) for value in values]
