"""What one step would buy: the same case with one thing changed, and the rate and hours gained (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from compat.case.answer import answer_case, answer_cases
from compat.case.answer_parts import Answer
from compat.case.case_file import CaseFile
from shared.calc.errors import InputError
from shared.cargo_facts import CargoFacts, liquid_of
from shared.facts import sentences
from vessels.facts import FIXED_SPEED, PumpFacts

PRESSURE_STEP_BAR = 1.0
SPEED_STEP_RPM = 100.0
WARMER_STEP_C = 5.0


@dataclass(frozen=True)
class Step:
    """One change and what it brings; gains are None where the changed case has no answer or cannot be worked out.

    ``hours_gained`` is at the steady rate for the whole quantity; None where the quantity is not known.
    """

    key: str
    label: str
    rate_m3_per_h: float | None
    rate_gained_m3_per_h: float | None
    hours_gained: float | None
    binding: str | None
    note: str = ""


def steps_of(case: CaseFile, answer: Answer) -> tuple[Step, ...]:
    """Return what each step would buy, for a case whose rate is searched; nothing where its speeds are stated."""
    if case.operation.speed == "as stated" or answer.total_flow_m3_per_h is None:
        return ()
    changes = list(_changes(case))
    answers = iter(_answered([changed for _, _, changed, _ in changes if changed is not None]))
    return tuple(
        step_between(key, label, case, answer, note if changed is None else next(answers))
        for key, label, changed, note in changes
    )


def _answered(cases: Sequence[CaseFile]) -> Sequence[Answer | str]:
    """Answer changed cases side by side, or one by one where a change asks for what can't be worked out."""
    try:
        return answer_cases(cases)
    except InputError:
        return [_answer_or_reason(case) for case in cases]


def _answer_or_reason(case: CaseFile) -> Answer | str:
    try:
        return answer_case(case)
    except InputError as error:
        return str(error)


def _changes(case: CaseFile) -> Iterator[tuple[str, str, CaseFile | None, str]]:
    pressure = case.agreed.manifold_pressure_bar_gauge
    if pressure is not None:
        agreed = case.agreed.model_copy(update={"manifold_pressure_bar_gauge": pressure + PRESSURE_STEP_BAR})
        yield "pressure", "1 bar more at the manifold", case.model_copy(update={"agreed": agreed}), ""
    faster, note = _faster(case)
    yield "speed", "100 rpm more allowed on every pump", faster, note
    for arm in case.berth.arms:
        yield f"arm-{arm.name}", f"one more {arm.name}", _one_more_arm(case, arm.name), ""
    idle = next((state.pump for state in case.operation.pumps if not state.running), None)
    if idle is not None:
        name = next(pump.name for pump in case.ship.pumps if pump.key == idle)
        yield "pump", f"{name} running too", _one_more_pump(case, idle), ""
    warmer, note = _warmer(case)
    yield "warmer", "5 °C warmer", warmer, note


def _faster(case: CaseFile) -> tuple[CaseFile | None, str]:
    """Return the case with a higher speed on every pump whose drive can be set to one."""
    running = {state.pump for state in case.operation.pumps if state.running}
    if all(pump.drive == FIXED_SPEED for pump in case.ship.pumps if pump.key in running):
        return None, "the motors of the running pumps have one speed only"
    pumps = [faster(pump) for pump in case.ship.pumps]
    return case.model_copy(update={"ship": case.ship.model_copy(update={"pumps": pumps})}), ""


def faster(pump: PumpFacts) -> PumpFacts:
    """Return a pump that is allowed one step more of speed, or the same one where its motor has one speed only."""
    if pump.drive == FIXED_SPEED:
        return pump
    return pump.model_copy(update={"greatest_speed_rpm": pump.greatest_speed_rpm + SPEED_STEP_RPM})


def _one_more_arm(case: CaseFile, name: str) -> CaseFile:
    arms = [arm.model_copy(update={"count": arm.count + (arm.name == name)}) for arm in case.berth.arms]
    return case.model_copy(update={"berth": case.berth.model_copy(update={"arms": arms})})


def _one_more_pump(case: CaseFile, key: str) -> CaseFile:
    states = [
        state.model_copy(update={"running": True}) if state.pump == key else state for state in case.operation.pumps
    ]
    return case.model_copy(update={"operation": case.operation.model_copy(update={"pumps": states})})


def _warmer(case: CaseFile) -> tuple[CaseFile | None, str]:
    """Return the case 5 degrees warmer; only laboratory values can say what that does to the liquid."""
    cargo = case.cargo
    if cargo.temperature_c is None or cargo.laboratory is None or len(cargo.laboratory.viscosities) < 2:
        return None, "needs laboratory values: density at 15 °C and two viscosities, and the temperature while pumping"
    stated = cargo.model_dump(exclude_none=True, exclude={"kinematic_viscosity_mm2_per_s", "vapour_pressure_kpa_abs"})
    if cargo.laboratory.density_at_15_c_kg_per_m3 is not None:
        stated.pop("density_kg_per_m3", None)
    try:
        warm = CargoFacts.model_validate({**stated, "temperature_c": cargo.temperature_c + WARMER_STEP_C})
    except ValidationError as error:
        return None, sentences(error)[0][1]
    if cargo.vapour_pressure_kpa_abs is not None and liquid_of(warm).vapour_pressure_kpa_abs is None:
        return None, "needs the Reid vapour pressure: suction can't be judged with the vapour pressure of colder liquid"
    return case.model_copy(update={"cargo": warm}), ""


def step_between(key: str, label: str, case: CaseFile, before: Answer, after: Answer | str) -> Step:
    """Return what a change brings, from the answers before and after it, or the reason why there is none after it."""
    if isinstance(after, str):
        return Step(key, label, None, None, None, None, after)
    rate, was = after.total_flow_m3_per_h, before.total_flow_m3_per_h
    if rate is None or was is None:
        return Step(key, label, None, None, None, None, after.reason)
    quantity = case.cargo.quantity_m3
    hours = None if quantity is None else quantity / was - quantity / rate
    return Step(key, label, rate, rate - was, hours, after.binding)
