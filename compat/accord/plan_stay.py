"""The stay as a part of the plan: its document for the signed bytes, and how that is printed (pure: no Django).

Worked-out figures are kept to six significant figures, far finer than any gauge; what was stated stays as stated.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from compat.accord.staying import stay_file_of, worked_out
from compat.assessing.stay_pictures import pictures_of
from compat.case.case_file import CaseFile, case_document
from compat.stay.parts import Series
from shared.canonical import canonical_bytes, numbers_as_text, sha256_hex
from shared.pictures import PictureUnits
from shared.quantities import converted, display, figure

TANKS_IN_A_TABLE = 12
_FIGURES = 6
_PICTURE_HEIGHT_IN = 5.3
Document = dict[str, Any]


def stay_document(case: CaseFile, stated: Mapping[str, Any] | None, *, line_data_shared: bool) -> Document | None:
    """Return what the plan holds of a stay, None where none is stated.

    Where the terminal keeps its line data to itself, its tank tables stay out and only the hash of all goes in.
    """
    if stated is None:
        return None
    answer = worked_out(stay_file_of(case_document(case), stated, line_shared=line_data_shared))
    shown = stated if line_data_shared else {key: part for key, part in stated.items() if key != "shore_tanks"}
    return {
        "stated": shown,
        "stated_sha256": sha256_hex(canonical_bytes(numbers_as_text(stated))),
        "answer": rounded(answer.document()),
        "curves": rounded(asdict(answer.series)),
    }


def rounded(value: Any) -> Any:
    """Return a document with its floats kept to six significant figures."""
    if isinstance(value, float):
        return float(f"{value:.{_FIGURES}g}")
    if isinstance(value, Mapping):
        return {key: rounded(item) for key, item in value.items()}
    return [rounded(item) for item in value] if isinstance(value, list | tuple) else value


def stay_boxes(document: Document) -> list[dict[str, str]]:
    """Return the box of the first page."""
    answer = document["answer"]
    allowed = answer["allowed_h"]
    beside = "worked out" if allowed is None else f"worked out; {_shown(allowed, 'h')} allowed"
    return [{"label": "Hours at the berth", "figure": _shown(answer["hours"], "h"), "beside": beside}]


def stay_view(document: Document) -> Document:
    """Return the stay of a plan as text ready to print, with its pictures."""
    answer = document["answer"]
    return {
        "facts": [
            ("Hours at the berth", _shown(answer["hours"], "h")),
            ("Hours allowed", _shown(answer["allowed_h"], "h")),
            ("Ashore", f"{_shown(answer['ashore_m3'], 'm³')} of {_shown(answer['to_leave_m3'], 'm³')}"),
            ("Fuel for the pumps", _fuel(answer["fuel_t"])),
            ("Beside the usual pumping warranty", _warranty(answer["warranty"])),
        ],
        "stages": [_stage(stage) for stage in answer["stages"]],
        "gauges": [_gauges(row) for row in answer["hourly"]],
        "pumps": list(_pump_names(answer["hourly"])),
        "water": [_water(row) for row in answer["hourly"]],
        "tanks": list(_tank_tables(answer["hourly"])),
        "changes": [{"hour": _hour(one["hour"]), "what": one["what"]} for one in answer["changes"]],
        "questions": answer["questions"],
        "cautions": answer["cautions"],
        "pictures": _pictures(document["curves"]),
    }


def _pictures(curves: Mapping[str, Any]) -> list[dict[str, str]]:
    """Return the pictures, the low one of the manifold first: it finds room below the stages."""
    drawn = pictures_of(series_of_document(curves), PictureUnits(), height_in=_PICTURE_HEIGHT_IN)
    return drawn[-1:] + drawn[:-1]


def _fuel(text: str | int | None) -> str:
    return _shown(None, "t") if text is None else f"{Decimal(text):.1f} t"


def _warranty(warranty: Mapping[str, Any]) -> str:
    kept = "within" if warranty["within_24_h"] else "not within"
    at_pressure, bulk = _shown(warranty["bulk_hours_at_7_bar"], "h"), _shown(warranty["bulk_hours"], "h")
    return f"{kept} 24 h; at least 7 bar at the manifold for {at_pressure} of {bulk} of bulk discharge (trade norm)"


def _shown(text: str | int | None, unit: str) -> str:
    return display(None if text is None else Decimal(text), unit)


def _figure(text: str | int | None, unit: str, shown_unit: str | None = None) -> str:
    """Return a figure, or a dash where nothing is pumped or nothing is known."""
    wanted = shown_unit or unit
    return "–" if text is None else figure(converted(Decimal(text), unit, wanted), wanted)


def _hour(text: str | int) -> str:
    return f"{Decimal(text):.2f}"


def _stage(stage: Mapping[str, Any]) -> Document:
    least, greatest = (_figure(stage[f"{which}_speed_rpm"], "rpm") for which in ("least", "greatest"))
    return {
        "name": stage["name"].capitalize(),
        "parcel": stage["parcel"],
        "begins": _hour(stage["begins_h"]),
        "hours": f"{Decimal(stage['ends_h']) - Decimal(stage['begins_h']):.2f}",
        "volume": _figure(stage["volume_m3"], "m³"),
        "rate": _figure(stage["mean_rate_m3_per_h"], "m³/h"),
        "greatest_rate": _figure(stage["greatest_rate_m3_per_h"], "m³/h"),
        "speed": least if least == greatest else f"{least} to {greatest}",
        "gas": _figure(stage["inert_gas_m3_per_h"], "m³/h"),
        "binding": "; ".join(stage["binding"]) or "–",
    }


def _pump_names(hourly: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Yield the pumps that run at any hour, in the order in which they are read."""
    named = (pump["pump"] for row in hourly for pump in row["pumps"] if pump["speed_rpm"] is not None)
    yield from dict.fromkeys(named)


def _gauges(row: Mapping[str, Any]) -> Document:
    pumps = [
        {
            "name": pump["pump"],
            "speed": _figure(pump["speed_rpm"], "rpm"),
            "suction": _figure(pump["suction_pressure_bar_gauge"], "bar"),
            "discharge": _figure(pump["discharge_pressure_bar_gauge"], "bar"),
        }
        for pump in row["pumps"]
        if pump["speed_rpm"] is not None
    ]
    pressure = row["manifold_pressure_bar_gauge"]
    return {
        "hour": _hour(row["hour"]),
        "stage": row["stage"],
        "rate": _figure(row["rate_m3_per_h"], "m³/h"),
        "to_go": _figure(row["to_go_m3"], "m³"),
        "manifold": _figure(pressure, "bar"),
        "manifold_kgf": _figure(pressure, "bar", "kgf/cm²"),
        "pumps": pumps,
    }


def _water(row: Mapping[str, Any]) -> Document:
    keys = ("water_level_m", "draught_m", "trim_m", "freeboard_m", "manifold_elevation_m", "under_keel_m")
    return {
        "hour": _hour(row["hour"]),
        "figures": [_figure(row[key], "m") for key in (*keys, "air_clearance_m")],
        "receiver": f"{row['receiver']} {_figure(row['receiver_surface_m'], 'm')}" if row["receiver"] else "–",
    }


def _tank_tables(hourly: Sequence[Mapping[str, Any]]) -> Iterator[Document]:
    """Yield tables of ullages, or of levels where no reference height is stated, some tanks at a time."""
    names = [tank["tank"] for tank in hourly[0]["tanks"]] if hourly else []
    for first in range(0, len(names), TANKS_IN_A_TABLE):
        part = slice(first, first + TANKS_IN_A_TABLE)
        heads = [
            {"name": tank["tank"], "what": "level" if tank["ullage_m"] is None else "ullage"}
            for tank in hourly[0]["tanks"][part]
        ]
        rows = [{"hour": _hour(row["hour"]), "figures": [_tank(tank) for tank in row["tanks"][part]]} for row in hourly]
        yield {"heads": heads, "rows": rows}


def _tank(tank: Mapping[str, Any]) -> str:
    return _figure(tank["level_m"] if tank["ullage_m"] is None else tank["ullage_m"], "m")


def series_of_document(curves: Mapping[str, Any]) -> Series:
    """Return the curves of a plan's document as numbers again."""

    def numbers(value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: numbers(item) for key, item in value.items()}
        if isinstance(value, list):
            return tuple(numbers(item) for item in value)
        return None if value is None else float(value)

    read: dict[str, Any] = {key: numbers(value) for key, value in curves.items() if key != "binding"}
    return Series(**read, binding=tuple(curves["binding"]))
