"""Darcy friction from rest to fully turbulent flow, without a jump.

Laminar: f = 64/Re (Hagen-Poiseuille). Turbulent: Colebrook-White (Colebrook 1939). Between Reynolds
numbers 2,000 and 4,000, where neither is a law, the two are blended smoothly; that band is our own.
"""

from __future__ import annotations

import numpy as np

from shared.calc.root import Array

LAMINAR_BELOW_REYNOLDS = 2000.0
TURBULENT_ABOVE_REYNOLDS = 4000.0
_LAMINAR_PRODUCT = 64.0
_LOG10_SLOPE = 2.0 / np.log(10.0)


def friction_factor(reynolds: Array | float, relative_roughness: Array | float) -> Array:
    """Return the Darcy friction factor for Reynolds numbers above zero and roughness over bore."""
    reynolds = np.asarray(reynolds, dtype=float)
    product, _ = friction_product(reynolds, np.asarray(relative_roughness, dtype=float))
    return product / reynolds


def friction_product(reynolds: Array, relative_roughness: Array) -> tuple[Array, Array]:
    """Return f*Re and its slope with Re; unlike f itself it stays finite at rest.

    ``reynolds`` >= 0, ``relative_roughness`` in 0..0.2, any shapes that fit together.
    """
    if reynolds.size and reynolds.min() >= TURBULENT_ABOVE_REYNOLDS:
        return _colebrook_product(reynolds, relative_roughness)  # the blend would add nothing
    turbulent, turbulent_slope = _colebrook_product(np.maximum(reynolds, LAMINAR_BELOW_REYNOLDS), relative_roughness)
    span = TURBULENT_ABOVE_REYNOLDS - LAMINAR_BELOW_REYNOLDS
    place = np.clip((reynolds - LAMINAR_BELOW_REYNOLDS) / span, 0.0, 1.0)
    weight = place * place * (3.0 - 2.0 * place)
    weight_slope = 6.0 * place * (1.0 - place) / span
    excess = turbulent - _LAMINAR_PRODUCT
    return _LAMINAR_PRODUCT + weight * excess, weight * turbulent_slope + weight_slope * excess


def _colebrook_product(reynolds: Array, relative_roughness: Array) -> tuple[Array, Array]:
    rough = relative_roughness / 3.7
    smooth = 2.51 / reynolds
    # x = 1/sqrt(f) solves g(x) = x + 2 log10(rough + smooth x) = 0. Two steps of Halley's method from
    # the plain guess x = 5 reach the last digits over the whole range, so little is g curved.
    x = -_LOG10_SLOPE * np.log(rough + 5.0 * smooth)
    for _ in range(2):
        inner = rough + smooth * x
        bend = smooth / inner
        value = x + _LOG10_SLOPE * np.log(inner)
        slope = 1.0 + _LOG10_SLOPE * bend
        x = x - value * slope / (slope * slope + 0.5 * _LOG10_SLOPE * value * bend * bend)
    bend = smooth / (rough + smooth * x)
    factor = 1.0 / (x * x)
    log_slope = -2.0 * _LOG10_SLOPE * bend / (1.0 + _LOG10_SLOPE * bend)
    return factor * reynolds, factor * (1.0 + log_slope)
