"""Drawings say in words what they show, in the reader's units, and tell lines apart without colour."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from shared.pictures import (
    HeadCurve,
    OperatingPoint,
    PictureUnits,
    ProfilePoint,
    hq_picture,
    profile_picture,
    shortened,
)

SVG = "{http://www.w3.org/2000/svg}"
CURVES = [
    HeadCurve("1,250 rpm, tested", [0, 2000, 4000], [160, 150, 113], [0, 2000, 4000], [160, 150, 113]),
    HeadCurve("1,000 rpm, worked out", [0, 1600, 3200], [102, 96, 72], worked_out=True),
]
SHORE = HeadCurve("shore and ship lines", [0, 2000, 4000], [40, 60, 120])
POINT = OperatingPoint("3,700 m³/h, 108 m", 3700, 108)
LINE = [
    ProfilePoint("Manifold", 0, 12, 105),
    ProfilePoint("Jetty line", 800, 7, 90, rating_bar_gauge=16),
    ProfilePoint("Tank line", 3200, 9, 40, rating_bar_gauge=10),
]


def drawn(svg: bytes) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 (our own drawing)


def texts(svg: bytes) -> list[str]:
    """Return every text of a drawing, in order."""
    return ["".join(text.itertext()).strip() for text in drawn(svg).iter(f"{SVG}text")]


def test_heads_over_flow_name_every_line_and_the_point() -> None:
    svg = hq_picture(CURVES, SHORE, [POINT], title="Cargo pump 1")
    found = texts(svg)
    for text in ["1,250 rpm, tested", "1,000 rpm, worked out", "shore and ship lines", "3,700 m³/h, 108 m"]:
        assert found.count(text) == 1
    assert "Flow [m³/h]" in found
    assert "Head [m of the liquid]" in found
    assert drawn(svg).findtext(f"{SVG}title") == "Cargo pump 1"


def test_lines_differ_by_dash_and_not_by_colour_alone() -> None:
    svg = hq_picture(CURVES, SHORE, title="Cargo pump 1").decode()
    dashes = set(re.findall(r"stroke-dasharray: ([\d., ]+)", svg))
    assert len(dashes) >= 2  # the first curve is solid, the two others have dashes of their own


@pytest.mark.parametrize(
    ("units", "axes", "greatest"),
    [
        (PictureUnits(), ["Flow [m³/h]", "Head [m of the liquid]"], 5000),
        # 4000 m³/h is 25,159 bbl/h and 160 m is 525 ft (NIST SP 811 factors, from memory)
        (PictureUnits(flow="bbl/h", length="ft"), ["Flow [bbl/h]", "Head [ft of the liquid]"], 30000),
    ],
)
def test_axes_are_in_the_readers_units(units: PictureUnits, axes: list[str], greatest: float) -> None:
    found = texts(hq_picture(CURVES, title="Cargo pump 1", units=units))
    assert [text for text in found if "[" in text] == axes
    ticks = [float(text) for text in found if re.fullmatch(r"\d+", text)]
    assert greatest / 2 < max(ticks) <= greatest


def test_a_profile_names_points_ratings_grade_line_and_levels() -> None:
    found = texts(profile_picture(LINE, "Outer berth", levels=[("surface in Tank 12", 18)]))
    for text in ["Manifold", "Jetty line", "Tank line", "rated 16 bar", "rated 10 bar", "hydraulic grade line"]:
        assert found.count(text) == 1
    assert "surface in Tank 12, 18 m" in found
    assert "Distance along the line [m]" in found


def test_gauge_pressures_stand_on_the_grade_line_in_the_readers_unit() -> None:
    line = [ProfilePoint("Manifold", 0, 12, 105, 7.8), ProfilePoint("Tank", 900, 9, 40, 2.6)]
    found = texts(profile_picture(line, "Outer berth", units=PictureUnits(pressure="kPa")))
    assert [text for text in found if text.endswith("kPa")] == ["780 kPa", "260 kPa"]


def test_a_profile_without_heads_has_no_grade_line() -> None:
    bare = [ProfilePoint(point.name, point.distance_m, point.elevation_m) for point in LINE]
    found = texts(profile_picture(bare, "Outer berth"))
    assert "hydraulic grade line" not in found
    assert not any(text.startswith("rated") for text in found)


def test_ratings_are_in_the_readers_units() -> None:
    # 16 bar is 232.06 psi and 10 bar is 145.04 psi (NIST SP 811 factors, from memory)
    found = texts(profile_picture(LINE, "Outer berth", units=PictureUnits(length="ft", pressure="psi")))
    assert [text for text in found if text.startswith("rated")] == ["rated 232.1 psi", "rated 145 psi"]


def test_a_long_line_is_drawn_with_names_that_do_not_stand_on_one_another() -> None:
    many = [ProfilePoint(f"Segment {number}", 10.0 * number, 5.0) for number in range(61)]
    named = [text for text in texts(profile_picture(many, "Long")) if text.startswith("Segment")]
    assert named[0] == "Segment 0"
    assert named[-1] == "Segment 60"
    assert len(named) <= 10


def test_a_line_of_one_point_is_drawn_too() -> None:
    assert "Arms" in texts(profile_picture([ProfilePoint("Arms", 0, 7)], "Bare"))


def test_long_names_are_cut() -> None:
    assert shortened("Line to the northern tank farm") == "Line to the northern ta…"
    assert shortened("Jetty line") == "Jetty line"


def test_signs_that_mean_something_in_markup_stay_text() -> None:
    svg = hq_picture(CURVES, title="<script>alert(1)</script> & pump $H_0$")
    assert drawn(svg).findtext(f"{SVG}title") == "<script>alert(1)</script> & pump $H_0$"
    assert "<script" not in svg.decode()
    assert "<script>alert(1)</script> & pump $H_0$" in texts(svg)
