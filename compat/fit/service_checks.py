"""Checks of cargo and gas, rate and pressure, papers and hours, and the terminal's own rules (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from types import MappingProxyType

import numpy as np

from compat.calc.fit.sun import daylight_hours, hours_until_daylight
from compat.calc.fit.verdicts import (
    NOT_APPLICABLE,
    UNDECIDED,
    Judged,
    allowed,
    at_least,
    at_most,
    by_agreement,
    only_where,
    worst,
    worst_along,
)
from compat.fit.check import Check, Need
from compat.fit.columns import Pairs
from compat.fit.size_checks import first_known
from shared.calc.root import Array

_EQUIPMENT, _SERVICES = "ship:berthing.equipment.", "berth:berthing.services."
_DEADWEIGHT, _BUILT = "ship:particulars.summer_deadweight_t", "ship:particulars.year_built"
_REQUIRED = 0.0  # place of "required" in the lists of words, and of "fitted", "not allowed", "none"
_FITTED = 0.0
_CRUDE_ONLY = 1.0
_BELOW_T = 0.01  # the rule counts from its figure on, so that a ship at it is outside
_INERT_GAS_FROM_T, _INERT_GAS_NEW_FROM_T, _INERT_GAS_NEW_FROM_YEAR = 20_000.0, 8_000.0, 2016.0
INERT_GAS_RULE = (
    "SOLAS II-2/4.5.5.1 as amended by MSC.365(93): an inert gas system from 20,000 t deadweight, and from 8,000 t for"
    " ships built from 1 January 2016 on."
)


def _demanded(demand: Array, has: Array) -> Judged:
    """Judge equipment that a terminal requires: not required is enough, else it has to be fitted."""
    needed = demand == _REQUIRED
    flag = np.where(np.isnan(demand), np.nan, np.where(needed, np.where(np.isnan(has), np.nan, has == _FITTED), 1.0))
    return allowed(flag)


def _inert_gas(p: Pairs) -> Judged:
    delivers = p["ship:inert_gas_delivery_m3_per_h"]
    has = np.where(np.isnan(p[f"{_EQUIPMENT}inert_gas"]) & (delivers > 0), _FITTED, p[f"{_EQUIPMENT}inert_gas"])
    return _demanded(p[f"{_SERVICES}inert_gas"], has)


def _inert_gas_rule(p: Pairs) -> Judged:
    """Judge the deadweight of a ship that says she has no inert gas against the size from which she must have it."""
    new = p[_BUILT] >= _INERT_GAS_NEW_FROM_YEAR
    limit = np.where(new, _INERT_GAS_NEW_FROM_T, _INERT_GAS_FROM_T)
    judged = at_most(p[_DEADWEIGHT], limit - _BELOW_T)
    return only_where(judged, p[f"{_EQUIPMENT}inert_gas"] == 1.0)


def _washing(p: Pairs) -> Judged:
    planned, may = p["visit:tank_washing"], p[f"{_SERVICES}tank_washing"]
    crude_planned = planned == 1.0
    fine = np.where(may == _CRUDE_ONLY, crude_planned, may > _CRUDE_ONLY).astype(float)
    flag = np.where(np.isnan(planned) | np.isnan(may), np.nan, fine)
    flag = np.where(planned == 0.0, 1.0, flag)
    fitted = p[f"{_EQUIPMENT}crude_oil_washing"]
    able = np.where(crude_planned, np.where(np.isnan(fitted), np.nan, fitted == _FITTED), 1.0)
    return worst([allowed(flag), allowed(able)])


def _grades(p: Pairs) -> Judged:
    """Judge the grades of the visit against the berth and against her segregations; one grade always is segregated."""
    grades = p["visit:grades"]
    room = np.where(grades <= 1, np.inf, p[f"{_EQUIPMENT}segregations"])
    return worst([at_most(grades, p[f"{_SERVICES}grades_at_once"]), at_most(grades, room)])


def _loading(p: Pairs) -> Judged:
    limit = p[f"{_SERVICES}least_loading_rate_m3_per_h"]
    return only_where(at_least(p[f"{_EQUIPMENT}greatest_loading_rate_m3_per_h"], limit), ~np.isnan(limit))


def _certificates(p: Pairs) -> Judged:
    """Judge the days that the first certificate to run out has left when she leaves, of those that are asked for."""
    asked = p["berth:certificates asked"]
    stay_days = np.nan_to_num(p["visit:stay_h"], nan=np.nan) / 24.0
    leaves = p["visit:arrives_on"] + stay_days
    left = p["ship:valid to"] - leaves[..., None]
    judged = at_least(np.where(asked > 0, left, np.inf), np.where(asked > 0, 0.0, -np.inf))
    found = worst_along(judged)
    unknown = np.isnan(asked).any(-1)
    verdict = np.where(unknown, UNDECIDED, found.verdict).astype(np.int8)
    nothing_asked = (asked == 0).all(-1)
    value = np.where(unknown | nothing_asked, np.nan, found.value)
    limit = np.where(unknown | nothing_asked, np.nan, found.limit)
    margin = np.where(unknown | nothing_asked, np.nan, found.margin)
    return Judged(verdict, value, limit, margin)


def _daylight(p: Pairs) -> Judged:
    """Judge the hours to wait for daylight, where ships berth by day only."""
    hours, day = p[f"{_SERVICES}berthing_hours"], p["visit:arrives_on"]
    of_year = np.array(
        [np.nan if np.isnan(one) else date.fromordinal(int(one)).timetuple().tm_yday for one in day.flat]
    )
    rise, set_ = daylight_hours(
        of_year.reshape(day.shape), p[f"{_SERVICES}latitude_degrees"], p[f"{_SERVICES}longitude_degrees"]
    )
    wait = hours_until_daylight(p["visit:arrival_hour_h"], rise, set_)
    judged = by_agreement(at_most(wait, np.zeros_like(wait)))
    verdict = np.where(np.isnan(hours), UNDECIDED, judged.verdict).astype(np.int8)
    return only_where(Judged(verdict, judged.value, judged.limit, judged.margin), hours != 0.0)


RULES_STATED = "berth:berthing.own_rules"
RULE_NEEDS: Mapping[str, Need] = MappingProxyType(
    {
        "age in years": "ship:particulars.year_built",
        "length overall in m": "ship:particulars.length_overall_m",
        "beam in m": "ship:particulars.beam_m",
        "deadweight in t": _DEADWEIGHT,
        "displacement in t": ("visit:arrival_displacement_t", "ship:berthing.hull.summer_displacement_t"),
        "draught on arrival in m": "visit:arrival_draught_m",
        "manifold connections": "ship:manifold.connections",
        "segregations": f"{_EQUIPMENT}segregations",
        "inert gas delivery in m³/h": "ship:inert_gas_delivery_m3_per_h",
    }
)
"""The fact of ship or visit behind a fact that rules name; the others are the cargo's, or are worked out."""
RULE_ALSO_NEEDS: Mapping[str, str] = MappingProxyType({"age in years": "visit:arrives_on"})
"""What a fact that rules name needs besides, of the visit."""
COUNTED = frozenset({"manifold connections", "segregations"})


def rule_facts(p: Pairs) -> Array:
    """Return the facts that a terminal's own rules may name, in the order of their closed list; (pairs, facts)."""
    today = p["visit:arrives_on"]
    year = np.array([np.nan if np.isnan(one) else float(date.fromordinal(int(one)).year) for one in today.flat])
    displacement = first_known(p["visit:arrival_displacement_t"], p["ship:berthing.hull.summer_displacement_t"])
    return np.stack(
        [
            year.reshape(today.shape) - p[_BUILT],
            p["ship:particulars.length_overall_m"],
            p["ship:particulars.beam_m"],
            p[_DEADWEIGHT],
            displacement,
            p["visit:arrival_draught_m"],
            p["ship:manifold.connections"],
            p[f"{_EQUIPMENT}segregations"],
            p["ship:inert_gas_delivery_m3_per_h"],
            p["cargo:density"],
            p["cargo:viscosity"],
            p["cargo:temperature"],
            p["cargo:vapour pressure"],
            p["cargo:volume"],
            p["visit:rate"],
        ],
        -1,
    )


def own_rules(p: Pairs) -> Judged:
    """Judge each of the terminal's own rules; (pairs, rules), not applicable past a berth's last rule."""
    named = p["berth:rule facts"]
    exists = ~np.isnan(named)
    facts = rule_facts(p)
    place = np.where(exists, named, 0).astype(int)
    value = np.take_along_axis(facts, place, -1)
    number, upper = p["berth:rule numbers"], p["berth:rule signs"] > 0
    over, under = at_most(value, number), at_least(value, number)
    judged = Judged(
        np.where(upper, over.verdict, under.verdict).astype(np.int8),
        value,
        number,
        np.where(upper, over.margin, under.margin),
    )
    return only_where(by_agreement(judged, p["berth:rule soft"] == 1.0), exists)


def _own_rules(p: Pairs) -> Judged:
    judged = own_rules(p)
    if judged.verdict.shape[-1]:
        return worst_along(judged)
    rows = judged.verdict.shape[:-1]
    nothing = np.full(rows, np.nan)
    return Judged(np.full(rows, NOT_APPLICABLE), nothing, nothing, nothing)


OWN_RULES = Check("own-rules", "The terminal's own rules", "The terminal's own rules", "1", (), _own_rules)
SERVICE_CHECKS = (
    Check(
        "cargo",
        "Cargo handled at the berth",
        "Cargo and gas",
        "",
        ("berth:berthing.cargoes",),
        lambda p: allowed(p["visit:cargo taken"]),
    ),
    Check(
        "grades",
        "Grades at once",
        "Cargo and gas",
        "1",
        ("visit:grades", f"{_SERVICES}grades_at_once", f"{_EQUIPMENT}segregations"),
        _grades,
    ),
    Check(
        "inert-gas",
        "Inert gas",
        "Cargo and gas",
        "",
        (f"{_SERVICES}inert_gas", f"{_EQUIPMENT}inert_gas"),
        _inert_gas,
    ),
    Check(
        "inert-gas-rule",
        "Deadweight of a ship without inert gas",
        "Cargo and gas",
        "t",
        (_DEADWEIGHT, f"{_EQUIPMENT}inert_gas"),
        _inert_gas_rule,
        guidance=INERT_GAS_RULE,
    ),
    Check(
        "vapour-return",
        "Vapour return",
        "Cargo and gas",
        "",
        (f"{_SERVICES}vapour_return", f"{_EQUIPMENT}vapour_return"),
        lambda p: _demanded(p[f"{_SERVICES}vapour_return"], p[f"{_EQUIPMENT}vapour_return"]),
    ),
    Check(
        "tank-washing",
        "Tank washing",
        "Cargo and gas",
        "",
        ("visit:tank_washing", f"{_SERVICES}tank_washing", f"{_EQUIPMENT}crude_oil_washing"),
        _washing,
    ),
    Check(
        "discharge-rate",
        "Discharge rate against the least that the terminal asks for",
        "Rate and pressure",
        "m³/h",
        (f"{_SERVICES}least_discharge_rate_m3_per_h",),
        lambda p: by_agreement(at_least(p["visit:rate"], p[f"{_SERVICES}least_discharge_rate_m3_per_h"])),
        agreement="She makes less than the terminal asks for: agree a lower rate, or more of what binds.",
    ),
    Check(
        "manifold-pressure",
        "Manifold pressure kept against the least that the terminal asks for",
        "Rate and pressure",
        "bar",
        (f"{_SERVICES}least_manifold_pressure_bar_gauge",),
        lambda p: by_agreement(at_least(p["visit:pressure"], p[f"{_SERVICES}least_manifold_pressure_bar_gauge"])),
        agreement="She keeps less pressure than the terminal asks for: agree a lower one.",
        guidance="Charters usually ask for 7 bar or 100 psi at the manifold, or the cargo in 24 hours; they are"
        " contracts and no safety rule.",
    ),
    Check(
        "loading-rate",
        "Loading rate that she takes against the least that the terminal asks for",
        "Rate and pressure",
        "m³/h",
        (f"{_EQUIPMENT}greatest_loading_rate_m3_per_h", f"{_SERVICES}least_loading_rate_m3_per_h"),
        _loading,
    ),
    Check(
        "certificates",
        "Days left on the first certificate to run out, when she leaves",
        "Papers and hours",
        "d",
        ("ship:berthing.certificates", "berth:berthing.certificates", "visit:arrives_on", "visit:stay_h"),
        _certificates,
    ),
    Check(
        "daylight",
        "Hours to wait for daylight",
        "Papers and hours",
        "h",
        (
            f"{_SERVICES}berthing_hours",
            f"{_SERVICES}latitude_degrees",
            f"{_SERVICES}longitude_degrees",
            "visit:arrives_on",
            "visit:arrival_hour_h",
        ),
        _daylight,
        agreement="She comes in the dark and ships berth by daylight only: agree another hour.",
        guidance="Sunrise and sunset to a few minutes; the almanac decides.",
    ),
    OWN_RULES,
)
