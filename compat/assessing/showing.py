"""Puts an answer into the words and rows that its page shows; nothing is worked out here but differences."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile
from typing import Any

from compat.case.case_file import CaseFile, PumpState
from compat.case.least_power import ways_to_make
from compat.case.shore_fit import shore_fit_of
from compat.case.steps import Step
from compat.surge.limiting import held_within_surge
from compat.surge.steps import steps_within_surge
from shared.cargo_facts import liquid_of
from shared.quantities import display

Document = Mapping[str, Any]
# State of a limit: the style of its word, and a sign that tells it without colour. The first ones are shown first.
STATES = {
    "exceeded": ("state-exceeded", "✕"),
    "binding": ("state-binding", "◆"),
    "not decided": ("state-undecided", "?"),
    "kept": ("state-kept", "✓"),
}
_GAUGE_UNITS = frozenset({"bar"})
_NOTHING_LEFT = 1e-6  # fraction of what is allowed below which a margin is shown as none
_WORTH_SAYING = {"m³/h": 0.5, "bar": 0.005, "h": 0.05}  # less than half of what is shown is no difference


@dataclass(frozen=True)
class LimitLine:
    """One limit as a row of the page, or the same limit of several pumps that are alike."""

    limit: Document
    label: str
    state: str
    margin: float | None

    @property
    def style(self) -> str:
        """Return the style of the state's word."""
        return STATES[self.state][0]

    @property
    def sign(self) -> str:
        """Return the sign that tells the state without colour."""
        return STATES[self.state][1]

    @property
    def note(self) -> str:
        """Return what follows the unit."""
        return "gauge" if self.limit["unit"] in _GAUGE_UNITS else ""


@dataclass(frozen=True)
class PumpLine:
    """What the gauges of one pump read, or of several pumps that are alike."""

    names: str
    count: int
    reading: Document


@dataclass(frozen=True)
class TankLine:
    """Level and gas pressure in the tanks of one or several pumps."""

    pumps: str
    state: PumpState


@dataclass(frozen=True)
class Glance:
    """What a cargo officer wants to know first."""

    answer: Document
    found: bool
    speeds_rpm: tuple[float, ...]
    hours: float | None
    quantity_known: bool
    binding: LimitLine | None
    nearest: LimitLine | None
    exceeded: tuple[LimitLine, ...]
    undecided: int


WAYS_SHOWN = 5


@dataclass(frozen=True)
class StepLine:
    """What one step would buy; ``note`` says why not, where it can't be told."""

    label: str
    gain: str
    rate_m3_per_h: float | None
    binding: str
    note: str


@dataclass(frozen=True)
class WayLine:
    """Pumps that would make the same rate, at these speeds, with this shaft power together."""

    pumps: str
    speeds_rpm: list[float]
    shaft_power_kw: float


@dataclass(frozen=True)
class Difference:
    """How a variant differs from the stored answer, each in words."""

    rate: str
    hours: str
    pressure: str


def glance(case: CaseFile, answer: Document) -> Glance:
    """Return the first lines of an answer."""
    rate, quantity = answer["total_flow_m3_per_h"], case.cargo.quantity_m3
    lines = limit_lines(answer)
    return Glance(
        answer=answer,
        found=answer["outcome"] != "no operating point",
        speeds_rpm=tuple(sorted({pump["speed_rpm"] for pump in answer["pumps"] if pump["running"]})),
        hours=quantity / rate if quantity and rate else None,
        quantity_known=quantity is not None,
        binding=next((line for line in lines if line.state == "binding"), None),
        nearest=_nearest(lines),
        exceeded=tuple(line for line in lines if line.state == "exceeded"),
        undecided=sum(line.state == "not decided" for line in lines),
    )


def limit_lines(answer: Document) -> list[LimitLine]:
    """Return the limits as rows: what is exceeded, what binds, what is open, what is kept."""
    running = [pump for pump in answer["pumps"] if pump["running"]]
    together: dict[Any, list[tuple[Document, Document | None]]] = {}
    for limit in answer["limits"]:
        pump = next((pump for pump in running if _is_of(limit, pump)), None)
        alike: Any = limit["key"]
        if pump is not None:
            kind = limit["key"].removesuffix(pump["pump"])
            alike = (kind, limit["state"] in {"kept", "binding"}, limit["value"], limit["allowed"])
        together.setdefault(alike, []).append((limit, pump))
    lines = [_line(found, len(running)) for found in together.values()]
    return sorted(lines, key=lambda line: list(STATES).index(line.state))


def pump_lines(answer: Document) -> list[PumpLine]:
    """Return the readings of the running pumps, those that read the same taken together."""
    together: dict[Any, list[Document]] = {}
    for pump in answer["pumps"]:
        if pump["running"]:
            read = tuple(sorted((key, value) for key, value in pump.items() if key not in {"pump", "name"}))
            together.setdefault(read, []).append(pump)
    return [PumpLine(names([pump["name"] for pump in found]), len(found), found[0]) for found in together.values()]


def step_lines(case: CaseFile, answer: Document, units: Mapping[str, str]) -> list[StepLine]:
    """Return what each single step would buy, the most first; ``answer`` tells what a limit is called."""
    called = {line.limit["key"]: line.label for line in limit_lines(answer)}
    steps = sorted(
        steps_within_surge(held_within_surge(case)),
        key=lambda step: -(step.rate_gained_m3_per_h or 0.0),
    )
    return [
        StepLine(
            label=f"{step.label[:1].upper()}{step.label[1:]}",
            gain=_gain(step, units),
            rate_m3_per_h=step.rate_m3_per_h,
            binding=called.get(step.binding or "", ""),
            note=step.note,
        )
        for step in steps
    ]


def way_lines(case: CaseFile) -> list[WayLine]:
    """Return the ways of making the same rate, least shaft power first; nothing where there is only one."""
    called = {pump.key: pump.name for pump in case.ship.pumps}
    within = held_within_surge(case)
    found = ways_to_make(within.case, within.answer).ways[:WAYS_SHOWN]
    if len(found) < 2:
        return []
    return [
        WayLine(names([called[key] for key in way.pumps]), sorted(set(way.speeds_rpm)), way.shaft_power_kw)
        for way in found
    ]


def _gain(step: Step, units: Mapping[str, str]) -> str:
    if step.rate_gained_m3_per_h is None:
        return ""
    rate = _more(step.rate_gained_m3_per_h, "m³/h", units)
    if step.hours_gained is None or rate == "the same":
        return rate
    return f"{rate}, {_more(-step.hours_gained, 'h', units)}"


def tank_lines(case: CaseFile) -> list[TankLine]:
    """Return the tanks of the running pumps, those with the same level and gas pressure taken together."""
    called = {pump.key: pump.name for pump in case.ship.pumps}
    together: dict[Any, list[PumpState]] = {}
    for state in case.operation.pumps:
        if state.running:
            alike = (state.tank_surface_elevation_m, state.tank_gas_pressure_bar_gauge)
            together.setdefault(alike, []).append(state)
    return [TankLine(names([called[state.pump] for state in found]), found[0]) for found in together.values()]


def names(all_names: Sequence[str]) -> str:
    """Write several names, and what they begin with only once: “Cargo pump 1 port, 2 port”."""
    if not all_names:
        return ""
    words = [name.split() for name in all_names]
    alike = takewhile(lambda column: len(set(column)) == 1, zip(*words, strict=False))
    shared = len(list(alike))
    if 2 * shared < len(words[0]) or len(words) == 1:
        return ", ".join(all_names)
    return ", ".join([all_names[0], *(" ".join(word[shared:]) for word in words[1:])])


def difference(stored: Glance, moved: Glance, units: Mapping[str, str]) -> Difference | None:
    """Return how the moved answer differs from the stored one, or None where one of them has no rate."""
    before, after = stored.answer, moved.answer
    if not (stored.found and moved.found):
        return None
    rate = _more(after["total_flow_m3_per_h"] - before["total_flow_m3_per_h"], "m³/h", units)
    pressure = _more(after["manifold_pressure_bar_gauge"] - before["manifold_pressure_bar_gauge"], "bar", units)
    known = stored.hours is not None and moved.hours is not None
    hours = _more((moved.hours or 0.0) - (stored.hours or 0.0), "h", units) if known else ""
    return Difference(rate, hours, pressure)


def _stopped(answer: Document) -> list[str]:
    driven = {one["pump"] for one in answer.get("eductors", ())}
    return [pump["name"] for pump in answer["pumps"] if not pump["running"] and pump["pump"] not in driven]


def profile_shown(answer: Document) -> list[Document]:
    """Return the points of the shore line, each named."""
    return [{**point, "name": point["name"] or "unnamed run"} for point in answer["profile"]]


def _is_of(limit: Document, pump: Document) -> bool:
    return limit["key"].endswith(f"-{pump['pump']}") and pump["name"] in limit["label"]


def _line(found: Sequence[tuple[Document, Document | None]], running: int) -> LimitLine:
    limit, pump = found[0]
    states = [state for state in STATES if any(other["state"] == state for other, _ in found)]
    label = limit["label"]
    if pump is not None and len(found) > 1:
        together = names([each["name"] for _, each in found if each is not None])
        label = label.replace(pump["name"], "each running pump" if len(found) == running else together)
    return LimitLine(limit, label, states[0], _margin(limit))


def _margin(limit: Document) -> float | None:
    margin, allowed = limit["margin"], limit["allowed"]
    if margin is None or allowed is None:
        return None
    return 0.0 if abs(margin) <= _NOTHING_LEFT * abs(allowed) else float(margin)


def _nearest(lines: Iterable[LimitLine]) -> LimitLine | None:
    """Return the limit with the least margin for its size."""
    known = [line for line in lines if line.margin is not None and line.limit["allowed"]]
    return min(known, key=lambda line: (line.margin or 0.0) / abs(line.limit["allowed"]), default=None)


def _more(change: float, unit: str, units: Mapping[str, str]) -> str:
    if abs(change) < _WORTH_SAYING[unit]:
        return "the same"
    return f"{display(abs(change), unit, units)} {'more' if change > 0 else 'less'}"


def answer_context(case: CaseFile, answer: Document, *, line_shown: bool) -> dict[str, Any]:
    """Return what the parts of a page about an answer need, wherever it is shown."""
    return {
        "case": case,
        "liquid": liquid_of(case.cargo),
        "answer": answer,
        "glance": glance(case, answer),
        "pumps": pump_lines(answer),
        "stopped": names(_stopped(answer)),
        "limits": limit_lines(answer),
        "profile": profile_shown(answer) if line_shown else [],
        "shore_fit": shore_fit_of(case) if line_shown else None,
        "line_shown": line_shown,
        "tanks": tank_lines(case),
        "keel_below_m": -case.keel_elevation_m,
        "manifold_elevation_m": case.keel_elevation_m + case.ship.manifold.elevation_m,
    }
