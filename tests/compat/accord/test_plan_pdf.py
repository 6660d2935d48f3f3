"""The printed plan: what stands in it, what is attached to it, and that it is the same each time."""

from __future__ import annotations

import gc
import importlib
import io
import re
import shutil
import subprocess
import zlib
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from pypdf import PdfReader
from weasyprint.urls import FatalURLFetchingError

from compat.accord.checklist import item_named, items_for
from compat.accord.checklist.item import Side
from compat.accord.pdf_making import INSTALL_LINE, Mark, PdfUnavailableError
from compat.accord.plan_document import plan_payload
from compat.accord.plan_file import read_plan
from compat.accord.plan_pdf import DRAFT, marked_pdf, pdf_to_sign, plan_html
from shared.canonical import sha256_hex
from tests.compat.accord.plan_builders import CONDITIONS, mark, plan_file, plan_inputs, whole, whole_pdf

CAUTION = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win."
)


SUPERSEDED = Mark("SUPERSEDED", "This plan holds no longer. Plan 2 took its place.")


@cache
def pages() -> tuple[str, ...]:
    return tuple(spaced(page.extract_text()) for page in PdfReader(io.BytesIO(whole_pdf())).pages)


def spaced(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_the_first_page_is_the_deal_at_a_glance() -> None:
    first = pages()[0]
    for part in (
        "Astrid Halvard at Outer berth",
        "Discharge of Gas oil",
        "IMO number 9074729",
        "Halvard Tankers",
        "Sandvik Oil",
        "8.00 bar",
        "8.16 kgf/cm²",  # 8 bar / 0.980665
        "2,900 m³/h",
        "500 m³/h",
        "What sets the rate: Agreed highest rate",
        "Ines Marlowe",
        "Tor Askeland",
        "Manifold pressure [bar gauge]",
    ):
        assert part in first, part
    assert "not signed" not in first


def test_every_page_carries_plan_number_hash_page_and_the_caution() -> None:
    digest = read_plan(whole()[0]).sha256
    for number, text in enumerate(pages(), start=1):
        assert "Astrid Halvard at Outer berth, Sandvik Oil Terminal · plan 1 of accord 5F0A-6B0E" in text
        assert f"SHA-256 {digest[:12]}" in text
        assert f"page {number} of {len(pages())}" in text
        assert "DRAFT" not in text
        assert CAUTION in text


def test_the_whole_hash_stands_beside_how_to_verify() -> None:
    text = " ".join(pages())
    assert read_plan(whole()[0]).sha256 in text.replace(" ", "")
    assert "openssl cms -verify -binary -inform DER -in plan.json.p7s -content plan.json -CAfile authority.pem" in text
    assert "manage.py verify_plan plan.pdf --authority authority.pem" in text


def test_expected_gauges_stand_in_bar_and_in_kgf_per_cm2() -> None:
    inputs = plan_inputs()
    pump = inputs.answer["pumps"][0]
    text = " ".join(pages())
    for pressure in (pump["suction_pressure_bar_gauge"], pump["discharge_pressure_bar_gauge"]):
        assert f"{pressure:.2f}" in text
        assert f"{pressure / 0.980665:.2f}" in text
    assert "kgf/cm²" in text


def test_every_item_is_printed_with_its_sentence_and_its_paragraph() -> None:
    text = " ".join(pages()).replace("- ", "-")
    for item in items_for(CONDITIONS):
        assert item.statement[:40] in text, item.key
    assert "33 CFR 156.120(d)" in text
    assert "Prove it by hand" not in text


def test_answers_show_person_time_value_and_remark() -> None:
    given = mark(
        item_named("moor.under-keel-margin"), Side.SHIP, remark="Low water at 09:40", values={"least_margin_m": "1.5"}
    )
    text = plan_html(plan_file(marks=(given,)))
    assert "Low water at 09:40" in text
    assert "Least margin: 1.5 m" in text
    assert "14 April 2031, 05:30 UTC" in text


def test_a_draft_says_so_on_every_page_and_names_no_signer_as_signed() -> None:
    drafted = PdfReader(io.BytesIO(marked_pdf(plan_file(Side.SHIP), DRAFT)))
    for page in drafted.pages:
        assert "DRAFT, NOT SIGNED" in spaced(page.extract_text())
    assert "not signed" in spaced(drafted.pages[0].extract_text())


def test_a_copy_of_a_plan_that_holds_no_longer_says_so_on_every_page_and_carries_the_signed_one() -> None:
    copy = PdfReader(io.BytesIO(marked_pdf(plan_file(*Side), SUPERSEDED, whole_pdf())))
    for page in copy.pages:
        assert spaced(page.extract_text()).count("SUPERSEDED") >= 2  # in the head line, and across the page
    first = spaced(copy.pages[0].extract_text())
    assert "Plan 2 took its place." in first
    assert "Ines Marlowe, Chief officer signed 14 April 2031, 06:50 UTC" in first
    assert copy.attachments["signed-plan.pdf"][0] == whole_pdf()


def test_an_amendment_prints_its_number_its_reason_and_every_difference() -> None:
    earlier = plan_payload(plan_inputs())
    values = tuple(replace(value, value=value.value - 1) for value in plan_inputs().values)
    text = spaced(
        plan_html(
            plan_file(
                plan_number=2, amendment_reason="One pump lost.", earlier_plan=earlier, values=values, holds_until=None
            )
        )
    )
    assert "Transfer plan 2" in text
    assert "Reason: One pump lost." in text
    assert "<th>Highest rate</th><td>2900 m³/h</td><td><strong>2899 m³/h</strong></td>" in text
    assert "<th>Holds until</th><td>16 April 2031, 18:30 UTC</td><td><strong>no end stated</strong></td>" in text
    assert "<strong>2,899" in text.replace("\u202f", ",")  # in the table of what was agreed


def test_the_attached_file_is_the_data_file() -> None:
    attached = PdfReader(io.BytesIO(whole_pdf())).attachments
    assert list(attached) == ["plan.json"]
    assert attached["plan.json"][0] == whole()[0]


def test_the_same_data_file_gives_the_same_bytes() -> None:
    file = read_plan(whole()[0])
    assert sha256_hex(marked_pdf(file, DRAFT)) == sha256_hex(marked_pdf(file, DRAFT))


def test_each_signature_shows_name_title_and_time_in_its_field_on_the_first_page() -> None:
    """Poppler draws what the fields show; other libraries take the text of a page without its fields."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    command = ["pdftotext", "-f", "1", "-l", "1", "-", "-"]
    told = spaced(subprocess.run(command, input=whole_pdf(), capture_output=True, check=True).stdout.decode())
    for side, at in (("Ines Marlowe, Chief officer", "06:50"), ("Tor Askeland, Loading master", "06:51")):
        assert side in told
        assert f"signed 14 April 2031, {at} UTC" in told


def test_it_declares_pdf_a_3b_and_embeds_every_font() -> None:
    """The marker and the fonts are checked here; conformance as such needs a validator of its own."""
    reader = PdfReader(io.BytesIO(whole_pdf()))
    metadata = reader.trailer["/Root"]["/Metadata"].get_data().decode("utf-8")  # type: ignore[index]
    assert re.search(r'pdfaid:part[=>]"?3', metadata)
    assert re.search(r'pdfaid:conformance[=>]"?B', metadata)
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"].get("/Font", {}).values()]  # type: ignore[attr-defined]
    assert fonts
    for font in fonts:
        descendant = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descendant)
        assert "DejaVu" in font["/BaseFont"]
    relationship = [spec.get_object()["/AFRelationship"] for spec in reader.trailer["/Root"]["/AF"]]  # type: ignore[index]
    assert set(relationship) == {"/Data"}


def test_it_is_a4_and_has_a_size_that_mail_takes() -> None:
    box = PdfReader(io.BytesIO(whole_pdf())).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (595, 842)  # ISO 216 A4 in points
    assert len(whole_pdf()) < 500_000


def test_what_people_typed_is_text_and_never_markup() -> None:
    given = mark(item_named("moor.lines-hold"), Side.SHIP, remark='<img src="file:///etc/hostname"><b>bold</b>')
    text = plan_html(plan_file(marks=(given,)))
    assert "<b>bold</b>" not in text
    assert "&lt;b&gt;bold" in text


@pytest.mark.parametrize("address", ["file:///etc/hostname", "http://localhost/x.png", "https://berth.example/x.png"])
def test_the_renderer_fetches_no_address_and_no_file(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compat.accord.plan_pdf.plan_html", lambda file, mark: f'<img src="{address}">')
    with pytest.raises(FatalURLFetchingError, match="Error fetching"):
        pdf_to_sign(plan_file())


def test_without_pango_the_sentence_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.import_module

    def without_pango(name: str, package: str | None = None) -> object:
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return real(name, package)

    monkeypatch.setattr(importlib, "import_module", without_pango)
    with pytest.raises(PdfUnavailableError, match="apt-get install") as refused:
        pdf_to_sign(plan_file())
    assert INSTALL_LINE in str(refused.value)
    for package in ("libpango-1.0-0", "libpangoft2-1.0-0", "libharfbuzz-subset0", "fonts-dejavu-core"):
        assert package in INSTALL_LINE


def test_a_plan_without_an_operating_point_or_line_data_prints_too() -> None:
    inputs = plan_inputs()
    answer = {
        **inputs.answer,
        "outcome": "no operating point",
        "reason": "The pumps give too little head.",
        "total_flow_m3_per_h": None,
        "common_speed_rpm": None,
        "manifold_pressure_bar_gauge": None,
        "binding": None,
    }
    text = plan_html(plan_file(answer=answer, diagram=None, line_data_shared=False))
    assert "The pumps give too little head." in text
    assert "not known" in text
    assert "keeps the data of its shore line to itself" in text
    assert "Operating diagram" not in text


def limits(**changes: dict[str, object]) -> list[dict[str, object]]:
    return [{**limit, **changes.get(limit["key"], {})} for limit in plan_inputs().answer["limits"]]


def test_a_limit_that_is_exceeded_or_not_decided_is_told_on_the_first_page() -> None:
    changed = limits(**{"agreed-highest-rate": {"state": "exceeded", "margin": -100.0}})
    answer = {**plan_inputs().answer, "binding": None, "limits": changed}
    first = plan_html(plan_file(answer=answer)).split('class="new-page"')[0]
    assert "Exceeded: Agreed highest rate" in first
    assert "Not decided, for want of data: Inert gas delivery over 1.25" in spaced(first)
    assert "No limit is reached" not in first


def test_figures_that_the_terminal_keeps_are_dashes_and_not_called_unknown() -> None:
    text = spaced(plan_html(plan_file(line_data_shared=False)))
    row = text.split("Shore line, part 1: rating")[1].split("</tr>")[0]
    assert "kept by the terminal" in row
    assert row.count(">–<") == 3
    assert "not known" not in row


def test_pumps_at_different_speeds_show_the_lowest_and_the_highest() -> None:
    pumps = [
        {**pump, "speed_rpm": speed} for pump, speed in zip(plan_inputs().answer["pumps"], (1290.0, 980.0), strict=True)
    ]
    answer = {**plan_inputs().answer, "pumps": pumps, "common_speed_rpm": None}
    text = plan_html(plan_file(answer=answer))
    assert "980 to 1,290" in text


def test_the_style_sheet_names_only_fonts_of_the_install_line() -> None:
    folder = Path(__file__).parents[3] / "templates" / "static"
    style = "".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("plan*.css")))
    assert set(re.findall(r'"(DejaVu[^"]*)"', style)) == {"DejaVu Sans", "DejaVu Sans Mono"}
    assert "url(" not in style
    assert "@import" not in style


def test_garbage_is_collected_again_after_drawing_also_where_that_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> object:
        assert not gc.isenabled()
        raise RuntimeError("no ink")

    monkeypatch.setattr("compat.accord.pdf_making._rendered", fail)
    with pytest.raises(RuntimeError, match="no ink"):
        pdf_to_sign(plan_file())
    assert gc.isenabled()


def test_streams_are_whole() -> None:
    """A cut file would still start like a PDF: its data must come out at full length."""
    start = whole_pdf().index(b"/EmbeddedFile")
    body = whole_pdf().index(b"stream\n", start) + len(b"stream\n")
    assert zlib.decompressobj().decompress(whole_pdf()[body:]) == whole()[0]
