"""The page of how sure a rate is: who sees it, what it works out, what it refuses, what it keeps."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from compat.assessing.models import Assessment
from compat.assessing.sure_forms import TolerancesForm
from compat.case.case_file import Tolerance
from compat.case.sampling import spread_of
from shared.models import Person
from tests.compat.assessing.conftest import ClientOf


def page_of(client: Client, row: Assessment, **sent: str) -> Any:
    return client.get(reverse("assessment-sure", args=[row.public_id]), sent)


def place(row: Assessment, label: str) -> int:
    """Return the place in the form of what has this label."""
    numbers = TolerancesForm(row.case_file(), {}, line_shown=True).numbers
    return next(i for i, number in enumerate(numbers) if number.label == label)


@pytest.fixture
def sent(assessment: Assessment) -> dict[str, str]:
    """Half a bar either way on the agreed pressure, a fifth either way on the viscosity."""
    pressure, viscosity = place(assessment, "Agreed manifold pressure"), place(assessment, "Kinematic viscosity")
    return {f"by_{pressure}": "0.5", f"in_{pressure}": "bar", f"by_{viscosity}": "20", f"in_{viscosity}": "%"}


@pytest.mark.parametrize("name", ["assessment-sure", "assessment-sure-picture"])
def test_a_stranger_learns_nothing(client_of: ClientOf, stranger: Person, assessment: Assessment, name: str) -> None:
    assert client_of(stranger).get(reverse(name, args=[assessment.public_id])).status_code == 404
    assert client_of(stranger).post(reverse("assessment-sure", args=[assessment.public_id])).status_code == 404


def test_without_tolerances_every_number_is_exact(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment
) -> None:
    client = client_of(ship_reader)
    answer = page_of(client, assessment)
    assert answer.status_code == 200
    assert "No tolerance is stated yet" in answer.text
    assert answer.context["spread"] is None
    assert client.get(reverse("assessment-sure-picture", args=[assessment.public_id])).status_code == 404
    assert (
        reverse("assessment-sure", args=[assessment.public_id])
        in client.get(reverse("assessment", args=[assessment.public_id])).text
    )


def test_the_page_shows_what_the_sampling_of_the_case_file_gives(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, sent: dict[str, str]
) -> None:
    client = client_of(ship_reader)
    answer = page_of(client, assessment, **sent)
    tolerances = [
        Tolerance(key="agreed.manifold_pressure_bar_gauge", plus_minus=0.5),
        Tolerance(key="cargo.kinematic_viscosity_mm2_per_s", plus_minus_percent=20.0),
    ]
    expected = spread_of(assessment.case_file().model_copy(update={"tolerances": tolerances}), 2048)
    assert expected is not None
    assert answer.context["spread"] == expected
    for rate in (expected.rate_p10_m3_per_h, expected.rate_p50_m3_per_h, expected.rate_p90_m3_per_h):
        assert f"{rate:,.0f}\u00a0m³/h" in answer.text
    labels = {limit["key"]: limit["label"] for limit in assessment.answer["limits"]}
    chances = [(line.label, line.percent) for line in answer.context["chances"]]
    assert chances == [(labels[key], 100.0 * share) for key, share in expected.binding.items()]
    apart = [line.apart_m3_per_h for line in answer.context["influences"]]
    assert len(apart) == 2
    assert apart == sorted(apart, reverse=True)
    picture = client.get(answer.context["picture_address"])
    assert picture["Content-Type"] == "image/svg+xml"
    assert f"P50: {expected.rate_p50_m3_per_h:,.0f}".encode() in picture.content


def test_a_person_with_other_units_types_differences_in_them(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment
) -> None:
    """0.5 bar is 7.25189 psi, and a difference has no zero to be moved."""
    ship_reader.units = {"pressure": "psi"}
    ship_reader.save()
    number = place(assessment, "Agreed manifold pressure")
    answer = page_of(client_of(ship_reader), assessment, **{f"by_{number}": "7.25188689", f"in_{number}": "psi"})
    (tolerance,) = answer.context["case"].tolerances
    assert tolerance.plus_minus == pytest.approx(0.5, rel=1e-7)


@pytest.mark.parametrize(
    ("typed", "unit", "sentence"),
    [
        ("a,b", "bar", "Agreed manifold pressure: ± “a,b” bar has a comma"),
        ("-3", "bar", "Agreed manifold pressure: ± -3 bar; allowed: more than 0, up to 100,000 bar; leave it empty"),
        ("0", "bar", "Agreed manifold pressure: ± 0 bar; allowed: more than 0"),
        ("101", "%", "Agreed manifold pressure: ± 101 %; allowed: more than 0, up to 100 %"),
        ("nan", "bar", "Agreed manifold pressure: ± “nan” bar is not a number"),
        ("9", "bar", "agreed.manifold_pressure_bar_gauge is -1"),
    ],
)
def test_what_is_no_tolerance_is_refused_in_a_sentence_and_stays_in_its_box(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, typed: str, unit: str, sentence: str
) -> None:
    number = place(assessment, "Agreed manifold pressure")
    answer = page_of(client_of(ship_reader), assessment, **{f"by_{number}": typed, f"in_{number}": unit})
    assert sentence in answer.text
    assert f'value="{typed}"' in answer.text
    assert answer.context["spread"] is None


def test_tolerances_are_kept_with_a_new_assessment_and_stand_in_its_form(
    client_of: ClientOf, ship_officer: Person, assessment: Assessment, sent: dict[str, str]
) -> None:
    client = client_of(ship_officer)
    address = reverse("assessment-sure", args=[assessment.public_id])
    answer = client.post(address, {**sent, "title": "First look, how sure"})
    made = Assessment.objects.get(title="First look, how sure")
    assert answer.headers["Location"] == reverse("assessment-sure", args=[made.public_id])
    assert made.answer == {**assessment.answer, "title": "First look, how sure"}
    keys = [tolerance.key for tolerance in made.case_file().tolerances]
    assert keys == ["agreed.manifold_pressure_bar_gauge", "cargo.kinematic_viscosity_mm2_per_s"]
    again = client.get(answer.headers["Location"])
    assert again.context["spread"] == page_of(client, assessment, **sent).context["spread"]
    assert 'value="0.5"' in again.text


def test_a_reader_keeps_nothing(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, sent: dict[str, str]
) -> None:
    client = client_of(ship_reader)
    address = reverse("assessment-sure", args=[assessment.public_id])
    assert client.post(address, {**sent, "title": "Mine"}).status_code == 403
    assert Assessment.objects.count() == 1
    assert "Keep these tolerances" not in page_of(client, assessment, **sent).text


def test_a_refused_tolerance_is_not_kept(
    client_of: ClientOf, ship_officer: Person, assessment: Assessment, sent: dict[str, str]
) -> None:
    number = place(assessment, "Agreed manifold pressure")
    client = client_of(ship_officer)
    address = reverse("assessment-sure", args=[assessment.public_id])
    answer = client.post(address, {**sent, f"by_{number}": "much", "title": "Mine"}, follow=True)
    assert "Not kept: Agreed manifold pressure: ± “much” bar is not a number" in answer.text
    assert Assessment.objects.count() == 1


def test_a_kept_line_has_no_rows_and_does_not_leak(
    client_of: ClientOf, ship_officer: Person, kept_assessment: Assessment
) -> None:
    number = place(kept_assessment, "Agreed manifold pressure")
    client = client_of(ship_officer)
    answer = page_of(client, kept_assessment, **{f"by_{number}": "0.5", f"in_{number}": "bar"})
    assert answer.context["spread"] is not None
    assert all(not key.startswith("berth.") for row in answer.context["form"].numbers for key in row.keys)
    assert "Hidden run" not in answer.text
    assert "keeps its shore line data to itself" in answer.text
    assert "Hidden run" not in client.get(answer.context["picture_address"]).text


def test_a_part_typed_with_its_sign_is_taken_as_a_part(
    client_of: ClientOf, ship_reader: Person, assessment: Assessment, sent: dict[str, str]
) -> None:
    viscosity = place(assessment, "Kinematic viscosity")
    typed = sent | {f"by_{viscosity}": "20 %", f"in_{viscosity}": "mm²/s"}
    client = client_of(ship_reader)
    chosen, by_sign = (page_of(client, assessment, **one).context["spread"] for one in (sent, typed))
    assert by_sign is not None
    assert by_sign.percentiles_m3_per_h == chosen.percentiles_m3_per_h


def test_examples_stand_in_the_unit_that_is_shown(assessment: Assessment) -> None:
    level = place(assessment, "Liquid surface in the ship's tanks")
    pressure = place(assessment, "Agreed manifold pressure")
    form = TolerancesForm(assessment.case_file(), {"pressure": "kPa", "length": "ft"}, line_shown=True)
    assert form.fields[f"by_{pressure}"].widget.attrs["placeholder"] == "e.g. 20"
    assert form.fields[f"by_{level}"].widget.attrs["placeholder"] == "e.g. 2"
