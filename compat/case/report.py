"""The answer to a case as plain text for a terminal or a mail (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from compat.case.answer_parts import Answer, LimitRow, PumpReading, ShoreFit
from compat.case.least_power import Ways
from compat.case.sampling import Spread
from compat.case.steps import Step
from shared.calc.units import from_si, to_si

NOT_KNOWN = "not known"
_WAYS_SHOWN = 5


def report(answer: Answer, steps: Sequence[Step] = (), spread: Spread | None = None, ways: Ways | None = None) -> str:
    """Return the answer as text: the answer first, then gauges, arms, limits, what a step buys, questions, cautions."""
    parts = [_head(answer), _liquid(answer), _pumps(answer), _arms(answer), _limits(answer)]
    if answer.eductors:
        parts.insert(3, _eductors(answer))
    if answer.shore_fit is not None:
        parts.append(_fitted(answer.shore_fit))
    if steps:
        parts.append(_steps(steps))
    if ways and ways.ways:
        parts.append(_ways(ways))
    if spread:
        parts.append(_spread(spread))
    if answer.questions:
        parts.append(["Not stated", *(f"  - {question}" for question in answer.questions)])
    parts.append(["Cautions", *(f"  - {caution}" for caution in answer.cautions)])
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _head(answer: Answer) -> list[str]:
    lines = [answer.title or "Untitled case", "=" * max(len(answer.title), 13)]
    if answer.reason:
        lines.append(f"{answer.outcome[0].upper()}{answer.outcome[1:]}. {answer.reason}")
    facts = [
        ("Rate", number(answer.total_flow_m3_per_h, "m³/h", 1)),
        ("Manifold pressure", pressure(answer.manifold_pressure_bar_gauge)),
        ("Manifold pressure at rest", pressure(answer.manifold_pressure_at_rest_bar_gauge)),
        ("Common speed", number(answer.common_speed_rpm, "rpm", 1)),
        ("Binding limit", _binding(answer)),
    ]
    if answer.throttled_head_m:
        facts.insert(3, ("Head to throttle away", number(answer.throttled_head_m, "m", 2)))
    lines += [f"{name:<26}{value}" for name, value in facts if name != "Common speed" or answer.common_speed_rpm]
    state = "converged" if answer.converged else "NOT converged: do not use these figures"
    lines.append(f"{'Solution':<26}{state}, {answer.residual_m:.1e} m of head left over")
    return lines


def _liquid(answer: Answer) -> list[str]:
    liquid = answer.liquid
    facts = [
        ("Density", number(liquid.density_kg_per_m3, "kg/m³", 1), liquid.density_source),
        ("Viscosity", number(liquid.kinematic_viscosity_mm2_per_s, "mm²/s", 2), liquid.viscosity_source),
        ("Vapour pressure", number(liquid.vapour_pressure_kpa_abs, "kPa", 1), liquid.vapour_pressure_source),
    ]
    return ["Liquid as pumped", *(f"  {name:<18}{value:>16}  {source}" for name, value, source in facts)]


def _binding(answer: Answer) -> str:
    if answer.outcome == "no operating point":
        return "none: there is no operating point"
    return next((row.label for row in answer.limits if row.key == answer.binding), "none: the speeds are as stated")


def _fitted(fit: ShoreFit) -> list[str]:
    rows = [("Rate m³/h", "observed bar", "fitted bar", "missed by bar")]
    rows += [(f"{rate:,.0f}", f"{seen:.3f}", f"{made:.3f}", f"{missed:+.3f}") for rate, seen, made, missed in fit.rows]
    law = (
        f"  manifold pressure = {fit.static_pressure_bar_gauge:.3f} bar + k Q^{fit.exponent:.2f}, trusted from"
        f" {fit.least_trusted_m3_per_h:,.0f} to {fit.greatest_trusted_m3_per_h:,.0f} m³/h"
    )
    liquid = (
        f"  the liquid pumped is {fit.viscosity_ratio:.2f} times as viscous as the one observed: k is"
        f" {fit.loss_factor:.3f} times as much (to the power 2 - m, as in Blasius' law)"
    )
    return ["The shore as it was observed", *table_lines(rows), law, liquid]


def _pumps(answer: Answer) -> list[str]:
    rows = [("Pump", "speed rpm", "flow m³/h", "head m", "suction bar", "discharge bar", "discharge kgf/cm²")]
    for pump in answer.pumps:
        if not pump.running:
            if any(one.pump == pump.pump for one in answer.eductors):
                continue
            rows.append((pump.name, "stopped", "", "", "", "", ""))
            continue
        discharge = pump.discharge_pressure_bar_gauge
        technical = None if discharge is None else from_si(to_si(discharge, "bar"), "kgf/cm²")
        rows.append(
            (
                pump.name,
                number(pump.speed_rpm, "", 1),
                number(pump.flow_m3_per_h, "", 1),
                number(pump.head_m, "", 2),
                number(pump.suction_pressure_bar_gauge, "", 3),
                number(discharge, "", 3),
                number(technical, "", 3),
            )
        )
    levels = [f"  {pump.name}: {told}" for pump in answer.pumps if (told := _levels(pump))]
    return ["Expected gauge readings", *table_lines(rows), *(["Tank levels for suction", *levels] if levels else [])]


def _eductors(answer: Answer) -> list[str]:
    rows: list[tuple[str, ...]] = [("Eductor", "drive liquid m³/h", "drive head m", "strips m³/h")]
    for one in answer.eductors:
        drive, strips = number(one.drive_flow_m3_per_h, "", 1), number(one.stripped_flow_m3_per_h, "", 1)
        rows.append((one.name, drive, number(one.drive_head_m, "", 2), strips))
    return ["Driven by the pumps, into a tank on board", *table_lines(rows)]


def _levels(pump: PumpReading) -> str:
    told = []
    if pump.suction_allows_m3_per_h is not None:
        told.append(f"suction allows {pump.suction_allows_m3_per_h:,.0f} m³/h at this level and speed")
    if pump.slow_below_level_m is not None:
        least = "" if pump.least_flow_m3_per_h is None else f", to no less than {pump.least_flow_m3_per_h:,.0f} m³/h"
        told.append(f"slow below {pump.slow_below_level_m:.2f} m over the keel{least}")
    if pump.stop_below_level_m is not None:
        told.append(f"stop below {pump.stop_below_level_m:.2f} m")
    return "; ".join([*told, *([pump.level_note] if pump.level_note else [])])


def _arms(answer: Answer) -> list[str]:
    rows = [("Arms or hoses", "number", "each m³/h", "velocity m/s")]
    rows += [
        (arm.name, str(arm.count), number(arm.flow_each_m3_per_h, "", 1), number(arm.velocity_m_per_s, "", 2))
        for arm in answer.arms
    ]
    return ["Flow in each arm", *table_lines(rows)]


def _limits(answer: Answer) -> list[str]:
    rows: list[tuple[str, ...]] = [("Limit", "state", "value", "allowed", "margin", "unit", "owner")]
    rows += [_limit(row) for row in answer.limits]
    asks = [f"  - {row.label}: {row.ask}" for row in answer.limits if row.state == "not decided" and row.ask]
    lines = ["Limits", *table_lines(rows)]
    return [*lines, "", "Not decided", *asks] if asks else lines


def _limit(row: LimitRow) -> tuple[str, ...]:
    return (
        row.label,
        row.state,
        number(row.value, "", 3),
        number(row.allowed, "", 3),
        number(row.margin, "", 3) if row.margin is not None else "",
        row.unit,
        row.owner,
    )


def _steps(steps: Sequence[Step]) -> list[str]:
    rows: list[tuple[str, ...]] = [("One step", "rate m³/h", "gained m³/h", "hours gained", "then binds")]
    for step in steps:
        if step.rate_m3_per_h is None:
            rows.append((step.label, NOT_KNOWN, "", "", ""))
            continue
        hours = number(step.hours_gained, "", 2)
        rate, gained = number(step.rate_m3_per_h, "", 1), number(step.rate_gained_m3_per_h, "", 1)
        rows.append((step.label, rate, gained, hours, step.binding or "none"))
    notes = [f"  - {step.label}: {step.note}" for step in steps if step.note]
    return ["What one step would buy", *table_lines(rows), *notes]


def _ways(ways: Ways) -> list[str]:
    rows: list[tuple[str, ...]] = [("Pumps", "speeds rpm", "shaft power kW")]
    for way in ways.ways[:_WAYS_SHOWN]:
        speeds = ", ".join(number(speed, "", 1) for speed in dict.fromkeys(way.speeds_rpm))
        rows.append((", ".join(way.pumps), speeds, number(way.shaft_power_kw, "", 0)))
    return ["The same rate by other pumps, least shaft power first", *table_lines(rows)]


def _spread(spread: Spread) -> list[str]:
    shares = [f"  {key} binds in {100.0 * share:.1f} % of the samples" for key, share in spread.binding.items()]
    if spread.no_point:
        shares.append(f"  no operating point in {100.0 * spread.no_point:.1f} % of the samples")
    if len(spread.influences) > 1:
        most = sorted(
            spread.influences, key=lambda one: -abs(one.rate_at_high_end_m3_per_h - one.rate_at_low_end_m3_per_h)
        )
        shares += [
            f"  {one.key}: {number(one.rate_at_low_end_m3_per_h, '', 0)} at its low end,"
            f" {number(one.rate_at_high_end_m3_per_h, 'm³/h', 0)} at its high end, on average"
            for one in most
        ]
    rates = (spread.rate_p10_m3_per_h, spread.rate_p50_m3_per_h, spread.rate_p90_m3_per_h)
    low, middle, high = (number(rate, "m³/h", 0) for rate in rates)
    return [
        f"How sure: {spread.samples:,} samples over the stated tolerances (seed {spread.seed})",
        f"  rate: 10 % below {low}, half below {middle}, 90 % below {high}",
        *shares,
    ]


def number(value: float | None, unit: str, places: int) -> str:
    """Return a number with its unit, or that it is not known."""
    if value is None:
        return NOT_KNOWN
    text = f"{value:,.{places}f}"
    text = text.removeprefix("-") if float(text.replace(",", "")) == 0 else text
    return f"{text} {unit}".rstrip()


def pressure(value_bar: float | None) -> str:
    """Return a gauge pressure in bar and in kgf/cm²."""
    if value_bar is None:
        return NOT_KNOWN
    return f"{number(value_bar, 'bar', 3)} ({number(from_si(to_si(value_bar, 'bar'), 'kgf/cm²'), 'kgf/cm²', 3)}), gauge"


def table_lines(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    """Yield rows as aligned lines, the first column to the left, the others to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    for row in rows:
        first = row[0].ljust(widths[0])
        rest = [text.rjust(width) for text, width in zip(row[1:], widths[1:], strict=True)]
        yield "  " + "  ".join([first, *rest]).rstrip()
