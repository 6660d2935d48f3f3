"""One builder for each object that tests need, with sound invented facts; dictionaries come back fresh each time."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from typing import Any

import weasyprint

from compat.accord.checklist.item import Side
from compat.accord.pdf_signature import with_fields
from shared.models import Organisation, Person
from shared.roles import Kind, Role
from terminals.models import Berth, BerthRevision, Terminal
from vessels.models import Vessel, VesselRevision

NOW = datetime(2031, 4, 14, 6, 30, tzinfo=UTC)
SECRET = "slack-water-at-dusk"

Document = dict[str, Any]


def make_organisation(kind: Kind = Kind.SHIP, name: str = "Halvard Tankers") -> Organisation:
    """Return the organisation of this name, made if it is not there yet."""
    return Organisation.objects.get_or_create(name=name, defaults={"kind": kind})[0]


def make_person(
    organisation: Organisation | None, role: Role = Role.OFFICER, username: str = "", **more: Any
) -> Person:
    """Make a person who signs in with SECRET."""
    username = username or f"{role}-{Person.objects.count() + 1}"
    return Person.objects.create_user(
        username=username,
        password=SECRET,
        organisation=organisation,
        role=role,
        full_name=more.pop("full_name", username.replace("-", " ").title()),
        title=more.pop("title", "Cargo Officer"),
        **more,
    )


def pump_facts(key: str = "P1", **changes: Any) -> Document:
    """A centrifugal cargo pump of 1,500 m³/h at 130 m and 1,500 rpm."""
    facts: Document = {
        "key": key,
        "name": f"Cargo pump {key}",
        "drive": "electric motor, variable speed",
        "curves": [
            {
                "speed_rpm": 1500.0,
                "points": [
                    {"flow_m3_per_h": 0.0, "head_m": 158.0, "npsh_required_m": 3.0},
                    {"flow_m3_per_h": 600.0, "head_m": 153.5, "npsh_required_m": 3.2},
                    {"flow_m3_per_h": 1200.0, "head_m": 140.0, "npsh_required_m": 3.9},
                    {"flow_m3_per_h": 1500.0, "head_m": 130.0, "npsh_required_m": 4.6},
                    {"flow_m3_per_h": 1800.0, "head_m": 117.5, "npsh_required_m": 5.8},
                ],
            }
        ],
        "rated_flow_m3_per_h": 1500.0,
        "least_speed_rpm": 900.0,
        "greatest_speed_rpm": 1500.0,
        "elevation_m": 2.5,
        "suction_line": [
            {"name": "Suction", "length_m": 40.0, "bore_mm": 450.0, "roughness_mm": 0.1, "loss_coefficient": 1.8}
        ],
        "discharge_line": [
            {"name": "Riser", "length_m": 30.0, "bore_mm": 350.0, "roughness_mm": 0.1, "loss_coefficient": 2.4}
        ],
    }
    return {**facts, **changes}


def ship_facts(**changes: Any) -> Document:
    """A ship with two alike pumps (document of vessels.facts.ShipFacts)."""
    facts: Document = {
        "name": "Astrid Halvard",
        "imo_number": "9074729",
        "particulars": {
            "length_overall_m": 183.0,
            "beam_m": 32.2,
            "summer_draught_m": 12.4,
            "summer_deadweight_t": 47_500.0,
            "year_built": 2014,
        },
        "pumps": [pump_facts("P1"), pump_facts("P2")],
        "common_line": [
            {"name": "Deck line", "length_m": 90.0, "bore_mm": 500.0, "roughness_mm": 0.1, "loss_coefficient": 2.0}
        ],
        "ship_line_velocity_limit_m_per_s": 7.0,
        "manifold": {"elevation_m": 20.5, "rating_bar_gauge": 16.0, "bore_mm": 300.0, "connections": 3},
        "cargo_tanks": {"bottom_elevation_m": 2.1, "top_elevation_m": 19.0},
        "source": "Pump test sheets of the builder",
    }
    return {**facts, **changes}


def berth_facts(**changes: Any) -> Document:
    """A berth with two arms and a shore line of two bores up to a tank (document of terminals.facts.BerthFacts)."""
    facts: Document = {
        "name": "Outer berth",
        "terminal": "Sandvik Oil Terminal",
        "port": "Port Merrow",
        "size": {
            "greatest_length_overall_m": 250.0,
            "greatest_beam_m": 44.0,
            "greatest_draught_m": 13.5,
            "greatest_deadweight_t": 90_000.0,
        },
        "arms": [
            {
                "name": "Arm 10 in",
                "kind": "arm",
                "count": 2,
                "length_m": 25.0,
                "bore_mm": 254.5,
                "roughness_mm": 0.05,
                "loss_coefficient": 3.5,
                "rating_bar_gauge": 16.0,
                "velocity_limit_m_per_s": 12.0,
            }
        ],
        "arm_shore_end_elevation_m": 7.0,
        "shore_line": [
            {
                "name": "Jetty line",
                "length_m": 850.0,
                "bore_mm": 489.0,
                "roughness_mm": 0.1,
                "loss_coefficient": 4.0,
                "end_elevation_m": 6.0,
                "rating_bar_gauge": 16.0,
                "velocity_limit_m_per_s": 7.0,
            },
            {
                "name": "Line to the tank farm",
                "length_m": 2400.0,
                "bore_mm": 590.0,
                "roughness_mm": 0.1,
                "loss_coefficient": 6.0,
                "end_elevation_m": 9.0,
                "rating_bar_gauge": 16.0,
                "velocity_limit_m_per_s": 7.0,
            },
        ],
        "shore_end": {
            "tank": {
                "name": "Tank 12",
                "surface_elevation_m": 18.0,
                "gas_pressure_bar_gauge": 0.0,
                "bottom_elevation_m": 8.0,
                "top_elevation_m": 24.0,
            }
        },
        "manifold_pressure_limit_bar_gauge": 10.0,
        "receiving_rate_m3_per_h": 4000.0,
        "source": "As-built drawings",
    }
    return {**facts, **changes}


def cargo_facts(**changes: Any) -> Document:
    """A light gas oil (document of shared.facts.CargoFacts)."""
    facts: Document = {
        "name": "Gas oil",
        "density_kg_per_m3": 845.0,
        "kinematic_viscosity_mm2_per_s": 4.2,
        "temperature_c": 15.0,
        "vapour_pressure_kpa_abs": 1.0,
        "quantity_m3": 32_000.0,
    }
    return {**facts, **changes}


def case_document(**changes: Any) -> Document:
    """A whole case at one common free speed (document of compat.case.case_file.CaseFile)."""
    document: Document = {
        "format": "berth-accord-case/1",
        "title": "Astrid Halvard at the Outer berth",
        "ship": ship_facts(),
        "cargo": cargo_facts(),
        "berth": berth_facts(),
        "keel_elevation_m": -9.5,
        "operation": {
            "speed": "one common speed",
            "pumps": [
                {
                    "pump": key,
                    "running": True,
                    "tank_surface_elevation_m": 12.0,
                    "tank_gas_pressure_bar_gauge": 0.05,
                }
                for key in ("P1", "P2")
            ],
        },
        "agreed": {"manifold_pressure_bar_gauge": 8.0},
    }
    return {**document, **changes}


def make_vessel(organisation: Organisation, by: Person | None = None, **changes: Any) -> Vessel:
    """Make a ship of this organisation with one revision of ``ship_facts(**changes)``."""
    facts = ship_facts(**changes)
    vessel = Vessel.objects.create(
        organisation=organisation, name=facts["name"], imo_number=facts.get("imo_number") or ""
    )
    VesselRevision.objects.create(vessel=vessel, number=1, facts=facts, made_by=_author(organisation, by), made_at=NOW)
    return vessel


def make_terminal(organisation: Organisation, name: str = "Sandvik Oil Terminal") -> Terminal:
    """Return the organisation's terminal of this name, made if it is not there yet."""
    return Terminal.objects.get_or_create(
        organisation=organisation, name=name, defaults={"port": "Port Merrow", "address": "1 Jetty Road, Port Merrow"}
    )[0]


def make_berth(
    organisation: Organisation, by: Person | None = None, *, line_data_shared: bool = True, **changes: Any
) -> Berth:
    """Make a berth of this organisation's terminal with one revision of ``berth_facts(**changes)``."""
    facts = berth_facts(**changes)
    berth = Berth.objects.create(
        terminal=make_terminal(organisation, facts["terminal"]), name=facts["name"], line_data_shared=line_data_shared
    )
    BerthRevision.objects.create(berth=berth, number=1, facts=facts, made_by=_author(organisation, by), made_at=NOW)
    return berth


def _author(organisation: Organisation, by: Person | None) -> Person:
    return by or organisation.people.first() or make_person(organisation)


@cache
def small_pdf() -> bytes:
    """Return a PDF of one page, for what is not looked at."""
    return bytes(weasyprint.HTML(string="<p>A page</p>").write_pdf())


@cache
def small_pdf_to_sign() -> bytes:
    """Return a PDF of one page with a signature field for each side."""
    return with_fields(small_pdf(), {Side.SHIP: (40, 40, 240, 80), Side.TERMINAL: (260, 40, 460, 80)})
