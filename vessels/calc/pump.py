"""Head of a centrifugal pump over flow and speed, from tested points or from H = a - b Q^c.

Between tested speeds the curve is interpolated in affinity coordinates; outside them the nearest
tested curve is carried by the affinity laws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shared.calc.arrays import fold_rows, take
from shared.calc.curve import Pieces, constant_pieces, pieces_through, stack_pieces
from shared.calc.root import Array, Flags

_LEAST_FLOW_M3_PER_S = 1e-9  # an exponent below 1 gives no finite slope at rest; this one is steep enough


@dataclass(frozen=True)
class PumpCurves:
    """Curves of pumps as arrays: last axis of ``speed_rpm`` runs over the tested speeds, rising.

    Head at a tested speed in m is ``head`` (over flow in m3/s) less ``drop`` * flow ** ``exponent``.
    Where ``displaces`` holds, the pump moves a volume with each turn: speed changes its flow, not its head.
    """

    speed_rpm: Array
    head: Pieces
    drop: Array
    exponent: Array
    displaces: Flags


def curves_by_points(
    speeds_rpm: Sequence[float], points: Sequence[Sequence[tuple[float, float]]], *, displaces: bool = False
) -> PumpCurves:
    """Return one pump's curves from (flow m3/s, head m) points at each tested speed in rpm, any order."""
    order = np.argsort(speeds_rpm)
    pieces = [pieces_through(*zip(*points[i], strict=True)) for i in order]
    none = np.zeros(len(pieces))
    tested = np.asarray(speeds_rpm, dtype=float)[order]
    return PumpCurves(tested, stack_pieces(pieces), none, none + 2.0, np.full(tested.shape, displaces))


def curve_by_coefficients(speed_rpm: float, shut_off_head_m: float, drop_m: float, exponent: float) -> PumpCurves:
    """Return one pump's curve H = shut-off head - drop * Q^exponent, Q in m3/s, at its tested speed."""
    return PumpCurves(
        np.array([speed_rpm]),
        stack_pieces([constant_pieces(shut_off_head_m)]),
        np.array([drop_m]),
        np.array([exponent]),
        np.array([False]),
    )


def stack_curves(pumps: Sequence[PumpCurves]) -> PumpCurves:
    """Stack the curves of several pumps along a new first axis, repeating the last tested speed as padding."""
    most = max(pump.speed_rpm.size for pump in pumps)

    def padded(pump: PumpCurves) -> PumpCurves:
        own = pump.speed_rpm.size
        return pump if own == most else take(pump, np.minimum(np.arange(most), own - 1))

    wide = [padded(pump) for pump in pumps]
    heads = [Pieces(pump.head.knots[i], pump.head.pieces[i]) for pump in wide for i in range(most)]
    return PumpCurves(
        np.stack([pump.speed_rpm for pump in wide]),
        fold_rows(stack_pieces(heads), (len(pumps), most)),
        np.stack([pump.drop for pump in wide]),
        np.stack([pump.exponent for pump in wide]),
        np.stack([pump.displaces for pump in wide]),
    )


def pump_head(curves: PumpCurves, flow_m3_per_s: Array, speed_rpm: Array) -> tuple[Array, Array, Array]:
    """Return head in m, its slope with flow and its slope with speed.

    ``flow_m3_per_s`` >= 0 and ``speed_rpm`` > 0 have the shape of the pumps (the curves' leading axes).
    Affinity laws: at speed ratio s, H(Q) = s^2 h(Q / s) (Crane TP-410, pump affinity); a pump that displaces
    keeps its head, H(Q) = h(Q / s).
    """
    head, by_flow, by_speed = _heads_by_affinity(curves, flow_m3_per_s[..., None], speed_rpm[..., None])
    if curves.speed_rpm.shape[-1] == 1:
        return head[..., 0], by_flow[..., 0], by_speed[..., 0]
    weight, weight_slope = _speed_weights(curves.speed_rpm, speed_rpm)
    return (
        (weight * head).sum(-1),
        (weight * by_flow).sum(-1),
        (weight * by_speed + weight_slope * head).sum(-1),
    )


def beyond_curve(curves: PumpCurves, flow_m3_per_s: Array, speed_rpm: Array) -> np.ndarray:
    """Tell where a flow, brought to the nearest tested speed by affinity, lies outside the tested points."""
    nearest = np.abs(curves.speed_rpm - speed_rpm[..., None]).argmin(-1)[..., None]
    tested = np.take_along_axis(curves.speed_rpm, nearest, axis=-1)[..., 0]
    outside = curves.head.beyond((flow_m3_per_s * tested / speed_rpm)[..., None] + np.zeros_like(curves.speed_rpm))
    has_points = np.isfinite(curves.head.knots[..., 0])
    return np.asarray(np.take_along_axis(outside & has_points, nearest, axis=-1)[..., 0])


def greatest_tested_flow(curves: PumpCurves, speed_rpm: Array) -> Array:
    """Return the flow in m3/s of the last tested point, carried to ``speed_rpm``.

    Where the curve is algebraic, it is the flow at which the head reaches zero.
    """
    knots = np.where(np.isinf(curves.head.knots), -np.inf, curves.head.knots).max(-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        run_out = (curves.head.pieces[..., 0, 1] / curves.drop) ** (1.0 / curves.exponent)
    last = np.where(np.isfinite(knots), knots, run_out)
    return np.asarray((last * speed_rpm[..., None] / curves.speed_rpm).max(-1))


def _heads_by_affinity(curves: PumpCurves, flow: Array, speed: Array) -> tuple[Array, Array, Array]:
    tested = curves.speed_rpm
    ratio = speed / tested
    x = np.broadcast_to(flow / ratio, np.broadcast_shapes(flow.shape, tested.shape))
    h, slope = curves.head.evaluate(x)
    if curves.drop.any():
        drop = curves.drop * np.abs(x) ** curves.exponent
        h = h - drop
        near_rest = np.maximum(np.abs(x), _LEAST_FLOW_M3_PER_S)
        slope = slope - curves.exponent * curves.drop * near_rest ** (curves.exponent - 1.0)
    scale = np.where(curves.displaces, 1.0 / ratio, ratio)
    power = np.where(curves.displaces, 0.0, 2.0)
    return scale * ratio * h, scale * slope, scale * (power * h - flow / ratio * slope) / tested


def _speed_weights(tested: Array, speed: Array) -> tuple[Array, Array]:
    """Return the weight of each tested curve at a speed and its slope with speed: linear between neighbours."""
    weight, slope = np.zeros_like(tested), np.zeros_like(tested)
    n = np.clip(speed, tested[..., 0], tested[..., -1])
    free = (speed > tested[..., 0]) & (speed < tested[..., -1])
    for i in range(tested.shape[-1] - 1):
        low, high = tested[..., i], tested[..., i + 1]
        width = np.where(high > low, high - low, np.inf)
        here = (n >= low) & (n < high)
        part = (n - low) / width
        weight[..., i] += np.where(here, 1.0 - part, 0.0)
        weight[..., i + 1] += np.where(here, part, 0.0)
        slope[..., i] -= np.where(here & free, 1.0 / width, 0.0)
        slope[..., i + 1] += np.where(here & free, 1.0 / width, 0.0)
    at_top = n >= tested[..., -1]
    first_top = np.argmax(tested >= tested[..., -1:], axis=-1)[..., None]
    np.put_along_axis(
        weight, first_top, np.where(at_top, 1.0, np.take_along_axis(weight, first_top, -1)[..., 0])[..., None], -1
    )
    return weight, slope
