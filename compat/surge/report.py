"""Surge as plain text for a terminal or a mail (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from compat.case.report import number
from compat.surge.answering import SurgeAnswer, SurgeEvent
from compat.surge.closing import SafeClosing


def surge_report(surge: SurgeAnswer) -> str:
    """Return surge as text: why it is not decided, or events, closing times, limits and cautions."""
    parts = [["Pressure surge", *([f"  {surge.reason}"] if surge.reason else list(_grid(surge)))]]
    if surge.events:
        parts.append(["Surge events", *(line for event in surge.events for line in _event(event))])
    if surge.closing:
        parts.append(["Closing times", *(line for valve in surge.closing for line in _closing(valve))])
    for title, lines in (("Surge: not stated", surge.questions), ("Surge: notes", surge.notes)):
        if lines:
            parts.append([title, *_listed(lines)])
    parts.append(["Surge: cautions", *_listed(surge.cautions)])
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _grid(surge: SurgeAnswer) -> Iterator[str]:
    adjusted = surge.wave_speed_adjustment_percent
    yield (
        f"  {surge.reaches} reaches, wave speeds changed by at most {number(adjusted, '%', 2)};"
        f" allowance above ratings {surge.allowance_percent:g} %"
    )


def _event(event: SurgeEvent) -> Iterator[str]:
    yield f"  {event.label}: {event.state}"
    by_hand = f"Joukowsky {number(event.joukowsky_bar, 'bar', 2)}, 2L/a {number(event.return_time_s, 's', 2)}"
    if event.slow_closing_bar is not None:
        by_hand += f", slow closing (Michaud) {number(event.slow_closing_bar, 'bar', 2)}"
    yield f"    by hand: {by_hand}"
    if event.low_from_s is not None:
        yield (
            f"    vapour pressure is reached after {number(event.low_from_s, 's', 2)} at"
            f" {number(event.low_at_m, 'm', 0)} along the line: not covered from then on, ask for a specialist study"
        )
    for run in event.runs:
        allowed = "rating not known" if run.allowed_bar_gauge is None else f"allowed {run.allowed_bar_gauge:.2f}"
        mark = " EXCEEDED" if run.exceeded else ""
        yield (
            f"    {run.name}: up to {run.greatest_bar_gauge:.2f} bar ({allowed}){mark} at {run.greatest_at_m:.0f} m"
            f" after {run.greatest_at_s:.1f} s; down to {run.least_bar_gauge:.2f} bar"
        )


def _closing(valve: SafeClosing) -> Iterator[str]:
    within, safe = (_time(time) for time in (valve.shortest_within_ratings_s, valve.shortest_safe_s))
    yield f"  {valve.label} ({valve.law}; {valve.source}): shortest closing time within the ratings {within}"
    if safe != within:
        yield f"    with the liquid above its vapour pressure: {safe}; below that ask for a specialist surge study"
    if valve.closing_time_s is not None:
        none = "not covered, the liquid boils" if valve.verdict == "boils" else "none"
        rate = number(valve.highest_rate_m3_per_h, "m³/h", 0) if valve.highest_rate_m3_per_h else none
        most = ", all that the pumps can give" if valve.every_rate else ""
        yield f"    highest rate for {valve.closing_time_s:g} s: {rate}{most}"


def _time(seconds: int | None) -> str:
    return "none up to 600 s" if seconds is None else f"{seconds} s"


def _listed(lines: Sequence[str]) -> list[str]:
    return [f"  - {line}" for line in lines]
