"""What an answer still has to ask, and what it has to warn of (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from compat.case.answer_parts import PumpReading, Readings
from compat.case.case_file import CaseFile
from compat.case.pump_arrays import driven_eductors
from compat.case.shore_fit import fit_cautions
from shared.calc.units import ATMOSPHERE_PA, BAR_PA, KPA_PA
from shared.cargo_facts import Liquid
from shared.facts import PipeSegment

LOCAL_RULES_FIRST = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win."
)
SURGE_LEFT_OUT = (
    "Pressure surge is no part of these figures; where a valve may close quickly, a specialist surge study decides."
)
STANDING_CAUTIONS = (
    LOCAL_RULES_FIRST,
    "These figures are an aid: the persons in charge on board and ashore decide.",
    SURGE_LEFT_OUT,
    "Gauge pressures are those of the grade line: velocity head is left out, as practice with HQ curves does.",
)


def questions_of(case: CaseFile) -> tuple[str, ...]:
    """Return a sentence for each loss that is not stated and was therefore counted as none."""
    return tuple(
        f"{place}: the losses of fittings, entrance and exit are not stated and count as none."
        f" Ask the {owner}; write 0 if there are none."
        for place, owner, segment in _segments(case)
        if segment.loss_coefficient is None
    ) + _line_questions(case)


def _segments(case: CaseFile) -> Iterator[tuple[str, str, PipeSegment]]:
    for pump in case.ship.pumps:
        yield from ((f"Suction line of {pump.name}", "ship", segment) for segment in pump.suction_line)
        yield from ((f"Discharge line of {pump.name}", "ship", segment) for segment in pump.discharge_line)
    yield from (("Ship's common line", "ship", segment) for segment in case.ship.common_line)
    yield from ((arm.name, "terminal", arm) for arm in case.berth.arms)
    yield from ((f"Shore segment {segment.name}", "terminal", segment) for segment in case.berth.shore_line)


def _line_questions(case: CaseFile) -> tuple[str, ...]:
    found = [
        f"{pump.name} has no suction line stated: no loss is counted between tank and pump. Ask the ship."
        for pump in case.ship.pumps
        if not pump.suction_line
    ]
    if not case.ship.common_line and not any(pump.discharge_line for pump in case.ship.pumps):
        found.append("No line is stated between pumps and manifold: no loss is counted there. Ask the ship.")
    if not case.berth.shore_line and case.berth.shore_end.tank is not None:
        found.append("No shore line is stated: no loss is counted between arms and shore tank. Ask the terminal.")
    return tuple(found)


def cautions_of(case: CaseFile, readings: Readings, notes: Sequence[str], liquid: Liquid) -> tuple[str, ...]:
    """Return the standing cautions, the notes of the pumps' data, and what the readings raise."""
    raised = [caution for reading in readings.pumps if reading.running for caution in _pump_cautions(reading)]
    raised += [
        f"Liquid runs out of {tank.name} into the others: shut its valve until the levels are nearer."
        for tank in readings.tanks
        if tank.flow_m3_per_h < 0
    ]
    raised += [*_tank_cautions(case, liquid), *_line_cautions(readings), *_drive_cautions(case)]
    return (*STANDING_CAUTIONS, *liquid.cautions, *notes, *raised, *fit_cautions(case, readings.total_flow_m3_per_h))


def _tank_cautions(case: CaseFile, liquid: Liquid) -> Iterator[str]:
    vapour = liquid.vapour_pressure_kpa_abs
    for state in case.operation.pumps:
        over_it = (state.tank_gas_pressure_bar_gauge * BAR_PA + ATMOSPHERE_PA) / KPA_PA
        if state.running and vapour is not None and vapour > over_it:
            yield (
                f"The cargo boils in the tank of pump {state.pump}: its vapour pressure is {vapour:.1f} kPa and the gas"
                f" over it {over_it:.1f} kPa, both absolute. Check the two, or cool the cargo."
            )


def _line_cautions(readings: Readings) -> Iterator[str]:
    for point in readings.profile:
        if point.pressure_bar_gauge * BAR_PA <= -ATMOSPHERE_PA:
            yield (
                f"The pressure at the end of {point.name} would be below a vacuum: the line runs slack there, and the"
                " rate is not to be trusted."
            )
    booster = readings.booster
    if booster is not None and booster.beyond_curve:
        yield (
            f"{booster.name} works outside its stated points at {readings.total_flow_m3_per_h:,.0f} m³/h;"
            " its curve goes on straight there and is not to be trusted."
        )


def _drive_cautions(case: CaseFile) -> Iterator[str]:
    driven = {pump.key for pump, _ in driven_eductors(case)}
    running = {state.pump for state in case.operation.pumps if state.running}
    for pump in case.ship.pumps:
        if pump.kind != "eductor" or pump.key not in running:
            continue
        if pump.key not in driven:
            yield (
                f"No pump runs that drives {pump.name}: it is taken to be driven from elsewhere, and its drive liquid,"
                " which goes ashore with what it strips, is not in the rate."
            )
        elif pump.drive_liquid_m3_per_h is None:
            yield (
                f"The liquid that drives {pump.name} is not known and not taken off the rate: less goes ashore. Ask the"
                " ship for its drive liquid."
            )
        elif pump.drive_head_m is None:
            yield (
                f"The drive head of {pump.name} is not stated: its drive liquid is taken as"
                f" {pump.drive_liquid_m3_per_h:,.0f} m³/h whatever the pumps' pressure. Ask the ship."
            )


def _pump_cautions(reading: PumpReading) -> Iterator[str]:
    if reading.flow_m3_per_h == 0.0:
        yield (
            f"{reading.name} stands against its non-return valve and delivers nothing: stop it or bring it to the"
            " others' pressure; a pump left running against a closed valve overheats."
        )
    elif reading.beyond_curve:
        yield (
            f"{reading.name} works outside its tested points at {reading.flow_m3_per_h:,.0f} m³/h;"
            " its curve goes on straight there and is not to be trusted."
        )
    if reading.suction_pressure_bar_gauge is not None and reading.suction_pressure_bar_gauge < -1.0:
        yield f"{reading.name} would need a suction below a vacuum; it can't run here."
