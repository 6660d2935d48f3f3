"""One stay on its way: what comes next, and the stretch that is being worked out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from compat.calc.stay.moments import NOTHING, STAGE, Moments, Rates
from compat.calc.stay.plan import Group, Stay
from compat.calc.stay.standing import Standing
from compat.calc.stay.track import Failure
from shared.calc.root import Array, Flags

_TINY_S = 1e-3
_TINY_M3 = 1e-6
_NO_FLOW_M3_PER_S = 1e-3 / 3600.0
_MOST_ROUNDS, _RAMPED = 80, 1e-7
_SETTLED = 1e-5  # of a stretch's time and volume: what one more sweep may still change
_EVEN = 1e-4  # of a stretch's volume: what one more sweep may still move between tanks
_MOST_SHARED = 20
_LOST_SHARE = 0.02  # of its first flow: a pump that gives less has lost its suction, or meets too high a head


@dataclass
class Open:
    """The stretch being worked out: its length in m3 ashore, and time, groups and rate at its points."""

    length_m3: float
    time_s: Array
    group_m3: Array
    rate: Array
    share: Array
    code: np.ndarray
    keep_length: bool = False
    ended_by: str = ""
    settled: bool = False
    lost: int | None = None
    sweeps: int = 0
    floors: dict[int, float] = field(default_factory=dict)


class Run(Standing):
    """A stay on its way; ``open`` is the stretch that waits for rates, None when there is none."""

    def __init__(self, stay: Stay, surface_m: Array, step_s: float, points: int) -> None:
        super().__init__(stay, surface_m.shape[-1], step_s, points)
        self.surface_m = surface_m
        self.open: Open | None = None
        self.share_before: tuple[tuple[int, ...], Array] | None = None

    @property
    def row(self) -> int:
        """Return the base row of the stage under way."""
        return self.parcel.row if self.stage.kinds is None else self.stage.row

    @property
    def current(self) -> Open:
        """Return the stretch being worked out; raise RuntimeError where there is none."""
        if self.open is None:
            raise RuntimeError("no stretch is being worked out")
        return self.open

    def begin(self) -> None:
        """Go on to the next stretch that needs rates; stops and stated rates are passed on the way."""
        self.open = None
        while not self.done and self.open is None:
            if self._stop_is_due() or self._stage_is_over():
                continue
            if self.stage.kind == "line clearing":
                self._wait(self.stage.lasts_s, "line clearing")
                self._next_stage()
            elif self.receiver_is_full():
                self._next_receiver()
            else:
                self._open()

    def receiver_is_full(self) -> bool:
        """Tell whether the receiving tank under way takes no more."""
        return self.received >= self.receiver.stop_m3 - _TINY_M3

    def fail(self, kind: str, name: str = "") -> None:
        """End the stay here, with the reason."""
        self.failure, self.done, self.open = Failure(kind, self.time_s, name), True, None

    def _next_receiver(self) -> None:
        if self.receiver_at + 1 == len(self.parcel.receivers):
            self.fail("receivers full")
            return
        self.receiver_at += 1
        self.received = self.receiver.start_m3

    def _stop_is_due(self) -> bool:
        for stop in self.stops:
            by_time = stop.begins_s is not None and stop.begins_s <= self.time_s + _TINY_S
            by_volume = stop.after_m3 is not None and stop.after_m3 <= self.ashore_m3 + _TINY_M3
            if by_time or by_volume:
                self.stops.remove(stop)
                self._wait(stop.lasts_s, stop.name, shifts_stage=True)
                return True
        return False

    def _stage_is_over(self) -> bool:
        stage = self.stage
        over = self.ashore_m3 - self.stage_begun_m3 >= stage.volume_m3 - _TINY_M3
        over = over or self.time_s - self.stage_begun_s >= stage.lasts_s - _TINY_S
        drawing = stage.kind in {"line filling", "ramp", "bulk"}
        over = over or (drawing and all(self.draw(number) is None for number in range(len(self.drawn))))
        if over:
            self._next_stage()
        return over

    def _next_stage(self) -> None:
        self.stage_at += 1
        if self.stage_at == len(self.parcel.stages):
            self.stage_at, self.parcel_at = 0, self.parcel_at + 1
            if self.parcel_at == len(self.stay.parcels):
                self.done = True
                return
            self.take_up_parcel()
        self.stage_begun_s, self.stage_begun_m3 = self.time_s, self.ashore_m3
        self.splits = 0

    def _wait(self, lasts_s: float, name: str, *, shifts_stage: bool = False) -> None:
        if lasts_s <= 0:
            return
        n = self.nodes.points.size
        idle = np.zeros(n)
        time = self.time_s + lasts_s * self.nodes.points
        groups = np.tile(np.array(self.left), (n, 1))
        self.add(name, time, idle, groups, idle, np.full(n, NOTHING), np.zeros(self.kinds, dtype=bool), idle, "time")
        self.time_s = float(time[-1])
        if shifts_stage:
            self.stage_begun_s += lasts_s

    def _open(self) -> None:
        n = self.nodes.points.size
        stage = self.stage
        before = self.stretches[-1].rate_m3_per_s[-1] if self.stretches else 0.0
        guess = before or (stage.rate_m3_per_s if np.isfinite(stage.rate_m3_per_s) else 0.1)
        share = np.tile(self._first_share(), (n, 1))
        open_ = Open(guess * 60.0, np.zeros(n), np.zeros(share.shape), np.full(n, guess), share, np.zeros(n, int))
        self.open = open_
        self._follow(open_)
        open_.length_m3 *= self._stretch_of_length(open_)
        self._follow(open_)
        if self._is_stated():
            open_.rate = np.full(n, stage.rate_m3_per_s)
            open_.code = np.full(n, STAGE)
            for _ in range(3):
                self._follow(open_)
                open_.length_m3 *= self._stretch_of_length(open_)
            self._follow(open_)
            self.accept()

    def _is_stated(self) -> bool:
        return self.stage.kind == "stripping" and self.stage.kinds is None

    def _first_share(self) -> Array:
        if self.share_before is not None and self.share_before[0] == tuple(self.drawn):
            return self.share_before[1]
        drawing = np.array([float(self.draw(number) is not None) for number in range(len(self.drawn))])
        if self.stage.kind == "stripping" or not drawing.any():
            return np.zeros(drawing.shape)
        return np.asarray(drawing / drawing.sum())

    def _follow(self, open_: Open) -> None:
        """Integrate time and groups along the stretch from the rates as they are known."""
        integral = self.nodes.integral * open_.length_m3
        open_.time_s = self.time_s + integral @ (1.0 / np.maximum(open_.rate, _NO_FLOW_M3_PER_S))
        open_.group_m3 = np.array(self.left) - integral @ open_.share

    def running(self) -> Flags:
        """Return which kinds of pump run on the open stretch."""
        if self.stage.kind == "stripping":
            return np.zeros(self.kinds, dtype=bool) if self.stage.kinds is None else self.stage.kinds
        flags = np.zeros(self.kinds, dtype=bool)
        for number, group in enumerate(self.parcel.groups):
            if self.draw(number) is not None:
                flags |= group.kinds
        return flags

    def drawn_off(self) -> float:
        """Return the flow in m3/s that washing takes now."""
        if not self.running().any() or self.stage.kind != "bulk":
            return 0.0
        middle = self.time_s + _TINY_S
        return float(sum(one.flow_m3_per_s for one in self.stay.washing if one.begins_s <= middle < one.ends_s))

    def moments(self, s: Array | None = None) -> Moments:
        """Return the moments at the open stretch's points, or at parts ``s`` of it."""
        matrix = np.eye(self.nodes.points.size) if s is None else self.nodes.between(s)
        along = self.nodes.points if s is None else s
        time = matrix @ self.current.time_s
        ashore = along * self.current.length_m3
        groups = matrix @ self.current.group_m3
        capped = np.inf if self.stage.kind == "ramp" else self.stage.rate_m3_per_s
        return Moments(
            row=np.full(time.size, self.row),
            keel_m=self.stay.water.keel(time, self.ashore_kg + ashore * self.parcel.density_kg_per_m3),
            surface_m=self._surfaces(groups),
            shore_m=self.receiver.surface(self.received + ashore),
            running=np.tile(self.running(), (time.size, 1)),
            cap_m3_per_s=np.full(time.size, capped),
            drawn_off_m3_per_s=np.full(time.size, self.drawn_off()),
        )

    def _surfaces(self, groups: Array) -> Array:
        surface = np.tile(self.surface_m[self.row], (groups.shape[0], 1))
        if self.stage.kind == "stripping":
            return surface
        for number, group in enumerate(self.parcel.groups):
            draw = self.draw(number)
            if draw is not None:
                surface[:, group.kinds] = np.interp(groups[:, number], draw.volume_m3, draw.surface_m)[:, None]
        return surface

    def update(self, rates: Rates) -> None:
        """Take the rates at the points into the open stretch, and its length to the event that comes first."""
        open_ = self.current
        time_before, groups_before = open_.time_s, open_.group_m3
        open_.rate, open_.code = rates.ashore_m3_per_s, rates.code
        open_.sweeps += 1
        # Near no flow the curves hardly tell how pumps share it: what they do not settle stays as it was found.
        if self.stage.kind != "stripping" and open_.sweeps <= _MOST_SHARED:
            open_.share = self._shares(rates.pump_m3_per_s)
        if open_.rate[0] <= _NO_FLOW_M3_PER_S:
            self.fail("above the pressure at rest" if rates.static_excess_pa[0] > 0 else "no flow")
            return
        length_before = open_.length_m3
        if self.stage.kind == "ramp":
            self._bring_up(open_)
        self._follow(open_)
        stretched = 1.0 if open_.keep_length else self._stretch_of_length(open_)
        stretched = min(stretched, self._until_flow_is_lost(open_, rates.pump_m3_per_s))
        open_.length_m3 *= stretched
        stretched = open_.length_m3 / length_before
        lasts = open_.time_s[-1] - self.time_s
        still = np.abs(open_.time_s - time_before).max() <= _SETTLED * lasts
        level = np.abs(open_.group_m3 - groups_before).max(initial=0.0) <= _EVEN * open_.length_m3
        open_.settled = bool(still and level and abs(stretched - 1.0) <= _SETTLED)
        if stretched != 1.0:
            self._follow(open_)

    def _bring_up(self, open_: Open) -> None:
        """Raise the rate evenly in time from the start rate to what the pumps can make at the points."""
        full, start = open_.rate, np.minimum(self.stage.rate_m3_per_s, open_.rate)
        for _ in range(_MOST_ROUNDS):
            self._follow(open_)
            open_.length_m3 *= self._stretch_of_length(open_)
            self._follow(open_)
            part = np.clip((open_.time_s - self.stage_begun_s) / self.stage.lasts_s, 0.0, 1.0)
            before, open_.rate = open_.rate, start + (full - start) * part
            if np.abs(open_.rate - before).max() <= _RAMPED * full.max():
                break

    def _shares(self, pump_flow: Array) -> Array:
        total: Array = np.maximum(pump_flow.sum(-1, keepdims=True), _NO_FLOW_M3_PER_S)
        columns = [
            (pump_flow * group.kinds).sum(-1, keepdims=True) * (self.draw(number) is not None)
            for number, group in enumerate(self.parcel.groups)
        ]
        return np.asarray(np.concatenate(columns, -1) / total)

    def _targets(self, open_: Open) -> Iterator[tuple[str, float, float, float]]:
        """Yield every event ahead: name, how far it is away, how far the stretch goes, and its slope at the end."""
        along, slope = open_.length_m3, 1.0
        stage = self.stage
        yield "stage volume", stage.volume_m3 - (self.ashore_m3 - self.stage_begun_m3), along, slope
        yield "receiver", self.receiver.stop_m3 - self.received, along, slope
        for stop in self.stops:
            if stop.after_m3 is not None:
                yield "stop", stop.after_m3 - self.ashore_m3, along, slope
        for number in range(len(self.drawn)):
            draw = self.draw(number)
            if draw is not None and self.stage.kind != "stripping":
                fallen = self.left[number] - float(open_.group_m3[-1, number])
                yield f"group {number}", self.left[number] - draw.stop_m3, fallen, float(open_.share[-1, number])
        lasts, slower = float(open_.time_s[-1]) - self.time_s, 1.0 / max(float(open_.rate[-1]), _NO_FLOW_M3_PER_S)
        for name, at in self._times():
            yield name, at - self.time_s, lasts, slower

    def _times(self) -> Iterator[tuple[str, float]]:
        yield "step", self.time_s + self.step_s
        yield "stage time", self.stage_begun_s + self.stage.lasts_s
        for stop in self.stops:
            if stop.begins_s is not None:
                yield "stop", stop.begins_s
        for one in self.stay.washing:
            for at in (one.begins_s, one.ends_s):
                if at > self.time_s + _TINY_S:
                    yield "washing", at

    def _stretch_of_length(self, open_: Open) -> float:
        """Return by which factor the stretch has to grow to end at the first event."""
        best = np.inf
        for name, away, goes, slope in self._targets(open_):
            if not np.isfinite(away) or goes <= 0:
                continue
            factor = max(away, 0.0) / goes
            if abs(factor - 1.0) < 0.3 and slope > 0:
                # A slope that is all but nil tells nothing of how far to go; a step of a half is far enough to see.
                factor = float(np.clip(1.0 + (away - goes) / (slope * open_.length_m3), 0.5, 1.5))
            if factor < best:
                best, open_.ended_by = factor, name
        return best

    def _until_flow_is_lost(self, open_: Open, pump_flow: Array) -> float:
        """Return up to which part of the stretch every group's pumps give their least flow; infinity: all of it."""
        if self.stage.kind != "bulk":
            return np.inf
        first = np.inf
        for number, group in enumerate(self.parcel.groups):
            if self.draw(number) is None:
                continue
            each = pump_flow[:, group.kinds].max(-1)
            floor = open_.floors.setdefault(number, self._floor(group, float(each[0])))
            under = np.flatnonzero(each < floor)
            if under.size and under[0] > 0:
                j = int(under[0])
                part = (each[j - 1] - floor) / (each[j - 1] - each[j])
                at = float(self.nodes.points[j - 1] + part * (self.nodes.points[j] - self.nodes.points[j - 1]))
                if at < first:
                    first, open_.keep_length = at, True
                    open_.ended_by, open_.lost = f"lost {number}", number
        return first

    def _floor(self, group: Group, flow: float) -> float:
        stated = group.least_flow_m3_per_s
        return stated if 0.0 < stated < flow else _LOST_SHARE * flow

    def cut(self, part: float) -> None:
        """Shorten the open stretch to a part of it and keep that length."""
        open_ = self.current
        open_.length_m3 *= part
        open_.keep_length, open_.settled, open_.ended_by = True, False, "limit"
        self.splits += 1
        matrix = self.nodes.between(part * self.nodes.points)
        open_.rate, open_.share = matrix @ open_.rate, matrix @ open_.share
        self._follow(open_)

    def accept(self) -> None:
        """Take the open stretch over, and go to its end."""
        open_ = self.current
        along = open_.length_m3 * self.nodes.points
        capped = self.stage.kind in {"line filling", "stripping"}
        cap = np.full(along.size, self.stage.rate_m3_per_s) if capped else np.full(along.size, np.inf)
        cap = open_.rate if self.stage.kind == "ramp" else cap
        code = open_.code
        if self.stage.kind == "ramp":
            code = np.full(along.size, STAGE)
        name, by, off = str(self.stage.kind), open_.ended_by, self.drawn_off()
        self.add(name, open_.time_s, along, open_.group_m3, open_.rate, code, self.running(), cap, by, off)
        self.left = [float(one) for one in open_.group_m3[-1]]
        self.share_before = tuple(self.drawn), open_.share[-1]
        self.time_s = float(open_.time_s[-1])
        self.ashore_m3 += open_.length_m3
        self.ashore_kg += open_.length_m3 * self.parcel.density_kg_per_m3
        self.received += open_.length_m3
        if open_.lost is not None and open_.ended_by.startswith("lost"):
            self._take_off(open_.lost)
        self.skip_empty_draws()
        self.open = None

    def _take_off(self, group: int) -> None:
        """Take the pumps of a group off its draw; where others wait in sequence it goes on with the next."""
        draws = self.parcel.groups[group].draws
        self.drawn[group] += 1
        if self.drawn[group] < len(draws):
            self.left[group] = draws[self.drawn[group]].start_m3
