"""The picture of a pump shows its tested points, its speeds in words and its units on the axes."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree as ET

import pytest

from shared.pictures import PictureUnits
from tests.builders import pump_facts
from vessels.drawings import pump_picture
from vessels.facts import PumpFacts

SVG = "{http://www.w3.org/2000/svg}"
TWO_SPEEDS: list[dict[str, Any]] = [
    {
        "speed_rpm": 1500.0,
        "points": [{"flow_m3_per_h": q, "head_m": h} for q, h in ((0, 158), (900, 147), (1800, 117))],
    },
    {"speed_rpm": 1200.0, "points": [{"flow_m3_per_h": q, "head_m": h} for q, h in ((0, 101), (720, 94), (1440, 75))]},
]
FORMULA: list[dict[str, Any]] = [
    {
        "speed_rpm": 1500.0,
        "coefficients": {"shut_off_head_m": 158.0, "drop_at_1_m3_per_h_m": 1.25e-5, "exponent": 2.0},
    }
]


def texts(svg: bytes) -> list[str]:
    """Return every text of a drawing, in order."""
    return ["".join(text.itertext()).strip() for text in ET.fromstring(svg).iter(f"{SVG}text")]  # noqa: S314


@pytest.mark.parametrize(
    ("curves", "labels"),
    [
        (TWO_SPEEDS, ["1,500 rpm, tested", "1,200 rpm, tested", "900 rpm, worked out"]),
        (FORMULA, ["1,500 rpm, tested", "900 rpm, worked out"]),
    ],
)
def test_each_speed_stands_on_its_line(curves: list[dict[str, Any]], labels: list[str]) -> None:
    shown = texts(pump_picture(PumpFacts.model_validate(pump_facts(curves=curves)), PictureUnits()))
    assert [text for text in shown if "rpm" in text] == labels
    assert "Flow [m³/h]" in shown
    assert "Head [m of the liquid]" in shown


def test_a_picture_is_the_same_bytes_each_time() -> None:
    pump = PumpFacts.model_validate(pump_facts())
    assert pump_picture(pump, PictureUnits()) == pump_picture(pump, PictureUnits())
