"""What every answer on surge has to say beside its figures (pure: no Django)."""

from __future__ import annotations

from compat.calc.surge.grid import MOST_ADJUSTMENT
from compat.calc.surge.system import System
from compat.case.case_file import CaseFile
from compat.case.questions import LOCAL_RULES_FIRST
from compat.surge.asking import stated_runs
from shared.calc.gas_and_static import (
    BULK_FILLING_VELOCITY_M_PER_S,
    INITIAL_FILLING_VELOCITY_M_PER_S,
    bulk_filling_flow,
    flow_at_velocity,
    initial_filling_flow,
)
from shared.calc.units import HOUR_S, MM_M
from shared.cargo_facts import bulk_modulus_of

VELOCITY_BORE = 0.5  # m2/s
_UNLIKELY = 0.25  # our own: a part by which measured values of one kind of oil do not differ

_STUDY = (
    "These surge figures are an aid for the talk between ship and terminal. Where a rule, the terminal or doubt asks"
    " for it, a specialist surge study of the real line decides."
)
_LEFT_OUT = (
    "Not covered: vapour pockets and their collapse, gas in the liquid, branches and dead ends, the movement of the"
    " pipe, and friction beyond that of the steady flow. The pumps' own lines count as their steady loss."
)
_LAW = "A valve's closing law is that of a table, not of the valve on the spot; time it before the transfer."
_STOP = "Order when stopping: pumps first, then valves, unless it is an emergency (common practice, no source)."
_START = (
    "Start against a shut valve: not longer than 30 seconds; the speed is raised slowly and the valve opened when the"
    " head stands (common practice, no source)."
)
_VELOCITY = (
    "Static accumulators (below 50 pS/m, and distillates not known to be otherwise): start at no more than"
    f" {INITIAL_FILLING_VELOCITY_M_PER_S:g} m/s in the tank's inlet branch until the inlet is covered and the surface"
    f" is calm, then no more than {BULK_FILLING_VELOCITY_M_PER_S:g} m/s (International Safety Guide for Oil Tankers"
    " and Terminals, 5th ed., 11.1.7.3). Local rules first."
)
_SETTLING = (
    "After such a transfer wait 30 minutes before anything is lowered into a tank that is not inert (the same guide,"
    " 11.1.7.1). Some terminals also limit velocity times bore, often to 0.5 m²/s (from memory: API RP 2003)."
)
STANDING = (LOCAL_RULES_FIRST, _STUDY, _LEFT_OUT, _LAW, _STOP, _START, _VELOCITY, _SETTLING)


def filling_velocities(case: CaseFile) -> tuple[str, ...]:
    """Return which rates the guidance on static accumulators means in the last run before the shore tank.

    Velocity times bore 0.5 m²/s is 0.5 m²/s over the bore as velocity, from memory: API RP 2003.
    """
    if not case.berth.shore_line:
        return ()
    last = case.berth.shore_line[-1]
    bore = last.bore_mm * MM_M
    start, bulk, product = (
        float(flow) * HOUR_S
        for flow in (initial_filling_flow(bore), bulk_filling_flow(bore), flow_at_velocity(VELOCITY_BORE / bore, bore))
    )
    told = (
        f"For a static accumulator, in {last.name} of {last.bore_mm:g} mm, the last run stated before the tank:"
        f" 1 m/s is {start:,.0f} m³/h, 7 m/s is {bulk:,.0f} m³/h, and velocity times bore of {VELOCITY_BORE:g} m²/s is"
        f" {product:,.0f} m³/h. The tank's own inlet counts where it is narrower. Local rules first."
    )
    return (told,)


def stiffness_of_cargo(case: CaseFile) -> tuple[str, ...]:
    """Return with which bulk modulus wave speeds are worked out, and whether a stated one is unlikely."""
    walls = [run.wall for run in stated_runs(case)]
    if all(wall is not None and wall.wave_speed_m_per_s is not None for wall in walls):
        return ()
    found = bulk_modulus_of(case.cargo)
    if found.value_mpa is None:
        return ()
    told = [f"Bulk modulus of the cargo: {found.value_mpa:,.0f} MPa ({found.source})."]
    if found.worked_out_mpa and abs(found.value_mpa / found.worked_out_mpa - 1.0) > _UNLIKELY:
        told.append(
            f"That is far from the {found.worked_out_mpa:,.0f} MPa that its density at 15 °C makes of it: check it."
            " Free gas lowers it; a value too low hides part of the surge."
        )
    return (" ".join(told),)


def cautions_of(case: CaseFile, system: System | None, *, events_boil: bool) -> tuple[str, ...]:
    """Return the standing cautions and what this case raises."""
    raised = []
    if events_boil:
        raised.append(
            "The liquid reaches its vapour pressure in an event below: from that moment on its figures are not covered;"
            " ask for a specialist surge study."
        )
    if system is not None:
        raised += _of_line(case, system)
    return (*raised, *STANDING)


def _of_line(case: CaseFile, system: System) -> list[str]:
    raised = []
    if system.grid.adjustment >= MOST_ADJUSTMENT:
        raised.append(
            f"Wave speeds are changed by up to {100 * system.grid.adjustment:.1f} % to fit the grid, more than 2 %."
        )
    if system.run_down_s is None:
        raised.append(
            "Pumps stop at once when they trip, the worst for the line: moment of inertia or efficiency is not stated."
        )
    if len(case.berth.shore_end.tanks) > 1:
        raised.append(
            "Several receiving tanks count as one surface at the end of the shore line; their pipes are left out."
        )
    if len(case.berth.arms) > 1:
        raised.append("Arms and hoses of different kinds count as one run with their areas together.")
    if any(arm.kind == "hose" for arm in case.berth.arms):
        raised.append(
            "Hoses soften a surge near themselves only; no allowance above their rating is assumed by itself."
        )
    if case.ship.common_line:
        raised.append(
            "The ship's line is taken straight from the lowest pump to the manifold; its dips are not stated."
        )
    return raised
