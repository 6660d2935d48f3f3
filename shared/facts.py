"""The shape of stated facts (pure: no Django): typed documents with the unit in every key.

A fact that may be missing is ``None``, which means *not known*; nothing is filled in for it.
Each number carries its unit and the range in which it is believed, so that every door (file, form,
API) refuses with the same sentence.
"""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import PydanticCustomError

SHORT_TEXT_LENGTH = 120


class Facts(BaseModel):
    """Base of every stated document: unknown keys are refused, numbers are finite, values frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True)


def quantity(unit: str, least: float, greatest: float, meaning: str, hint: str = "") -> Any:
    """Return an annotated float type in ``unit`` that refuses anything outside least..greatest.

    ``hint`` is added to the refusal, for values whose usual mistake is known (another unit, say).
    """
    shown_unit = "" if unit == "1" else f" {unit}"
    allowed = f"{least:,g} to {greatest:,g}{shown_unit}"

    def refuse(reason: str, value: object) -> PydanticCustomError:
        return PydanticCustomError(
            "quantity",
            "is {value}{reason}; allowed: {allowed}.{hint}",
            {"value": shown(value), "reason": reason, "allowed": allowed, "hint": f" {hint}" if hint else ""},
        )

    def check(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse(", which is not a number", value)
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise refuse(", which is not a finite number", value)
        if not least <= number <= greatest:
            raise refuse(shown_unit, value)
        return number

    extra: dict[str, Any] = {"unit": unit, "minimum": least, "maximum": greatest} | ({"hint": hint} if hint else {})
    return Annotated[float, BeforeValidator(check), Field(description=meaning, json_schema_extra=extra)]


def shown(value: object) -> str:
    """Show a given value in a sentence, shortened where it is long."""
    text = repr(value) if isinstance(value, str) else str(value)
    return text if len(text) <= 40 else text[:37] + "…"


def _refuse_text(value: object) -> object:
    if isinstance(value, str | bool):
        raise PydanticCustomError("quantity", "is {value}, which is not a whole number.", {"value": shown(value)})
    return value


def _day(value: object) -> date:
    if isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value if isinstance(value, str) else "")
    except ValueError:
        said = {"value": shown(value)}
        raise PydanticCustomError(
            "quantity", "is {value}; write a day as 2031-04-14 (year, month, day).", said
        ) from None


Day = Annotated[date, BeforeValidator(_day)]
# Put behind the bounds of a whole number, so that text in its place is refused as it is for every other number.
NotText = BeforeValidator(_refuse_text)
ShortText = Annotated[str, Field(min_length=1, max_length=SHORT_TEXT_LENGTH)]
OptionalText = Annotated[str, Field(max_length=SHORT_TEXT_LENGTH)]

Length = quantity("m", 0, 200_000, "Length along the pipe")
Bore = quantity("mm", 10, 3000, "Inside diameter, not the nominal size")
Roughness = quantity("mm", 0, 10, "Roughness of the inner wall; commercial steel is about 0.046 mm (Crane TP-410)")
LossCoefficient = quantity(
    "1", 0, 100_000, "Sum of the loss coefficients K of fittings, entrance and exit in this bore"
)
Elevation = quantity("m", -500, 2000, "Elevation above the stated zero")
GaugePressure = quantity("bar", -1.01325, 400, "Pressure above atmosphere")
Rating = quantity("bar", 0.1, 400, "Highest working pressure allowed, above atmosphere")
Flow = quantity("m³/h", 0, 100_000, "Volume flow")
PositiveFlow = quantity("m³/h", 0.1, 100_000, "Volume flow")
Head = quantity("m", 0, 3000, "Head in metres of the liquid being pumped")
Velocity = quantity("m/s", 0.01, 30, "Mean velocity in the bore")
FlangeKey = Literal["class 150", "class 300", "PN 10", "PN 16"]
Speed = quantity("rpm", 1, 20_000, "Shaft speed of the pump")


class PipeSegment(Facts):
    """A run of pipe of one bore; entrance, exit and fittings count only as stated here."""

    name: OptionalText = ""
    length_m: Length
    bore_mm: Bore
    roughness_mm: Roughness
    loss_coefficient: LossCoefficient | None = None


def sentences(error: ValidationError) -> list[tuple[str, str]]:
    """Turn a validation error into (dotted key, sentence) pairs, one for each thing to correct."""
    found_errors = error.errors(include_url=False)
    return [(dotted(found["loc"]), sentence_of(dict(found))) for found in found_errors]


def dotted(location: tuple[int | str, ...]) -> str:
    """Write a location as a person would: ``ship.pumps[0].rated_flow_m3_per_h``."""
    text = ""
    for part in location:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            text += f".{part}" if text else part
    return text


_SENTENCES = {
    "missing": "{key} is missing; state it.",
    "extra_forbidden": "{key} is not a key that this document knows; correct its spelling or take it out.",
    "too_short": "{key} has {actual_length} entries; give at least {min_length}.",
    "too_long": "{key} has {actual_length} entries; give at most {max_length}.",
    "string_too_short": "{key} is empty; state it.",
    "string_too_long": "{key} is {given}; allowed: at most {max_length} characters.",
    "string_type": "{key} is {given}, which is not text.",
    "string_pattern_mismatch": "{key} is {given}; allowed: letters, digits, dot, hyphen and underscore.",
    "greater_than_equal": "{key} is {given}; allowed: {ge} or more.",
    "less_than_equal": "{key} is {given}; allowed: {le} or less.",
    "int_type": "{key} is {given}, which is not a whole number.",
    "int_from_float": "{key} is {given}, which is not a whole number.",
    "bool_type": "{key} is {given}; write true or false.",
    "literal_error": "{key} is {given}; allowed: {expected}.",
    "list_type": "{key} is {given}; allowed: a list, in square brackets.",
    "model_type": "{key} is {given}; allowed: an object with keys of its own, in braces.",
}


def sentence_of(found: dict[str, Any]) -> str:
    """Write one problem of a validation error as a sentence that begins with its key."""
    key = dotted(found["loc"])
    given = shown(found.get("input"))
    context = found.get("ctx", {})
    match found["type"]:
        case "quantity":
            return f"{key} {found['msg']}"
        case "value_error":
            return f"{key}: {context['error']}" if key else str(context["error"])
        case known if known in _SENTENCES:
            return _SENTENCES[known].format(**{**context, "key": key or "The document", "given": given})
        case _:
            return f"{key or 'The document'} is {given}: {found['msg'][0].lower()}{found['msg'][1:]}."
