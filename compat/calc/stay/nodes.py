"""Chebyshev points of a stretch: integrals and values between them, to the accuracy of one polynomial."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from shared.calc.root import Array


@dataclass(frozen=True)
class Nodes:
    """Points from 0 to 1, and the matrix that turns values there into integrals from 0 to each point."""

    points: Array
    integral: Array
    weights: Array

    def between(self, s: Array) -> Array:
        """Return the matrix that turns values at the points into values at ``s`` (barycentric; Berrut 2004)."""
        apart = np.asarray(s, dtype=float)[:, None] - self.points
        exact = np.abs(apart) < 1e-14
        terms = self.weights / np.where(exact, 1.0, apart)
        matrix = terms / terms.sum(-1, keepdims=True)
        hit = exact.any(-1)
        matrix[hit] = exact[hit]
        return np.asarray(matrix)


@cache
def nodes_of(count: int) -> Nodes:
    """Return Chebyshev points of the second kind, ``count`` >= 2 of them, ends included."""
    angle = np.pi * np.arange(count) / (count - 1)
    points = 0.5 * (1.0 - np.cos(angle))
    x = 2.0 * points - 1.0
    powers = np.polynomial.chebyshev.chebvander(x, count - 1)
    whole = np.zeros((count, count))
    for k in range(count):
        integrated = np.polynomial.chebyshev.chebint(np.eye(count)[k], lbnd=-1)
        whole[:, k] = np.polynomial.chebyshev.chebval(x, integrated)
    weights = np.where(np.arange(count) % 2, -1.0, 1.0)
    weights[[0, -1]] *= 0.5
    return Nodes(points, 0.5 * whole @ np.linalg.inv(powers), weights)
