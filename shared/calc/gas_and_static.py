"""Simple limits on a transfer that come from gas and from static electricity. No tank pressure, no gas balance.

Flows are volumes in m³/s at tank conditions. These are planning figures: the ship's own approved manuals and the
terminal's procedures decide.
"""

from __future__ import annotations

import numpy as np

from shared.calc.ranges import Numbers, checked
from shared.calc.root import Array, Flags
from shared.calc.units import to_si

# SOLAS II-2/62 (1974, as amended): inert gas at 125 % of the greatest discharge rate; read in a national rule that
# applies it. FSS Code chapter 15 repeats it (from memory).
INERT_GAS_FACTOR = 1.25
# MSC/Circ.585, 2.6.1: vents sized for 1.25 times the loading rate, for the gas that the cargo gives off.
VENT_FACTOR = 1.25
# International Safety Guide for Oil Tankers and Terminals, 5th ed., 11.1.7.3: static accumulator oils.
INITIAL_FILLING_VELOCITY_M_PER_S = 1.0
BULK_FILLING_VELOCITY_M_PER_S = 7.0
# The same guide, 11.1.7.1.
STATIC_ACCUMULATOR_BELOW_S_PER_M = 50e-12
VACUUM_PERMITTIVITY_F_PER_M = 8.8541878128e-12  # CODATA 2018, from memory
# 33 CFR 154.2103(a): growth of 0.25 at a vapour pressure of 12.5 psia at 115 °F.
_GROWTH_AT_REFERENCE = 0.25
_REFERENCE_VAPOUR_PRESSURE_PA = to_si(12.5, "psi")

_MOST_FLOW = 100_000.0  # m³/h, as in the stated facts


def inert_gas_needed(discharge_flow_m3_per_s: Numbers) -> Array:
    """Return the inert gas delivery [m³/s] that a discharge rate [m³/s], 0 to 100,000 m³/h, calls for."""
    return INERT_GAS_FACTOR * checked("Discharge rate", discharge_flow_m3_per_s, "m³/h", 0.0, _MOST_FLOW)


def discharge_allowed_by_inert_gas(inert_gas_delivery_m3_per_s: Numbers) -> Array:
    """Return the greatest discharge rate [m³/s] for an inert gas delivery [m³/s], 0 to 100,000 m³/h."""
    return checked("Inert gas delivery", inert_gas_delivery_m3_per_s, "m³/h", 0.0, _MOST_FLOW) / INERT_GAS_FACTOR


def vent_capacity_needed(loading_flow_m3_per_s: Numbers) -> Array:
    """Return the vent capacity [m³/s] that a loading rate [m³/s], 0 to 100,000 m³/h, calls for."""
    return VENT_FACTOR * checked("Loading rate", loading_flow_m3_per_s, "m³/h", 0.0, _MOST_FLOW)


def loading_allowed_by_vents(vent_capacity_m3_per_s: Numbers) -> Array:
    """Return the greatest loading rate [m³/s] for a vent capacity [m³/s], 0 to 100,000 m³/h."""
    return checked("Vent capacity", vent_capacity_m3_per_s, "m³/h", 0.0, _MOST_FLOW) / VENT_FACTOR


def vapour_growth_factor(vapour_pressure_at_115_f_pa_abs: Numbers) -> Array:
    """Return vapour volume over liquid volume while loading [-], from the vapour pressure at 115 °F (46.1 °C) [Pa].

    1 + 0.25 p/12.5 psia, for 0 to 25 psia (our own upper bound). Source: 33 CFR 154.2103(a).
    """
    pressure = checked("Vapour pressure at 46.1 °C", vapour_pressure_at_115_f_pa_abs, "psi", 0.0, 25.0)
    return 1.0 + _GROWTH_AT_REFERENCE * pressure / _REFERENCE_VAPOUR_PRESSURE_PA


def flow_at_velocity(velocity_m_per_s: Numbers, bore_m: Numbers) -> Array:
    """Return the flow [m³/s] at a mean velocity [m/s], 0 to 30, in a true bore [m], 10 to 3000 mm."""
    velocity = checked("Velocity", velocity_m_per_s, "m/s", 0.0, 30.0)
    bore = checked("Bore", bore_m, "mm", 10.0, 3000.0)
    return np.asarray(velocity * (0.25 * np.pi) * bore**2)


def velocity_of_flow(flow_m3_per_s: Numbers, bore_m: Numbers) -> Array:
    """Return the mean velocity [m/s] of a flow [m³/s], 0 to 100,000 m³/h, in a true bore [m], 10 to 3000 mm."""
    flow = checked("Flow", flow_m3_per_s, "m³/h", 0.0, _MOST_FLOW)
    bore = checked("Bore", bore_m, "mm", 10.0, 3000.0)
    return np.asarray(flow / ((0.25 * np.pi) * bore**2))


def initial_filling_flow(bore_m: Numbers) -> Array:
    """Return the flow [m³/s] at 1 m/s: the start rate of a static accumulator oil through one tank inlet bore [m]."""
    return flow_at_velocity(INITIAL_FILLING_VELOCITY_M_PER_S, bore_m)


def bulk_filling_flow(bore_m: Numbers) -> Array:
    """Return the flow [m³/s] at 7 m/s: the precautionary bulk rate of a static accumulator oil in a bore [m]."""
    return flow_at_velocity(BULK_FILLING_VELOCITY_M_PER_S, bore_m)


def is_static_accumulator(conductivity_s_per_m: Numbers) -> Flags:
    """Return whether an oil of this conductivity [S/m], 0 to 1, counts as a static accumulator (below 50 pS/m)."""
    return checked("Conductivity in S/m", conductivity_s_per_m, "1", 0.0, 1.0) < STATIC_ACCUMULATOR_BELOW_S_PER_M


def relaxation_time_s(conductivity_s_per_m: Numbers, relative_permittivity: Numbers) -> Array:
    """Return the time [s] in which a charge in the liquid falls to 1/e, by ohmic decay.

    ``conductivity_s_per_m`` [S/m]: 1e-15 to 1; ``relative_permittivity`` [-]: 1 to 100, about 2 for oils. A liquid
    below about 1 pS/m decays otherwise and faster than this (from memory: API RP 2003). τ = ε_r ε_0/σ.
    """
    conductivity = checked("Conductivity in S/m", conductivity_s_per_m, "1", 1e-15, 1.0)
    permittivity = checked("Relative permittivity", relative_permittivity, "1", 1.0, 100.0)
    return permittivity * VACUUM_PERMITTIVITY_F_PER_M / conductivity
