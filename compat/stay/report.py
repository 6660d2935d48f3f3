"""A worked-out stay as plain text (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from compat.case.report import number, table_lines
from compat.stay.parts import HourRow, StayAnswer
from compat.stay.variants import Variant


def stay_report(answer: StayAnswer, variants: Sequence[Variant] = ()) -> str:
    """Return the stay as text: hours, what stands against it, stages, hours one by one, events, other plans."""
    parts = [
        _head(answer),
        _problems(answer),
        _stages(answer),
        _hourly(answer),
        _water(answer),
        ["What happens when", *(f"  {change.hour:7.2f} h  {change.what}" for change in answer.changes)],
        _warranty(answer),
    ]
    if variants:
        parts.append(_variants(variants))
    if answer.questions:
        parts.append(["Not stated", *(f"  - {question}" for question in answer.questions)])
    parts.append(["Cautions", *(f"  - {caution}" for caution in answer.cautions)])
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(answer: StayAnswer) -> list[str]:
    facts = [
        ("Berth hours", number(answer.hours, "h", 2)),
        ("Allowed", number(answer.allowed_h, "h", 2)),
        ("Ashore", f"{answer.ashore_m3:,.0f} of {answer.to_leave_m3:,.0f} m³"),
        ("Fuel for the pumps", number(answer.fuel_t, "t", 1)),
    ]
    title = answer.title or "Untitled stay"
    return [title, "=" * len(title), *(f"{name:<22}{value}" for name, value in facts)]


def _problems(answer: StayAnswer) -> list[str]:
    if not answer.problems:
        return []
    return ["Not to be settled before this is solved", *(f"  - {problem.sentence}" for problem in answer.problems)]


def _stages(answer: StayAnswer) -> list[str]:
    rows = [("Stage", "from h", "hours", "m³", "m³/h", "rpm", "inert gas m³/h", "binds")]
    for stage in answer.stages:
        speeds = (
            "" if stage.greatest_speed_rpm is None else f"{stage.least_speed_rpm:.0f}-{stage.greatest_speed_rpm:.0f}"
        )
        rows.append(
            (
                stage.name,
                f"{stage.begins_h:.2f}",
                f"{stage.hours:.2f}",
                f"{stage.volume_m3:,.0f}",
                f"{stage.mean_rate_m3_per_h:,.0f}",
                speeds,
                f"{stage.inert_gas_m3_per_h:,.0f}",
                "; ".join(stage.binding),
            )
        )
    return ["Stages", *table_lines(rows)]


def _hourly(answer: StayAnswer) -> list[str]:
    rows = [("Hour", "stage", "m³/h", "manifold bar", "to go m³", "pumps: rpm, suction bar, discharge bar")]
    rows += [
        (
            f"{row.hour:.2f}",
            row.stage,
            f"{row.rate_m3_per_h:,.0f}",
            number(row.manifold_pressure_bar_gauge, "", 2) if row.manifold_pressure_bar_gauge is not None else "",
            f"{row.to_go_m3:,.0f}",
            _pumps(row),
        )
        for row in answer.hourly
    ]
    return ["What the gauges should read", *table_lines(rows)]


def _pumps(row: HourRow) -> str:
    return "; ".join(
        f"{pump.pump}: {pump.speed_rpm:.0f}, {number(pump.suction_pressure_bar_gauge, '', 2)},"
        f" {number(pump.discharge_pressure_bar_gauge, '', 2)}"
        for pump in row.pumps
        if pump.speed_rpm is not None
    )


def _water(answer: StayAnswer) -> list[str]:
    rows = [
        ("Hour", "water m", "draught m", "manifold m", "under keel m", "ullages m (level where no height is stated)")
    ]
    rows += [
        (
            f"{row.hour:.2f}",
            number(row.water_level_m, "", 2),
            number(row.draught_m, "", 2),
            f"{row.manifold_elevation_m:.2f}",
            number(row.under_keel_m, "", 2),
            " ".join(_ullages(row)),
        )
        for row in answer.hourly
    ]
    return ["Ship and tanks", *table_lines(rows)]


def _ullages(row: HourRow) -> Iterator[str]:
    for tank in row.tanks:
        yield f"{tank.tank} {tank.level_m if tank.ullage_m is None else tank.ullage_m:.2f}"


def _warranty(answer: StayAnswer) -> list[str]:
    kept, pressure = answer.warranty, answer.warranty.least_bulk_pressure_bar_gauge
    lowest = number(pressure, "bar", 2)
    at_pressure = f"{kept.bulk_hours_at_7_bar:.2f} of {kept.bulk_hours:.2f} h of bulk discharge"
    return [
        "Beside the usual pumping warranty (24 h for the whole cargo, or 7 bar at the manifold; trade norm)",
        f"  {kept.verdict}; {kept.hours:.2f} h at the berth",
        f"  at least 7 bar for {at_pressure}; lowest there {lowest}",
    ]


def _variants(variants: Sequence[Variant]) -> list[str]:
    rows = [("Another plan", "hours", "against it", "state")]
    rows += [
        (
            one.label,
            f"{one.answer.hours:.2f}",
            one.saved_in_words or "not known",
            one.answer.outcome,
        )
        for one in variants
    ]
    return ["Beside it", *table_lines(rows)]
