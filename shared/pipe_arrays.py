"""Stated pipe runs as arrays in SI (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.calc.line import Pipes
from shared.calc.units import MM_M
from shared.facts import PipeSegment


def pipes_of(lines: Sequence[Sequence[PipeSegment]]) -> Pipes:
    """Return lines as arrays of shape (lines, longest line), padded with runs that lose nothing."""
    shape = (len(lines), max((len(line) for line in lines), default=0))
    length, bore, roughness, losses = np.zeros(shape), np.ones(shape), np.zeros(shape), np.zeros(shape)
    for i, line in enumerate(lines):
        for j, segment in enumerate(line):
            length[i, j] = segment.length_m
            bore[i, j] = segment.bore_mm * MM_M
            roughness[i, j] = segment.roughness_mm * MM_M
            losses[i, j] = segment.loss_coefficient or 0.0
    return Pipes(length, bore, roughness, losses)


def area_m2(segment: PipeSegment) -> float:
    """Return the inside area of a pipe in m2."""
    return float(np.pi * (segment.bore_mm * MM_M) ** 2 / 4.0)
