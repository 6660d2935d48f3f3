"""Reads the shape of a facts document (pure: no Django): what each key is called, its unit, its range.

Forms, pages and the list of changes between two revisions are all built from this one reading, so that a key
has one name and one range everywhere.
"""

from __future__ import annotations

import types
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Le, MaxLen, MinLen
from pydantic.fields import FieldInfo

from shared.calc.units import UNITS, Quantity
from shared.facts import Facts

FieldKind = Literal["quantity", "text", "whole number", "choice", "day", "document", "list"]

_UNIT_SUFFIXES = {
    "m": ("_m",),
    "mm": ("_mm",),
    "bar": ("_bar_gauge",),
    "kPa": ("_kpa_abs",),
    "m³/h": ("_m3_per_h",),
    "m³": ("_m3",),
    "m/s": ("_m_per_s",),
    "mm²/s": ("_mm2_per_s",),
    "kg/m³": ("_kg_per_m3",),
    "rpm": ("_rpm",),
    "%": ("_percent",),
    "t": ("_t",),
    "kW": ("_kw",),
    "h": ("_h",),
    "min": ("_min",),
    "s": ("_s",),
    "°C": ("_c",),
    "MPa": ("_mpa",),
    "kg·m²": ("_kg_m2",),
    "kN": ("_kn",),
    "°": ("_degrees",),
}
# Only where taking the unit off the key and spelling it out does not read well.
_LABELS = {
    "imo_number": "IMO number",
    "length_m": "Length",
    "loss_coefficient": "Loss coefficient K",
    "drop_at_1_m3_per_h_m": "Drop b (head lost at 1 m³/h)",
    "shut_off_head_m": "Shut-off head a",
    "exponent": "Exponent c",
    "npsh_required_m": "NPSH required",
    "efficiency_percent": "Efficiency",
    "count": "How many",
    "connections": "Manifold connections",
    "arms": "Arms and hoses",
    "source": "Source of these data",
    "arm_shore_end_elevation_m": "Elevation of the arms' shore end",
    "receiving_rate_m3_per_h": "Highest receiving rate",
    "depth_below_zero_m": "Depth of water below zero",
    "end_elevation_m": "End elevation",
    "manifold_pressure_limit_bar_gauge": "Highest manifold pressure",
    "inert_gas_delivery_m3_per_h": "Inert gas delivery",
    "back_pressure_bar_gauge": "Back-pressure",
    "cargo_line_rating_bar_gauge": "Rating of the ship's lines",
    "ship_line_velocity_limit_m_per_s": "Velocity limit in the ship's lines",
    "vapour_pressure_kpa_abs": "True vapour pressure (absolute)",
    "quantity_m3": "Volume to transfer",
    "law": "How it closes",
    "run": "Name of the run, arm or hose",
    "surge": "Pressure surge",
    "found": "As found in records",
    "shore_valve_behind": "Run behind which the shore valve stands",
    "distance_m": "Distance from the start of the run",
    "key": "Short mark",
    "berthing": "For berths",
    "moorings": "Mooring lines",
    "hooks": "Mooring hooks",
    "cargoes": "Cargoes taken",
    "least_lines": "Least number of lines",
    "keel_to_top_m": "Highest point over the keel",
    "manifold_setback_m": "Flanges from the ship's side",
    "manifold_spacing_m": "Spacing of the flanges",
    "flat_side_ballast_forward_m": "Flat side forward, in ballast",
    "flat_side_ballast_aft_m": "Flat side aft, in ballast",
    "flat_side_loaded_forward_m": "Flat side forward, loaded",
    "flat_side_loaded_aft_m": "Flat side aft, loaded",
    "under_keel_m": "Under-keel clearance",
    "under_keel_percent_of_draught": "Or of the draught",
    "under_keel_percent_of_beam": "Or of the beam",
    "overhead_elevation_m": "Lowest bridge or cable",
    "overhead_clearance_m": "Clearance below it",
    "fender_forward_m": "Outermost fender, towards the bow",
    "fender_aft_m": "Outermost fender, towards the stern",
    "fairlead_m": "Fairlead from the manifold",
    "along_m": "Along the berth, from the arms",
    "crane_lift_t": "Crane: safe working load",
    "crane_reach_m": "Crane: reach outside the side",
    "by": "Stated by",
    "on": "On",
}


@dataclass(frozen=True)
class FactField:
    """One key of a facts document as a form or a page needs it."""

    key: str
    label: str
    kind: FieldKind
    required: bool
    help_text: str = ""
    unit: str = ""
    least: float | None = None
    greatest: float | None = None
    hint: str = ""
    choices: tuple[str, ...] = ()
    default: Any = None
    pattern: str = ""
    inner: type[Facts] | None = None

    @property
    def quantity(self) -> Quantity:
        """Return which kind of quantity the unit measures."""
        return UNITS[self.unit].quantity


@cache
def fields_of(model: type[Facts]) -> Mapping[str, FactField]:
    """Return every key of a document class in its order; raise TypeError for a type that no form can show."""
    return {key: _read(key, info) for key, info in model.model_fields.items()}


def field_of(model: type[Facts], key: str) -> FactField:
    """Return one key of a document class, of which other keys may be such that no form shows them."""
    return _read(key, model.model_fields[key])


def label_of(key: str, unit: str = "") -> str:
    """Return a key as words, without its unit: ``rated_flow_m3_per_h`` is “Rated flow”."""
    if key in _LABELS:
        return _LABELS[key]
    stem = key
    for suffix in _UNIT_SUFFIXES.get(unit, ()):
        stem = stem.removesuffix(suffix)
    words = stem.replace("_", " ")
    return words[:1].upper() + words[1:]


def in_words(sentence: str, model: type[Facts]) -> str:
    """Write a refusal with labels in the place of keys, for a person who never saw the document."""
    labels = _labels_within(model)
    for key in sorted(labels, key=len, reverse=True):
        if "_" in key:
            label = labels[key]
            shown = label if label.startswith(("IMO", "NPSH")) else label[:1].lower() + label[1:]
            sentence = sentence.replace(key, shown)
    return sentence[:1].upper() + sentence[1:]


@cache
def _labels_within(model: type[Facts]) -> Mapping[str, str]:
    labels: dict[str, str] = {}
    for key, read in fields_of(model).items():
        labels[key] = read.label
        if read.inner is not None:
            labels = {**_labels_within(read.inner), **labels}
    return labels


def _read(key: str, info: FieldInfo) -> FactField:
    annotation, extra, help_text, metadata = _unwrapped(info)
    unit = extra.get("unit", "")
    common: dict[str, Any] = {
        "key": key,
        "label": label_of(key, unit),
        "required": info.is_required(),
        "default": None if info.is_required() else info.default,
        "help_text": help_text,
    }
    if unit:
        bounds = {"least": extra["minimum"], "greatest": extra["maximum"], "hint": extra.get("hint", "")}
        return FactField(kind="quantity", unit=unit, **bounds, **common)
    least, greatest = _limits(metadata)
    if get_origin(annotation) is list:
        return FactField(kind="list", inner=_item_class(annotation), least=least, greatest=greatest, **common)
    if get_origin(annotation) is Literal:
        return FactField(kind="choice", choices=get_args(annotation), **common)
    if annotation is str:
        pattern = next((note.pattern for note in metadata if getattr(note, "pattern", None)), "")
        return FactField(kind="text", least=least, greatest=greatest, pattern=pattern, **common)
    if annotation in (int, date):
        kind: FieldKind = "whole number" if annotation is int else "day"
        return FactField(kind=kind, least=least, greatest=greatest, **common)
    if isinstance(annotation, type) and issubclass(annotation, Facts):
        return FactField(kind="document", inner=annotation, **common)
    raise TypeError(f"{key} is {annotation!r}, which no form can show.")


def _unwrapped(info: FieldInfo) -> tuple[Any, dict[str, Any], str, list[Any]]:
    """Look through ``| None`` and ``Annotated`` to the type, its extras, its meaning and its limits."""
    annotation: Any = info.annotation
    metadata = list(info.metadata)
    extra = info.json_schema_extra
    help_text = info.description or ""
    if get_origin(annotation) in {Union, types.UnionType}:
        annotation = next(part for part in get_args(annotation) if part is not type(None))
    while hasattr(annotation, "__metadata__"):
        for note in annotation.__metadata__:
            if isinstance(note, FieldInfo):
                extra = extra or note.json_schema_extra
                help_text = help_text or note.description or ""
                metadata.extend(note.metadata)
            else:
                metadata.append(note)
        annotation = annotation.__origin__
    return annotation, extra if isinstance(extra, dict) else {}, help_text, metadata


def _item_class(annotation: Any) -> type[Facts]:
    item = get_args(annotation)[0]
    if not (isinstance(item, type) and issubclass(item, Facts)):
        raise TypeError(f"a list of {item!r} can't be shown in a form.")
    return item


def _limits(metadata: list[Any]) -> tuple[Any, Any]:
    least = greatest = None
    for note in metadata:
        if isinstance(note, Ge):
            least = note.ge
        elif isinstance(note, MinLen):
            least = note.min_length
        elif isinstance(note, Le):
            greatest = note.le
        elif isinstance(note, MaxLen):
            greatest = note.max_length
    return least, greatest
