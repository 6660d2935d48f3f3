"""The form that plans the stay of an assessment, and the stay file that follows from it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Any, ClassVar

from django import forms

from compat.assessing.operation_forms import Fields, quantity_field, read_of
from compat.case.case_file import AgreedFacts, CaseFile, case_document
from compat.stay.facts import CargoTank, DraughtEntry, StageFacts, StrippingFacts, TideWater, WaterFacts
from compat.stay.file import FORMAT, StayFile, check_stay
from shared.calc.errors import InputError
from shared.calc.tide import tide_of
from shared.calc.units import HOUR_S
from shared.cargo_facts import CargoFacts
from shared.facts_reading import FactField
from shared.fields import PersonForm, QuantityField
from shared.models import Person
from shared.reading import DocumentError

_ONE_BOX = "all"
_TIDE_HELP = "One water a line: hours after the start, and height over the berth's zero in m, as in “-1.5 0.8”."


class StayForm(PersonForm):
    """What makes hours out of a rate; everything but the quantity may stay empty. Made by ``stay_form``."""

    use_required_attribute = False
    case: ClassVar[CaseFile]
    line_shown: ClassVar[bool]

    def clean_tide(self) -> list[dict[str, float]]:
        """Read the waters, line by line."""
        waters = []
        for number, line in enumerate(self.cleaned_data["tide"].splitlines(), start=1):
            parts = line.replace(",", ".").split()
            if not parts:
                continue
            try:
                at_h, height_m = (float(part) for part in parts)
            except ValueError:
                raise forms.ValidationError(
                    f"Line {number} of the tide is “{line.strip()[:40]}”; write hours and height: two numbers."
                ) from None
            waters.append({"at_h": at_h, "height_m": height_m})
        if waters:
            try:
                tide_of([one["at_h"] * HOUR_S for one in waters], [one["height_m"] for one in waters])
            except InputError as error:
                raise forms.ValidationError(str(error)) from None
        return waters

    def stay(self) -> StayFile | None:
        """Return the stay file of the valid form; None with the reasons on the form where it does not fit."""
        try:
            return check_stay(self.document(), "")
        except DocumentError as error:
            for problem in error.problems:
                self.add_error(None, problem.removeprefix(": "))
            return None

    def document(self) -> dict[str, Any]:
        """Return the document of the stay file that the valid form describes."""
        values = {
            key: float(value) if isinstance(value, Decimal) else value for key, value in self.cleaned_data.items()
        }
        case = case_document(self.case)
        if values.get("start_rate") is not None:
            case.setdefault("agreed", {})["start_rate_m3_per_h"] = values["start_rate"]
        content = values["line_content"]
        if content is None and not self.line_shown:
            content = 0.0  # worked out from bores and lengths it would tell the terminal's line
        stages = {"line_content_m3": content, "ramp_h": values["ramp"] or 0.5, "line_clearing_h": values["clearing"]}
        if values["stripping_rate"] is not None:
            stages["stripping"] = {"rate_m3_per_h": values["stripping_rate"]}
        document = {
            "format": FORMAT,
            "title": self.case.title,
            "case": case,
            "cargo_tanks": [self._tank(values)],
            "shore_tanks": self._shore(values),
            "water": _water(values),
            "stages": {key: value for key, value in stages.items() if value is not None},
        }
        return document | ({"allowed_h": values["allowed"]} if values["allowed"] is not None else {})

    def _tank(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Return all cargo tanks as one box: the quantity between the tanks' bottom and their surface now."""
        level = self._surface() - values["tank_bottom"]
        tank = {
            "key": _ONE_BOX,
            "name": "All cargo tanks as one box",
            "zero_elevation_m": values["tank_bottom"],
            "table": [{"level_m": 0.0, "volume_m3": 0.0}, {"level_m": level, "volume_m3": values["quantity"]}],
            "level_m": level,
        }
        return tank | ({"pumps_off_below_m": values["pumps_off"]} if values["pumps_off"] is not None else {})

    def _surface(self) -> float:
        levels = [state.tank_surface_elevation_m for state in self.case.operation.pumps if state.running]
        return float(min(levels))

    def _shore(self, values: Mapping[str, Any]) -> list[dict[str, Any]]:
        tank = self.case.berth.shore_end.tank
        diameter = values.get("shore_diameter")
        if tank is None or diameter is None:
            return []
        area = math.pi * diameter**2 / 4.0
        bottom = tank.bottom_elevation_m if tank.bottom_elevation_m is not None else tank.surface_elevation_m
        top = tank.top_elevation_m if tank.top_elevation_m is not None else tank.surface_elevation_m + 60.0
        height = top - bottom
        return [
            {
                "key": "shore",
                "zero_elevation_m": bottom,
                "table": [{"level_m": 0.0, "volume_m3": 0.0}, {"level_m": height, "volume_m3": area * height}],
                "level_m": tank.surface_elevation_m - bottom,
            }
        ]

    def clean(self) -> dict[str, Any]:
        """Refuse tanks without any height."""
        values = super().clean() or self.cleaned_data
        bottom = values.get("tank_bottom")
        if bottom is not None and float(bottom) >= self._surface():
            self.add_error(
                "tank_bottom",
                f"The tanks' bottom at {float(bottom):g} m is not below their surface at {self._surface():g} m.",
            )
        return values

    @property
    def sent(self) -> list[tuple[str, str]]:
        """Return names and texts with which this form comes back as it is."""
        names = set(self.fields) | {f"{name}_unit" for name in self.fields}
        return [(name, str(text)) for name, text in self.data.items() if name in names]


def _water(values: Mapping[str, Any]) -> dict[str, Any]:
    water: dict[str, Any] = {
        "draught_m": values["draught"],
        "least_under_keel_m": values["under_keel"],
        "least_manifold_elevation_m": values["reach_low"],
        "greatest_manifold_elevation_m": values["reach_high"],
    }
    if values["tide"]:
        water["tide"] = values["tide"]
    if values["immersion"] is not None and values["draught"] is not None:
        water["density_kg_per_m3"] = values["water_density"] or 1025.0
        water["draughts"] = [
            {"draught_m": draught, "immersion_t_per_cm": values["immersion"]}
            for draught in (0.5, max(values["draught"] + 2.0, 2.5))
        ]
    return {key: value for key, value in water.items() if value is not None}


def _filled_from(stated: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the form was filled with, by the name of its fields, from what a stay of this form states."""
    tanks, water, stages = stated.get("cargo_tanks", []), stated.get("water", {}), stated.get("stages", {})
    if [tank["key"] for tank in tanks] != [_ONE_BOX]:
        return {}
    (tank,) = tanks
    drawn = {
        "quantity": tank["table"][-1]["volume_m3"],
        "tank_bottom": tank["zero_elevation_m"],
        "pumps_off": tank.get("pumps_off_below_m"),
        "ramp": stages.get("ramp_h"),
        "line_content": stages.get("line_content_m3"),
        "stripping_rate": stages.get("stripping", {}).get("rate_m3_per_h"),
        "clearing": stages.get("line_clearing_h"),
        "allowed": stated.get("allowed_h"),
        "draught": water.get("draught_m"),
        "immersion": next((one.get("immersion_t_per_cm") for one in water.get("draughts", [])), None),
        "water_density": water.get("density_kg_per_m3"),
        "under_keel": water.get("least_under_keel_m"),
        "reach_low": water.get("least_manifold_elevation_m"),
        "reach_high": water.get("greatest_manifold_elevation_m"),
        "tide": "\n".join(f"{one['at_h']:g} {one['height_m']:g}" for one in water.get("tide", [])),
    }
    if stated.get("shore_tanks"):
        top = stated["shore_tanks"][0]["table"][-1]
        drawn["shore_diameter"] = round((4.0 * top["volume_m3"] / top["level_m"] / math.pi) ** 0.5, 6)
    return {name: value for name, value in drawn.items() if value is not None}


def _asked(model: Any, key: str, **changes: Any) -> FactField:
    return read_of(model, key, **{"required": False, **changes})


def stay_form(
    case: CaseFile,
    person: Person,
    sent: Any = None,
    *,
    line_shown: bool,
    start_agreed: bool = False,
    stated: Mapping[str, Any] = MappingProxyType({}),
) -> StayForm:
    """Return the form for the stay of a case, filled with what ship, berth and case state.

    With ``start_agreed`` the start rate is not asked for: it stands in the case. ``stated`` is what a stay states
    already; it fills the form where that is a stay of this form.
    """
    tanks = case.ship.cargo_tanks
    quantity = case.cargo.quantity_m3
    first: Fields = {
        "quantity": quantity_field(_asked(CargoFacts, "quantity_m3", required=True), "To discharge", "", quantity),
        "tank_bottom": quantity_field(
            _asked(CargoTank, "zero_elevation_m", required=True, least=0.0, greatest=60.0),
            "Bottom of the cargo tanks over the keel",
            "",
            None if tanks is None else tanks.bottom_elevation_m,
        ),
        "pumps_off": quantity_field(_asked(CargoTank, "pumps_off_below_m"), "Cargo pumps off below this level", ""),
        "start_rate": quantity_field(
            _asked(AgreedFacts, "start_rate_m3_per_h"), "Start rate", "", case.agreed.start_rate_m3_per_h
        ),
        "ramp": quantity_field(_asked(StageFacts, "ramp_h"), "Time to bring all pumps up", "Half an hour if empty."),
        "line_content": quantity_field(_asked(StageFacts, "line_content_m3"), "Content of arms and shore line", ""),
        "stripping_rate": quantity_field(_asked(StrippingFacts, "rate_m3_per_h"), "Stripping rate", ""),
        "clearing": quantity_field(_asked(StageFacts, "line_clearing_h"), "Line clearing at the end", ""),
        "allowed": quantity_field(_asked(StayFile, "allowed_h"), "Hours allowed", ""),
    }
    if start_agreed:
        first.pop("start_rate")
    if case.berth.shore_end.tank is not None:
        first["shore_diameter"] = quantity_field(
            _asked(TideWater, "height_m", least=3.0, greatest=150.0), "Diameter of the shore tank", ""
        )
    water: Fields = {
        "draught": quantity_field(_asked(WaterFacts, "draught_m"), "Mean draught at the start", ""),
        "immersion": quantity_field(
            _asked(DraughtEntry, "immersion_t_per_cm", unit="1"), "Tonnes per centimetre immersion", "t/cm, sea water"
        ),
        "water_density": quantity_field(_asked(WaterFacts, "density_kg_per_m3"), "Density of the water", "", 1025.0),
        "under_keel": quantity_field(_asked(WaterFacts, "least_under_keel_m"), "Least water under the keel", ""),
        "reach_low": quantity_field(
            _asked(WaterFacts, "least_manifold_elevation_m"),
            "Lowest manifold that the arms reach",
            "Over the berth's zero.",
        ),
        "reach_high": quantity_field(
            _asked(WaterFacts, "greatest_manifold_elevation_m"),
            "Highest manifold that they reach",
            "Over the berth's zero.",
        ),
        "tide": forms.CharField(
            label="High and low waters", required=False, widget=forms.Textarea(attrs={"rows": 4}), help_text=_TIDE_HELP
        ),
    }
    space = {"case": case, "line_shown": line_shown, **first, **water}
    for name, value in _filled_from(stated).items():
        field = {**first, **water}.get(name)
        if isinstance(field, QuantityField):
            field.show_in(field.canonical_unit, value)
        elif field is not None:
            field.initial = value
    kind: type[StayForm] = type("StayFormHere", (StayForm,), space)
    return kind(sent, person=person)
