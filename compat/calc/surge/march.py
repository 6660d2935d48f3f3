"""The march in time: head and flow at every node of the line, one time step after the other.

Along C+ and C- of the method of characteristics, with friction R Q|Q| taken at the foot of each reach
(Wylie & Streeter 1993, ch. 3; from memory). R is that of the steady state, which so stays as it is; wall friction is
quasi-steady, the convective terms and the change of the friction factor with the flow are left out.
"""

from __future__ import annotations

from collections.abc import Mapping, MutableSequence, Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from compat.calc.surge.ends import FarEnd, Joint, NearEnd
from compat.calc.surge.grid import Grid
from shared.calc.root import Array

_BLOCK_NUMBERS = 50_000  # heads held at a time, so that a block stays in the nearest caches
_LEAST_BLOCK, _MOST_BLOCK = 8, 256

_Waves = tuple[MutableSequence[float], MutableSequence[float], MutableSequence[float], MutableSequence[float]]


@dataclass(frozen=True)
class Line:
    """A line ready to march: grid, steady heads and flows at the nodes, and what stands at ends and joints.

    ``joints`` holds what stands behind run j, by j.
    """

    grid: Grid
    head_m: Array
    flow_m3_per_s: Array
    near: NearEnd
    far: FarEnd
    joints: Mapping[int, Joint]


@dataclass(frozen=True)
class Envelope:
    """Greatest and least head at each node; head and flow of the ``watched`` nodes over time, from the start on.

    ``low_from_s`` is the first time at which a node fell below its ``least_allowed_head_m``, at ``low_node``; what
    comes after is left out of everything here.
    """

    steps: int
    greatest_head_m: Array
    least_head_m: Array
    time_s: Array
    watched_head_m: Array
    watched_flow_m3_per_s: Array
    low_from_s: float | None
    low_node: int | None


def resistance(grid: Grid) -> Array:
    """Return R of each run's reaches, so that n R Q|Q| is the loss stated for the run at its flow."""
    each = [run.loss_m / (run.loss_at_m3_per_s**2 * n) for run, n in zip(grid.runs, grid.reaches, strict=True)]
    return np.array(each)


def steady_state(grid: Grid, start_head_m: float, flow_m3_per_s: float, gains_m: Mapping[int, float]) -> Array:
    """Return the head at each node for a flow all along; ``gains_m`` is the head gained in the joint behind run j."""
    found = np.zeros(grid.nodes)
    head = start_head_m
    drops = resistance(grid) * flow_m3_per_s * abs(flow_m3_per_s)
    for j, (first, last) in enumerate(zip(grid.first, grid.last, strict=True)):
        found[first : last + 1] = head - drops[j] * np.arange(last - first + 1)
        head = float(found[last]) + gains_m.get(j, 0.0)
    return found


def march(
    line: Line,
    steps: int,
    watch: Sequence[int] = (),
    least_allowed_head_m: Array | None = None,
    ends_above_m: Array | None = None,
) -> Envelope:
    """March a number of steps and return the envelope; stop where a head falls below the least allowed.

    It ends soon after a head came to lie above ``ends_above_m``: who only asks whether one does need not wait.
    """
    state = _State(line, tuple(watch), least_allowed_head_m)
    above2 = None if ends_above_m is None else 2.0 * ends_above_m
    done = 0
    while done < steps and state.low is None and (above2 is None or (state.greatest2 <= above2).all()):
        rows = min(state.rows, steps - done)
        state.run(done, rows)
        state.keep(done, rows)
        done += rows
    return state.envelope(done)


def _view(array: Array) -> MutableSequence[float]:
    """Return an array of one axis as a plain sequence of numbers: one number is read and set faster so."""
    return cast(MutableSequence[float], memoryview(array))  # type: ignore[arg-type]


class _State:
    """Arrays of the march: what runs either way now, a block of time steps, and the envelope so far.

    ``down`` = H + BQ and ``up`` = H - BQ leave each node, friction of the reach before them taken off already.
    A block holds 2H and 2BQ, the sum and the difference of what meets at a node: each step costs seven passes.
    """

    def __init__(self, line: Line, watch: tuple[int, ...], least: Array | None) -> None:
        grid, nodes = line.grid, line.grid.nodes
        self.line, self.watch = line, list(watch)
        self.rows = int(np.clip(_BLOCK_NUMBERS // nodes, _LEAST_BLOCK, _MOST_BLOCK)) & ~1  # even: buffers alternate
        self.impedance = grid.per_node(grid.impedance_s_per_m2)
        self.resistance = grid.per_node(resistance(grid))
        friction = self.resistance * line.flow_m3_per_s * np.abs(line.flow_m3_per_s)
        drive = self.impedance * line.flow_m3_per_s - friction
        self.down = [line.head_m + drive, np.empty(nodes)]
        self.up = [line.head_m - drive, np.empty(nodes)]
        self.heads2, self.drives2 = np.empty((self.rows, nodes)), np.empty((self.rows, nodes))
        self.greatest2, self.least2 = 2.0 * line.head_m, 2.0 * line.head_m
        self.low_below2 = None if least is None else 2.0 * least
        self.shared_heads = [grid.last[j] for j in range(len(grid.runs) - 1) if j not in line.joints]
        self.watched = [(line.head_m[None, self.watch], line.flow_m3_per_s[None, self.watch])]
        self.low: tuple[int, int] | None = None
        self._check_low(0, 2.0 * line.head_m[None, :])

    def run(self, done: int, rows: int) -> None:
        """March a block of rows, each from the one before it."""
        friction = (self.resistance / (4.0 * self.impedance**2))[1:-1]
        lost = np.empty_like(friction)
        turns = [self._views(0, 1), self._views(1, 0)]
        drives, heads = list(self.drives2[:, 1:-1]), list(self.heads2[:, 1:-1])
        places = self._places()
        absolute, multiply, subtract, add = np.absolute, np.multiply, np.subtract, np.add
        for row in range(rows):
            down, up, new_down, new_up, waves = turns[row & 1]
            drive = drives[row]
            subtract(down, up, drive)
            absolute(drive, lost)
            multiply(lost, drive, lost)
            multiply(lost, friction, lost)
            subtract(down, lost, new_down)
            add(up, lost, new_up)
            add(down, up, heads[row])
            places.step(done + row + 1, row, waves)

    def _views(self, old: int, new: int) -> tuple[Array, Array, Array, Array, _Waves]:
        down, up, new_down, new_up = self.down[old], self.up[old], self.down[new], self.up[new]
        waves = (_view(down), _view(up), _view(new_down), _view(new_up))
        return down[:-2], up[2:], new_down[1:-1], new_up[1:-1], waves

    def _places(self) -> _Places:
        return _Places(self.line, self.resistance, self.watch, self.heads2.reshape(-1), self.drives2.reshape(-1))

    def keep(self, done: int, rows: int) -> None:
        """Put a block into the envelope; it has an even number of rows unless it is the last."""
        block = self.heads2[:rows]
        for at in self.shared_heads:
            block[:, at + 1] = block[:, at]
        self._check_low(done + 1, block)
        if self.low is not None:
            block = block[: max(self.low[0] - done - 1, 0)]
        if not len(block):
            return
        np.maximum(self.greatest2, block.max(0), out=self.greatest2)
        np.minimum(self.least2, block.min(0), out=self.least2)
        flows = 0.5 * self.drives2[: len(block), self.watch] / self.impedance[self.watch]
        self.watched.append((0.5 * block[:, self.watch], flows))

    def _check_low(self, step_of_first_row: int, block2: Array) -> None:
        if self.low_below2 is None or self.low is not None or not (block2.min(0) < self.low_below2).any():
            return
        row = int((block2 < self.low_below2).any(1).argmax())
        self.low = (step_of_first_row + row, int((self.low_below2 - block2[row]).argmax()))

    def envelope(self, done: int) -> Envelope:
        """Return what was met."""
        step = self.line.grid.step_s
        heads, flows = (np.concatenate(parts) for parts in zip(*self.watched, strict=True))
        low = self.low
        return Envelope(
            steps=done,
            greatest_head_m=0.5 * self.greatest2,
            least_head_m=0.5 * self.least2,
            time_s=np.asarray(np.arange(len(heads)) * step, dtype=float),
            watched_head_m=heads,
            watched_flow_m3_per_s=flows,
            low_from_s=None if low is None else low[0] * step,
            low_node=None if low is None else low[1],
        )


class _Places:
    """Ends and joints, one by one in plain numbers: there are few of them."""

    def __init__(self, line: Line, resistances: Array, watch: list[int], heads2: Array, drives2: Array) -> None:
        grid = line.grid
        self.near, self.far, self.nodes = line.near, line.far, grid.nodes
        self.heads2, self.drives2 = _view(heads2), _view(drives2)
        b = [float(value) for value in grid.impedance_s_per_m2]
        r = [float(resistances[first]) for first in grid.first]
        self.near_values, self.far_values = (b[0], r[0]), (b[-1], r[-1])
        pairs = range(len(b) - 1)
        each = [(j, grid.last[j], b[j], r[j], b[j + 1], r[j + 1]) for j in pairs]
        self.plain = [
            (at in watch or at + 1 in watch, at, bl, rl, br, rr, 1.0 / (bl + br))
            for j, at, bl, rl, br, rr in each
            if j not in line.joints
        ]
        self.joints = [(line.joints[j].step, at, bl, rl, br, rr) for j, at, bl, rl, br, rr in each if j in line.joints]

    def step(self, step: int, row: int, waves: _Waves) -> None:
        """Set head and flow at every end and joint, and what leaves there."""
        down, up, new_down, new_up = waves
        heads2, drives2, base, last = self.heads2, self.drives2, row * self.nodes, self.nodes - 1
        b, r = self.near_values
        head, flow = self.near.step(step, up[1], b)
        heads2[base], drives2[base] = 2.0 * head, 2.0 * b * flow
        new_down[0] = head + (b - r * abs(flow)) * flow
        b, r = self.far_values
        head, flow = self.far.step(step, down[last - 1], b)
        heads2[base + last], drives2[base + last] = 2.0 * head, 2.0 * b * flow
        new_up[last] = head - (b - r * abs(flow)) * flow
        for seen, at, bl, rl, br, rr, inverse in self.plain:
            from_left, i = down[at - 1], base + at
            flow = (from_left - up[at + 2]) * inverse
            head, size = from_left - bl * flow, abs(flow)
            heads2[i] = 2.0 * head
            if seen:
                drives2[i], drives2[i + 1] = 2.0 * bl * flow, 2.0 * br * flow
            new_up[at], new_down[at + 1] = head - (bl - rl * size) * flow, head + (br - rr * size) * flow
        for act, at, bl, rl, br, rr in self.joints:
            i = base + at
            head, flow, next_head, next_flow = act(step, down[at - 1], bl, up[at + 2], br)
            heads2[i], heads2[i + 1] = 2.0 * head, 2.0 * next_head
            drives2[i], drives2[i + 1] = 2.0 * bl * flow, 2.0 * br * next_flow
            new_up[at] = head - (bl - rl * abs(flow)) * flow
            new_down[at + 1] = next_head + (br - rr * abs(next_flow)) * next_flow
