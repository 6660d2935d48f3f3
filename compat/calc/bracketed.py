"""The same balances as ``balance``, by brackets within brackets: slower, and sure to end.

The pumps' flows against a junction head are searched one by one; around that, the total flow, the
speed setting or the throttled head. Every bracket's ends come from physics: no flow, the flow against
the head at rest, the speed range, the pumps' head at no flow. Where a curve is so flat that the flow at a head
can't be told to the last digits, the flows on both sides of the root are mixed until they add up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from compat.calc.balance import FLOW_TOLERANCE_M3_PER_S, Balance, SpeedRule
from compat.calc.system import ShipShore
from shared.calc.root import Array, Root, find_falling_root
from vessels.calc.pump_group import FlowsAtHead, flows_at_head

_NARROWEST, _WIDEST, _WIDENING = 1e-15, 1e-6, 8.0  # relative distance from a root to the two points that are mixed
_MIXED_HEAD_M = 1e-6  # a mix that leaves more head than this between pumps and junction is no solution


def bracket_flow(system: ShipShore, speed_rpm: Array) -> Balance:
    """Search the total flow at given speeds, from no flow to the flow against the head at rest."""
    search = _PumpSearch(system)

    def surplus(flow: Array) -> tuple[Array, Array]:
        head, slope = system.junction_head(flow)
        found = search.flows(head, speed_rpm)
        return search.total(found.flow_m3_per_s) - flow, search.total(found.by_head) * slope - 1.0

    nothing = np.zeros(system.density_kg_per_m3.shape)
    most, _ = surplus(nothing)
    root = find_falling_root(surplus, nothing, most, tolerance=FLOW_TOLERANCE_M3_PER_S)
    found = search.flows(system.junction_head(root.value)[0], speed_rpm)
    balance = _balance(found, root, np.zeros_like(nothing))

    def flows(total: Array) -> tuple[Array, Array, Array]:
        head = system.junction_head(total)[0]
        return search.flows(head, speed_rpm).flow_m3_per_s, speed_rpm, head

    mixed = _mixed(search, balance, flows, lambda total: total)
    return replace(mixed, free=np.where(balance.converged, mixed.free, search.total(mixed.pump_flow_m3_per_s)))


def bracket_speed(system: ShipShore, rule: SpeedRule, flow_m3_per_s: Array) -> Balance:
    """Search the speed setting for a total flow, over the whole range of the rule."""
    search = _PumpSearch(system)
    head, _ = system.junction_head(flow_m3_per_s)

    def lack(setting: Array) -> tuple[Array, Array]:
        speed, slope = rule.speeds(setting)
        found = search.flows(head, speed)
        return flow_m3_per_s - search.total(found.flow_m3_per_s), -search.total(found.by_speed * slope)

    least, greatest = rule.least_setting, rule.greatest_setting
    too_much = lack(least)[0] <= 0
    root = find_falling_root(
        lack, least, np.where(too_much, least, greatest), start=greatest, tolerance=FLOW_TOLERANCE_M3_PER_S
    )
    setting = np.where(too_much, least, root.value)
    found = search.flows(head, rule.speeds(setting)[0])
    left = flow_m3_per_s - search.total(found.flow_m3_per_s)
    at_end = too_much | ((setting >= greatest) & (left >= 0))
    settled = found.root.converged.all(-1) & (root.converged | at_end)

    def flows(at: Array) -> tuple[Array, Array, Array]:
        speed = rule.speeds(np.clip(at, least, greatest))[0]
        return search.flows(head, speed).flow_m3_per_s, speed, head

    return _mixed(search, Balance(found.flow_m3_per_s, setting, left, settled), flows, lambda _: flow_m3_per_s)


def bracket_throttle(system: ShipShore, speed_rpm: Array, flow_m3_per_s: Array) -> Balance:
    """Search the head to be taken away so that pumps at given speeds deliver only a given flow."""
    search = _PumpSearch(system)
    head, _ = system.junction_head(flow_m3_per_s)

    def surplus(extra: Array) -> tuple[Array, Array]:
        found = search.flows(head + extra, speed_rpm)
        return search.total(found.flow_m3_per_s) - flow_m3_per_s, search.total(found.by_head)

    at_rest, _, _ = system.pumps.junction_head(np.zeros_like(speed_rpm), speed_rpm)
    most = np.maximum(np.where(system.pumps.count > 0, at_rest, -np.inf).max(-1) - head, 0.0)
    root = find_falling_root(surplus, np.zeros_like(head), most, tolerance=FLOW_TOLERANCE_M3_PER_S)
    found = search.flows(head + root.value, speed_rpm)

    def flows(extra: Array) -> tuple[Array, Array, Array]:
        return search.flows(head + extra, speed_rpm).flow_m3_per_s, speed_rpm, head + extra

    balance = _balance(found, root, flow_m3_per_s - search.total(found.flow_m3_per_s))
    return _mixed(search, balance, flows, lambda _: flow_m3_per_s)


class _PumpSearch:
    """Pump flows against a head, each search started where the one before ended."""

    def __init__(self, system: ShipShore) -> None:
        self.system = system
        self.last: Array | None = None

    def flows(self, head: Array, speed: Array) -> FlowsAtHead:
        against = np.broadcast_to(head[..., None], speed.shape)
        found = flows_at_head(self.system.pumps, against, speed, start=self.last)
        self.last = found.flow_m3_per_s
        return found

    def total(self, each: Array) -> Array:
        summed: Array = np.where(self.system.pumps.count > 0, self.system.pumps.count * each, 0.0).sum(-1)
        return summed

    def head_left(self, flow: Array, speed: Array, head: Array) -> Array:
        """Return the greatest head in m left between a pump that delivers and the junction."""
        given, _, _ = self.system.pumps.junction_head(flow, speed)
        running = (flow > 0) & (self.system.pumps.count > 0)
        left: Array = np.where(running, np.abs(given - head[..., None]), 0.0).max(-1)
        return left


def _balance(found: FlowsAtHead, root: Root, lack: Array) -> Balance:
    return Balance(found.flow_m3_per_s, root.value, lack, found.root.converged.all(-1) & root.converged)


FlowsSpeedsHead = Callable[[Array], tuple[Array, Array, Array]]


def _mixed(search: _PumpSearch, balance: Balance, flows: FlowsSpeedsHead, wanted: Callable[[Array], Array]) -> Balance:
    """Return a balance with what is not converged in it mixed from the flows on both sides of its root.

    Every pump's head falls with its flow, so that the head at a mix lies between the heads on the two sides.
    """
    done, free, flow, lack = balance.converged, balance.free, balance.pump_flow_m3_per_s, balance.lack_m3_per_s
    distance = _NARROWEST
    while distance <= _WIDEST and not done.all():
        aside = distance * np.maximum(np.abs(balance.free), distance)
        low, high = flows(balance.free - aside)[0], flows(balance.free + aside)[0]
        over = search.total(low) - wanted(balance.free - aside)
        under = search.total(high) - wanted(balance.free + aside)
        between = (np.sign(over) * np.sign(under) <= 0) & (over != under)
        part = np.where(between, over / np.where(between, over - under, 1.0), 0.0)
        mix = low + part[..., None] * (high - low)
        fits = between & ~done & (search.head_left(mix, *flows(balance.free)[1:]) <= _MIXED_HEAD_M)
        flow, lack = np.where(fits[..., None], mix, flow), np.where(fits, 0.0, lack)
        done = done | fits
        distance *= _WIDENING
    return Balance(flow, free, lack, done)
