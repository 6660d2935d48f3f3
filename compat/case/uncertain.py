"""The numbers of a case that are seldom known exactly, each with what it is called (pure: no Django)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from compat.case.case_file import CaseError, CaseFile
from compat.case.tolerances import number_at
from shared.facts import PipeSegment


@dataclass(frozen=True)
class Uncertain:
    """One thing that is uncertain: keys (several where pumps or pipes have one each) and values.

    ``parts`` says what each key belongs to. ``unit`` is that of the keys; ``example`` is how such a tolerance is often
    written, never taken by itself.
    """

    label: str
    keys: tuple[str, ...]
    parts: tuple[str, ...]
    values: tuple[float, ...]
    unit: str
    example: str
    note: str = ""

    @property
    def least(self) -> float:
        """Return the least of the values."""
        return min(self.values)

    @property
    def greatest(self) -> float:
        """Return the greatest of the values."""
        return max(self.values)

    def name(self, key: str) -> str:
        """Return what one of the keys is called: with what it belongs to, where there are several."""
        part = self.parts[self.keys.index(key)]
        return f"{self.label}, {part}" if len(self.keys) > 1 else self.label


def uncertain_numbers(case: CaseFile, *, line_shown: bool = True) -> tuple[Uncertain, ...]:
    """Return what may carry a tolerance in a case, in the order in which a person thinks of it.

    Where not ``line_shown``, what the terminal states about its line and tanks is left out.
    """
    found = [*_agreed(case), *_cargo(case), *_ship(case), *(_shore(case) if line_shown else ())]
    return tuple(one for one in found if one is not None)


def _one(case: CaseFile, label: str, key: str, unit: str, example: str, note: str = "") -> Uncertain | None:
    """Return an uncertain number where the case states it."""
    return _several(case, label, [("", key)], unit, example, note)


def _several(
    case: CaseFile, label: str, keys: list[tuple[str, str]], unit: str, example: str, note: str = ""
) -> Uncertain | None:
    """Return one uncertain thing of several parts, each with its key, those that the case states."""
    stated = [(part, key) for part, key in keys if _is_stated(case, key)]
    if not stated:
        return None
    note = note or ("each by itself" if len(stated) > 1 else "")
    values = tuple(number_at(case, key) for _, key in stated)
    parts, named = zip(*stated, strict=True)
    return Uncertain(label, named, parts, values, unit, example, note)


def _is_stated(case: CaseFile, key: str) -> bool:
    try:
        number_at(case, key)
    except CaseError:
        return False
    return True


def _agreed(case: CaseFile) -> Iterator[Uncertain | None]:
    key = "agreed.manifold_pressure_bar_gauge"
    yield _one(case, "Agreed manifold pressure", key, "bar", "0.2", "how closely it is held")
    if case.operation.speed == "as stated":
        yield _several(case, "Pump speed", _of_pumps(case, "speed_rpm"), "rpm", "10")


def _of_pumps(case: CaseFile, key: str) -> list[tuple[str, str]]:
    """Return the keys of what is stated for each running pump in this operation."""
    called = {pump.key: pump.name for pump in case.ship.pumps}
    states = enumerate(case.operation.pumps)
    return [(called[state.pump], f"operation.pumps[{i}].{key}") for i, state in states if state.running]


def _cargo(case: CaseFile) -> Iterator[Uncertain | None]:
    yield _one(case, "Density", "cargo.density_kg_per_m3", "kg/m³", "2")
    yield _one(case, "Kinematic viscosity", "cargo.kinematic_viscosity_mm2_per_s", "mm²/s", "20 %")
    yield _one(case, "Vapour pressure", "cargo.vapour_pressure_kpa_abs", "kPa", "10 %")
    if case.cargo.laboratory is None:
        return
    at = "cargo.laboratory"
    yield _one(case, "Temperature while pumping", "cargo.temperature_c", "°C", "2")
    if case.cargo.density_kg_per_m3 is None:
        yield _one(case, "Density at 15 °C", f"{at}.density_at_15_c_kg_per_m3", "kg/m³", "1")
    if case.cargo.kinematic_viscosity_mm2_per_s is None:
        for i, point in enumerate(case.cargo.laboratory.viscosities):
            label = f"Viscosity measured at {point.temperature_c:g} °C"
            yield _one(case, label, f"{at}.viscosities[{i}].kinematic_viscosity_mm2_per_s", "mm²/s", "10 %")
    if case.cargo.vapour_pressure_kpa_abs is None:
        yield _one(case, "Reid vapour pressure", f"{at}.reid_vapour_pressure_kpa_abs", "kPa", "5")


def _ship(case: CaseFile) -> Iterator[Uncertain | None]:
    levels, gas = (_of_pumps(case, f"tank_{key}") for key in ("surface_elevation_m", "gas_pressure_bar_gauge"))
    yield _several(case, "Liquid surface in the ship's tanks", levels, "m", "0.5")
    yield _several(case, "Gas pressure in the ship's tanks", gas, "bar", "0.03")
    yield _one(case, "Keel over the berth's zero", "keel_elevation_m", "m", "0.5", "draught and tide together")
    running = {state.pump for state in case.operation.pumps if state.running}
    pumps = [(i, pump) for i, pump in enumerate(case.ship.pumps) if pump.key in running]
    worn = [(pump.name, f"ship.pumps[{i}].head_kept_percent") for i, pump in pumps]
    yield _several(case, "Head kept by worn pumps", worn, "%", "3")
    lines = _of_segments(case.ship.common_line, "ship.common_line")
    for i, pump in pumps:
        lines += _of_segments(pump.suction_line, f"ship.pumps[{i}].suction_line", f"suction of {pump.name}")
        lines += _of_segments(pump.discharge_line, f"ship.pumps[{i}].discharge_line", f"riser of {pump.name}")
    yield _several(case, "Losses of fittings on board", lines, "1", "20 %")


def _of_segments(
    segments: Sequence[PipeSegment], place: str, called: str = "", key: str = "loss_coefficient"
) -> list[tuple[str, str]]:
    return [(called or segment.name or f"part {i + 1}", f"{place}[{i}].{key}") for i, segment in enumerate(segments)]


def _shore(case: CaseFile) -> Iterator[Uncertain | None]:
    line, end = "berth.shore_line", "berth.shore_end"
    losses = _of_segments(case.berth.arms, "berth.arms") + _of_segments(case.berth.shore_line, line)
    yield _several(case, "Losses of fittings in arms and ashore", losses, "1", "20 %")
    rough = _of_segments(case.berth.shore_line, line, key="roughness_mm")
    yield _several(case, "Roughness of the shore line", rough, "mm", "50 %")
    yield _one(case, "Surface in the shore tank", f"{end}.tank.surface_elevation_m", "m", "1")
    yield _one(case, "Gas pressure in the shore tank", f"{end}.tank.gas_pressure_bar_gauge", "bar", "0.02")
    tanks = [(tank.name, f"{end}.tanks[{i}].surface_elevation_m") for i, tank in enumerate(case.berth.shore_end.tanks)]
    yield _several(case, "Surface in the shore tanks", tanks, "m", "1")
    yield _one(case, "Back-pressure ashore", f"{end}.back_pressure_bar_gauge", "bar", "0.3")
    observed = case.berth.shore_end.observed
    if observed is not None:
        key = f"{end}.observed.pairs[{{}}].manifold_pressure_bar_gauge"
        pairs = [(f"at {pair.rate_m3_per_h:,.0f} m³/h", key.format(i)) for i, pair in enumerate(observed.pairs)]
        yield _several(case, "Observed manifold pressure", pairs, "bar", "0.05")
