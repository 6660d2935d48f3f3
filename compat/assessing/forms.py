"""Forms of this room: what people choose for a new assessment, and a case file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import new_class
from typing import Annotated, Any, cast

from django import forms
from pydantic import Field

from compat.assessing.operation_forms import (
    Fields,
    OperationForm,
    SpeedChoice,
    arm_fields,
    cell_field,
    gas_pressure,
    pump_speed,
    quantity_field,
    read_of,
    running_fields,
    tank_level,
)
from compat.case.case_file import (
    KIND,
    MOST_OWN_LIMITS,
    AgreedFacts,
    CaseFile,
    OperationFacts,
    OwnLimit,
    PumpState,
    check_case,
)
from compat.case.composing import Setting, keel_elevation_m
from compat.case.grades import FORMAT as GRADES_FORMAT
from compat.case.grades import GradesFile, check_grades
from compat.fit.visit import VisitFacts, VisitWater
from shared.cargo_facts import CargoFacts, LaboratoryFacts, MeasuredViscosity
from shared.document_plan import Filling, Plan
from shared.fact_fields import plain
from shared.facts import SHORT_TEXT_LENGTH, Facts
from shared.fields import QuantityField
from shared.models import Person
from shared.reading import LARGEST_DOCUMENT_BYTES, DocumentError, decode_object, too_large
from terminals.facts import BerthFacts
from vessels.facts import ShipFacts

SPEEDS: tuple[tuple[SpeedChoice, str], ...] = (
    ("one common speed", "One speed for all running pumps, as high as the limits allow"),
    (
        "one common fraction",
        "One fraction of each pump's tested speed, as high as the limits allow (pumps that are not alike)",
    ),
    ("as stated", "Each pump at the speed stated for it below"),
)


class StatedFacts(Facts):
    """What stands in rows and nested parts of the form: the cargo, and limits of somebody's own."""

    cargo: CargoFacts
    own_limits: Annotated[list[OwnLimit], Field(max_length=MOST_OWN_LIMITS)] = []
    visit: VisitFacts | None = None


VISCOSITY_CORRECTIONS = (
    ("as tested", "As tested, without correction"),
    ("ANSI/HI 9.6.7", "Corrected for the cargo's viscosity after ANSI/HI 9.6.7"),
)
CARGO = Plan(
    CargoFacts,
    help_texts={
        "name": "",
        "kinematic_viscosity_mm2_per_s": "At the pumping temperature.",
        "quantity_m3": "At the pumping temperature; gives the hours.",
    },
    parts={
        "laboratory": Plan(
            LaboratoryFacts,
            heading="Or what the laboratory states",
            note=(
                "Density and viscosity that stay empty above are worked out from these by published correlations;"
                " then the temperature while pumping is needed."
            ),
            optional=True,
            seldom=True,
            labels={
                "group": "Kind of liquid",
                "density_at_15_c_kg_per_m3": "Density at 15 °C",
                "viscosity_slope": "Slope of the viscosity line",
                "distillation_slope_k_per_percent": "Slope of the distillation curve",
            },
            parts={
                "viscosities": Plan(MeasuredViscosity, heading="Viscosities measured", item="viscosity", optional=True)
            },
        )
    },
)
_OWN_LIMITS = Plan(
    OwnLimit,
    heading="Limits of somebody's own",
    note="A rate, a manifold pressure or a speed that somebody does not want passed; one of the three in a row.",
    item="limit",
    optional=True,
    seldom=True,
    spare_rows=1,
    labels={"rate_m3_per_h": "Rate", "manifold_pressure_bar_gauge": "Manifold pressure", "speed_rpm": "Speed"},
)
_VISIT = Plan(
    VisitFacts,
    heading="The visit, for the fit at the berth",
    note="When she comes, for how long, how deep she leaves, what is planned; draught and water level on arrival stand"
    " above. What stays empty is not known, and checks that need it are not decided.",
    keys=(
        "arrives_on",
        "arrival_hour_h",
        "stay_h",
        "departure_draught_m",
        "arrival_displacement_t",
        "tank_washing",
        "grades",
    ),
    parts={
        "waters": Plan(
            VisitWater,
            heading="High and low waters",
            note="By turns, from before her arrival to after she leaves; without them, both draughts are held against"
            " the berth's lowest and highest water.",
            item="water",
            optional=True,
        )
    },
    optional=True,
    seldom=True,
)
STATED = Plan(StatedFacts, parts={"cargo": CARGO, "own_limits": _OWN_LIMITS, "visit": _VISIT})
_WORDS_ONLY = forms.TextInput(attrs={"autocomplete": "off"})


class AssessForm(OperationForm):
    """Draught and water, tanks, pumps, arms, limits. Made for one ship and berth by ``assess_form``."""

    cell_parts = ("level", "gas", "speed")

    def _speed(self, values: Mapping[str, Any]) -> SpeedChoice | None:
        return values.get("speed")

    def keel_elevation_m(self) -> float | None:
        """Return the keel above the berth's zero, or None while draught or water level is missing or refused."""
        values = getattr(self, "cleaned_data", {})
        level, draught = values.get("water_level"), values.get("draught")
        return None if level is None or draught is None else keel_elevation_m(float(level), float(draught))

    def setting(self, stated: StatedFacts) -> Setting:
        """Return what the valid form says, with what is stated beside it."""
        values = self.cleaned_data
        keel = self.keel_elevation_m()
        if keel is None:
            raise ValueError("A setting is read from a valid form only.")
        title = values["title"] or f"{self.ship.name} at {self.berth.name}, {stated.cargo.name}"
        return Setting(
            title=title[:SHORT_TEXT_LENGTH],
            cargo=stated.cargo,
            own_limits=tuple(stated.own_limits),
            visit=self._visit(stated.visit),
            keel_elevation_m=keel,
            arms_connected=self._counts(values),
            operation=OperationFacts(
                speed=values["speed"],
                viscosity_correction=values["viscosity_correction"],
                pumps=list(self._states()),
            ),
            agreed=AgreedFacts(
                manifold_pressure_bar_gauge=plain(values["pressure"]),
                highest_rate_m3_per_h=plain(values["highest_rate"]),
                start_rate_m3_per_h=plain(values["start_rate"]),
                closing_time_s=plain(values["closing_time"]),
            ),
        )

    def _visit(self, stated: VisitFacts | None) -> VisitFacts:
        """Return what is stated about the visit, with draught and water level of this form."""
        here = {"arrival_draught_m": plain(self.cleaned_data["draught"])}
        here |= {"water_level_m": plain(self.cleaned_data["water_level"])}
        return (stated or VisitFacts()).model_copy(update=here)

    def _states(self) -> Iterator[PumpState]:
        values = self.cleaned_data
        for number, pump in enumerate(self.ship.pumps):
            level, gas = values.get(f"pump_{number}_level"), values.get(f"pump_{number}_gas")
            yield PumpState(
                pump=pump.key,
                running=values[f"pump_{number}_running"],
                speed_rpm=self._stated_speed(number) if values["speed"] == "as stated" else None,
                tank_surface_elevation_m=float(values["tank_level"] if level is None else level),
                tank_gas_pressure_bar_gauge=float(values["gas_pressure"] if gas is None else gas),
            )


def assess_form(
    ship: ShipFacts, berth: BerthFacts, filling: Filling, person: Person, *, limit_shown: bool
) -> AssessForm:
    """Return the form for one ship at one berth; what these two state stands in it, the rest is empty.

    The berth's own pressure limit stands in it only where ``limit_shown``: a terminal may keep that to itself.
    A row command that was posted is no answer: the form comes back with what was typed and finds no fault.
    """
    own = {"ship": ship, "berth": berth, **_assess_fields(ship, berth, limit_shown)}
    kind = new_class("AssessFormHere", (AssessForm,), exec_body=lambda space: space.update(own))
    made = cast(AssessForm, kind(None if filling.command else filling.posted, person=person))
    if filling.posted is not None and filling.command:
        for name, shown in made.fields.items():
            shown.initial = shown.widget.value_from_datadict(filling.posted, {}, name)
    return made


def _assess_fields(ship: ShipFacts, berth: BerthFacts, limit_shown: bool) -> Fields:
    fields: Fields = {
        "title": forms.CharField(
            label="Title",
            required=False,
            max_length=SHORT_TEXT_LENGTH,
            widget=_WORDS_ONLY,
            help_text="Left empty: ship, berth and cargo.",
        )
    }
    return (
        fields
        | _level_fields(ship)
        | _limit_fields(berth.manifold_pressure_limit_bar_gauge if limit_shown else None)
        | _pump_fields(ship)
        | arm_fields(berth.arms, [arm.count for arm in berth.arms])
    )


def _level_fields(ship: ShipFacts) -> Fields:
    stated = ship.particulars.summer_draught_m
    summer = f" Her summer draught is stated as {stated:g} m." if stated else ""
    return {
        "draught": QuantityField(
            "length", "m", 0.5, 30, label="Draught", help_text=f"Amidships, at the time of this assessment.{summer}"
        ),
        "water_level": QuantityField(
            "length",
            "m",
            -20,
            30,
            label="Water level above the berth's zero",
            help_text="Height of tide over chart datum, usually.",
        ),
        "tank_level": quantity_field(
            tank_level(ship), "Liquid surface in the tanks", "Above the keel, in the tanks that the pumps draw from."
        ),
        "gas_pressure": quantity_field(
            gas_pressure(),
            "Gas pressure in the tanks",
            "Gauge: above atmosphere.",
        ),
    }


def _limit_fields(limit: float | None) -> Fields:
    shown = "The berth's own limit stands here; change it to what is agreed." if limit else ""
    return {
        "pressure": quantity_field(
            read_of(AgreedFacts, "manifold_pressure_bar_gauge", required=False),
            "Agreed manifold pressure",
            f"Gauge, at the ship's manifold. {shown}".strip(),
            limit,
        ),
        "highest_rate": quantity_field(
            read_of(AgreedFacts, "highest_rate_m3_per_h"), "Highest rate", "May stay empty."
        ),
        "start_rate": quantity_field(
            read_of(AgreedFacts, "start_rate_m3_per_h"), "Start rate", "Kept with the assessment; it may stay empty."
        ),
        "closing_time": quantity_field(
            read_of(AgreedFacts, "closing_time_s"),
            "Closing time of valves",
            "For surge; it may stay empty, then each valve's own stated time counts.",
        ),
        "speed": forms.ChoiceField(
            label="How the pumps are run", choices=SPEEDS, initial=SPEEDS[0][0], widget=forms.RadioSelect
        ),
        "viscosity_correction": forms.ChoiceField(
            label="Pump curves", choices=VISCOSITY_CORRECTIONS, initial=VISCOSITY_CORRECTIONS[0][0]
        ),
    }


def _pump_fields(ship: ShipFacts) -> Fields:
    fields = running_fields(ship.pumps, [True] * len(ship.pumps))
    for number, pump in enumerate(ship.pumps):
        fields[f"pump_{number}_level"] = cell_field(tank_level(ship), f"Liquid surface for {pump.name}")
        fields[f"pump_{number}_gas"] = cell_field(gas_pressure(), f"Gas pressure for {pump.name}")
        fields[f"pump_{number}_speed"] = cell_field(pump_speed(pump), f"Speed of {pump.name}")
    return fields


class CaseUploadForm(forms.Form):
    """A case file, or one of several grades, as the browser sends it."""

    file = forms.FileField(label="Case file", widget=forms.FileInput(attrs={"accept": ".json,application/json"}))

    def case(self) -> CaseFile | GradesFile | None:
        """Return the checked file, or None after putting each problem on the form."""
        if not self.is_valid():
            return None
        file = self.cleaned_data["file"]
        name = (file.name or "The file")[:60]
        if file.size is not None and file.size > LARGEST_DOCUMENT_BYTES:
            self.add_error("file", too_large(name, file.size))
            return None
        try:
            document = decode_object(file.read(), name, KIND)
            return (check_grades if document.get("format") == GRADES_FORMAT else check_case)(document, name)
        except DocumentError as error:
            for problem in error.problems:
                self.add_error("file", problem)
            return None
