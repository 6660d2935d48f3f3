"""Head lost along pipes: Darcy-Weisbach friction and stated loss coefficients, nothing else."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from shared.calc.friction import friction_product
from shared.calc.root import Array
from shared.calc.units import GRAVITY_M_PER_S2


@dataclass(frozen=True)
class Pipes:
    """Pipe runs as arrays of one shape, the last axis along the line; a run of no length and no K loses nothing."""

    length_m: Array
    bore_m: Array
    roughness_m: Array
    loss_coefficient: Array

    @cached_property
    def area_m2(self) -> Array:
        """Inside area of each run in m2."""
        return np.pi * self.bore_m**2 / 4.0

    @cached_property
    def relative_roughness(self) -> Array:
        """Roughness over bore."""
        return self.roughness_m / self.bore_m

    @cached_property
    def friction_per_product(self) -> Array:
        """L / (2 g D^2) in s2/m2: head is this times viscosity, f Re and velocity."""
        return self.length_m / (2.0 * GRAVITY_M_PER_S2 * self.bore_m**2)

    @cached_property
    def fittings_per_velocity2(self) -> Array:
        """K / (2 g) in s2/m."""
        return self.loss_coefficient / (2.0 * GRAVITY_M_PER_S2)


def joined(*parts: Pipes) -> Pipes:
    """Return pipes one after the other along the last axis."""
    named = (field.name for field in fields(Pipes))
    return Pipes(*(np.concatenate([getattr(part, name) for part in parts], axis=-1) for name in named))


def velocity_m_per_s(pipes: Pipes, flow_m3_per_s: Array) -> Array:
    """Return the mean velocity in each run for a flow that fits the shape of the pipes."""
    return flow_m3_per_s / pipes.area_m2


def reynolds_number(pipes: Pipes, flow_m3_per_s: Array, viscosity_m2_per_s: Array) -> Array:
    """Return the Reynolds number in each run, never negative."""
    return np.abs(velocity_m_per_s(pipes, flow_m3_per_s)) * pipes.bore_m / viscosity_m2_per_s


def head_loss(pipes: Pipes, flow_m3_per_s: Array, viscosity_m2_per_s: Array) -> tuple[Array, Array]:
    """Return the head lost in each run in m, and its slope with flow in m per m3/s.

    The loss has the sign of the flow and is exact at rest: h = f Re nu L v / (2 g D^2) + K v |v| / (2 g),
    the Darcy-Weisbach form written so that nothing is divided by a velocity (White, Fluid Mechanics, ch. 6).
    """
    velocity = flow_m3_per_s / pipes.area_m2
    speed = np.abs(velocity)
    reynolds = speed * pipes.bore_m / viscosity_m2_per_s
    product, product_slope = friction_product(reynolds, pipes.relative_roughness)
    scale = viscosity_m2_per_s * pipes.friction_per_product
    fittings = pipes.fittings_per_velocity2 * speed
    loss = (scale * product + fittings) * velocity
    slope = scale * (product + reynolds * product_slope) + 2.0 * fittings
    return loss, slope / pipes.area_m2
