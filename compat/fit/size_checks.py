"""Checks of size, water, manifold and side (pure: no Django)."""

from __future__ import annotations

import numpy as np

from compat.calc.fit import water
from compat.calc.fit.verdicts import NOT_APPLICABLE, Judged, at_least, at_most, between, by_agreement, only_where
from compat.fit.check import Check, most, within
from compat.fit.columns import Pairs
from shared.calc.root import Array

_HULL, _SIZE, _RANGE = "ship:berthing.hull.", "berth:size.", "berth:berthing.range."
_WATER, _REACH = "berth:berthing.water.", "berth:berthing.reach."
_LENGTH, _BEAM = "ship:particulars.length_overall_m", "ship:particulars.beam_m"
_DEADWEIGHT, _MANIFOLD = "ship:particulars.summer_deadweight_t", "ship:manifold.elevation_m"
_ARRIVAL = "visit:arrival_draught_m"
_DEPARTURE = ("visit:departure_draught_m", f"{_HULL}ballast_draught_m")
_DISPLACEMENT = ("visit:arrival_displacement_t", f"{_HULL}summer_displacement_t")
_LEVELS = (f"{_WATER}lowest_water_m", f"{_WATER}highest_water_m")
_RULES = tuple(f"{_WATER}under_keel_{name}" for name in ("m", "percent_of_draught", "percent_of_beam"))
_UNDER_KEEL_GUIDANCE = (
    "Published examples, not rules for this berth: 1.83 m (6 ft) at all times at offshore terminals of California"
    " (2 CCR, article 5, 2006 text); 5 % of the draught alongside at one port of New Zealand (BIMCO port notes); the"
    " greater of 1.5 % of the beam and 0.3 m in one tanker owner's published policy."
)


def first_known(one: Array, other: Array) -> Array:
    """Return one fact, or the other where the first is not known."""
    return np.where(np.isnan(one), other, one)


def moments(p: Pairs) -> tuple[water.Moments, Array]:
    """Return water and draught over the stay, and whether the tide is known hour by hour.

    From the stated waters the draught goes evenly from arrival to departure; otherwise both draughts are held against
    the lowest and the highest water.
    """
    arrival = p[_ARRIVAL]
    departure = first_known(p[_DEPARTURE[0]], p[_DEPARTURE[1]])
    hourly = p.visit.arrays.get("water at moments")
    if hourly is None:
        found = water.four_moments(arrival, departure, p[_LEVELS[0]], p[_LEVELS[1]])
        return found, np.zeros_like(arrival)
    part = np.linspace(0.0, 1.0, hourly.shape[-1])
    draught = arrival[..., None] + (departure - arrival)[..., None] * part
    return water.Moments(hourly, draught), np.ones_like(arrival)


def _under_keel(p: Pairs) -> Judged:
    over_stay, tide_known = moments(p)
    asked = water.clearance_asked(over_stay.draught_m, p[_BEAM], *(p[rule] for rule in _RULES))
    return water.under_keel(over_stay, p[f"{_SIZE}depth_below_zero_m"], asked, tide_known=tide_known)


def _tide_window(p: Pairs) -> Judged:
    """Judge the hours until there is water for her arrival draught, where the tide is known by the hour."""
    hourly = p.visit.arrays.get("water at moments")
    nothing = np.full(p[_ARRIVAL].shape, np.nan)
    if hourly is None:
        return Judged(np.full(nothing.shape, NOT_APPLICABLE), nothing, nothing, nothing)
    deep = np.broadcast_to(p[_ARRIVAL][..., None], hourly.shape)
    asked = water.clearance_asked(deep, p[_BEAM], *(p[rule] for rule in _RULES))
    clearance = p[f"{_SIZE}depth_below_zero_m"][..., None] + hourly - deep
    wait = water.hours_until_deep_enough(clearance, asked, p["visit:stay_h"])
    return by_agreement(at_most(wait, np.zeros_like(wait)), np.isfinite(wait))


def _overhead(p: Pairs) -> Judged:
    over_stay, _ = moments(p)
    return water.overhead(
        over_stay, p[f"{_HULL}keel_to_top_m"], p[f"{_WATER}overhead_elevation_m"], p[f"{_WATER}overhead_clearance_m"]
    )


def _displacement(p: Pairs) -> Judged:
    value = first_known(p[_DISPLACEMENT[0]], p[_DISPLACEMENT[1]])
    return between(value, p[f"{_RANGE}least_displacement_t"], p[f"{_RANGE}greatest_displacement_t"])


def _stern(p: Pairs) -> Judged:
    return at_most(p[_LENGTH] - p[f"{_HULL}bow_to_manifold_m"], p[f"{_REACH}greatest_stern_to_manifold_m"])


def _flat_side(condition: str) -> Check:
    forward, aft = (f"{_HULL}flat_side_{condition}_{end}_m" for end in ("forward", "aft"))
    fenders = f"{_REACH}fender_forward_m", f"{_REACH}fender_aft_m"
    return Check(
        f"flat-side-{condition}",
        f"Flat side against the fenders, {'in ballast' if condition == 'ballast' else 'loaded'}",
        "Manifold and side",
        "m",
        (forward, aft, *fenders),
        lambda p: water.flat_side(p[forward], p[aft], p[fenders[0]], p[fenders[1]]),
    )


def _crane(key: str, label: str, unit: str) -> Check:
    value, limit = f"ship:berthing.equipment.{key}", f"{_REACH}{key}"
    return Check(
        key.rpartition("_")[0].replace("_", "-"),
        label,
        "Connection",
        unit,
        (value, limit),
        lambda p: only_where(at_least(p[value], p[limit]), p["berth:hoses"] > 0),
    )


def _cargo_weight(p: Pairs) -> Judged:
    weight_t = p["cargo:volume"] * p["cargo:density"] / 1000.0
    return only_where(at_most(weight_t, p[_DEADWEIGHT]), ~np.isnan(p["cargo:volume"]))


TIDE_WINDOW = Check(
    "tide-window",
    "Hours to wait for water enough to come alongside",
    "Papers and hours",
    "h",
    (_ARRIVAL, f"{_SIZE}depth_below_zero_m", _RULES),
    _tide_window,
    agreement="There is not water enough when she comes, but there is after the hours told: agree another hour.",
    guidance=_UNDER_KEEL_GUIDANCE,
)
SIZE_CHECKS = (
    within(
        "length-overall",
        "Length overall",
        "Size",
        "m",
        _LENGTH,
        f"{_RANGE}least_length_overall_m",
        f"{_SIZE}greatest_length_overall_m",
    ),
    within("beam", "Beam", "Size", "m", _BEAM, f"{_RANGE}least_beam_m", f"{_SIZE}greatest_beam_m"),
    Check(
        "displacement",
        "Displacement on arrival",
        "Size",
        "t",
        (_DISPLACEMENT, f"{_RANGE}least_displacement_t", f"{_RANGE}greatest_displacement_t"),
        _displacement,
    ),
    within(
        "deadweight",
        "Deadweight",
        "Size",
        "t",
        _DEADWEIGHT,
        f"{_RANGE}least_deadweight_t",
        f"{_SIZE}greatest_deadweight_t",
    ),
    Check("cargo-weight", "Cargo against her deadweight", "Size", "t", (_DEADWEIGHT,), _cargo_weight),
    most("draught", "Draught on arrival", "Water", "m", _ARRIVAL, f"{_SIZE}greatest_draught_m"),
    Check(
        "under-keel",
        "Under-keel clearance over the stay",
        "Water",
        "m",
        (_ARRIVAL, _DEPARTURE, f"{_SIZE}depth_below_zero_m", *_LEVELS, _RULES),
        _under_keel,
        agreement="She is too deep at the lowest water, but not at the highest: agree a tide to come on, and that she"
        " is lighter before low water.",
        guidance=_UNDER_KEEL_GUIDANCE,
    ),
    Check(
        "air-draught",
        "Clearance overhead",
        "Water",
        "m",
        (
            _ARRIVAL,
            _DEPARTURE,
            f"{_HULL}keel_to_top_m",
            *_LEVELS,
            f"{_WATER}overhead_elevation_m",
            f"{_WATER}overhead_clearance_m",
        ),
        _overhead,
    ),
    most(
        "bow-to-manifold",
        "Bow to manifold",
        "Manifold and side",
        "m",
        f"{_HULL}bow_to_manifold_m",
        f"{_REACH}greatest_bow_to_manifold_m",
    ),
    Check(
        "stern-to-manifold",
        "Stern to manifold",
        "Manifold and side",
        "m",
        (_LENGTH, f"{_HULL}bow_to_manifold_m", f"{_REACH}greatest_stern_to_manifold_m"),
        _stern,
    ),
    within(
        "manifold-setback",
        "Flanges from the ship's side",
        "Manifold and side",
        "m",
        f"{_HULL}manifold_setback_m",
        f"{_REACH}least_setback_m",
        f"{_REACH}greatest_setback_m",
    ),
    Check(
        "manifold-lowest",
        "Lowest manifold of the stay over the berth's zero",
        "Manifold and side",
        "m",
        (_MANIFOLD, _ARRIVAL, _DEPARTURE, *_LEVELS, f"{_REACH}lowest_manifold_m"),
        lambda p: water.manifold_lowest(moments(p)[0], p[_MANIFOLD], p[f"{_REACH}lowest_manifold_m"]),
    ),
    Check(
        "manifold-highest",
        "Highest manifold of the stay over the berth's zero",
        "Manifold and side",
        "m",
        (_MANIFOLD, _ARRIVAL, _DEPARTURE, *_LEVELS, f"{_REACH}highest_manifold_m"),
        lambda p: water.manifold_highest(moments(p)[0], p[_MANIFOLD], p[f"{_REACH}highest_manifold_m"]),
    ),
    _flat_side("ballast"),
    _flat_side("loaded"),
    Check(
        "manifold-spacing",
        "Spacing of the flanges",
        "Connection",
        "m",
        (f"{_HULL}manifold_spacing_m", f"{_REACH}least_spacing_m"),
        lambda p: by_agreement(at_least(p[f"{_HULL}manifold_spacing_m"], p[f"{_REACH}least_spacing_m"])),
        agreement="Neighbouring flanges stand closer than the arms need: agree on every other flange, or fewer arms.",
    ),
    _crane("crane_lift_t", "Hose crane: safe working load", "t"),
    _crane("crane_reach_m", "Hose crane: reach outside the side", "m"),
)
