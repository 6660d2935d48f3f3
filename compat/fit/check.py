"""One check of a ship at a berth: what it is called, which facts it needs, and the rule that judges (pure)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from compat.calc.fit.verdicts import Judged, at_least, at_most, between
from compat.fit.columns import Pairs

Group = Literal[
    "Size",
    "Water",
    "Manifold and side",
    "Connection",
    "Moorings",
    "Cargo and gas",
    "Rate and pressure",
    "Papers and hours",
    "The terminal's own rules",
]
Need = str | tuple[str, ...]
"""A fact by owner and key, such as ``ship:particulars.beam_m``; of several in brackets one is enough."""


@dataclass(frozen=True)
class Check:
    """One check. ``agreement`` says what has to be agreed where the verdict is by agreement.

    ``guidance`` is published guidance with its source; it is told, and never counts before the terminal's own figure.
    """

    key: str
    label: str
    group: Group
    unit: str
    needs: tuple[Need, ...]
    rule: Callable[[Pairs], Judged]
    agreement: str = ""
    guidance: str = ""


def most(key: str, label: str, group: Group, unit: str, value: str, limit: str, guidance: str = "") -> Check:
    """Return the check that one fact is at most another."""
    return Check(key, label, group, unit, (value, limit), lambda p: at_most(p[value], p[limit]), guidance=guidance)


def least(key: str, label: str, group: Group, unit: str, value: str, limit: str, guidance: str = "") -> Check:
    """Return the check that one fact is at least another."""
    return Check(key, label, group, unit, (value, limit), lambda p: at_least(p[value], p[limit]), guidance=guidance)


def within(key: str, label: str, group: Group, unit: str, value: str, low: str, high: str) -> Check:
    """Return the check that one fact lies between two others."""
    return Check(key, label, group, unit, (value, low, high), lambda p: between(p[value], p[low], p[high]))
