"""Where facts come from, and old and assumed ones that decide the fit or the rate."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from compat.case.binding_arrays import KINDS
from compat.fit.answer import fit_of
from compat.fit.catalogue import CHECKS
from compat.fit.columns import read_at
from compat.fit.doubts import KEPT_BACK, RATE_NEEDS, kind_of_key
from compat.fit.fit_case import Sources, flat
from compat.fit.origins import Stated
from compat.fit.service_checks import RULE_NEEDS
from compat.fit.visit import VisitFacts
from compat.fit.withholding import without_arms
from shared.facts_reading import fields_of
from terminals.berthing_facts import BERTH_FACT_KEYS, UNLIMITED_KEYS
from terminals.facts import BerthFacts
from tests.compat.fit.building import TODAY, berth_document, changed, fit_case, ship_document
from tests.compat.fit.test_edges import row_of
from vessels.berthing_facts import SHIP_FACT_KEYS
from vessels.facts import ShipFacts


def _sources(**more: Any) -> Sources:
    newest, older, oldest = ship_document(), ship_document(), ship_document()
    oldest["particulars"]["beam_m"] = 30.0
    versions = [
        Stated(3, "Ida", date(2031, 3, 1), newest),
        Stated(2, "Teodor", date(2030, 6, 1), older),
        Stated(1, "Wen", date(2024, 1, 1), oldest),
    ]
    return Sources(versions, [Stated(1, "Rosa", date(2029, 1, 1), berth_document())], more.get("today", TODAY))


def test_a_fact_is_stated_by_whoever_first_stated_it_as_it_is() -> None:
    fit = fit_of(fit_case(), _sources())
    beam = row_of(fit, "beam").facts[0]
    assert (beam.stated_by, beam.stated_on, beam.sure) == ("Teodor", "2030-06-01", "stated")
    length = row_of(fit, "length-overall").facts[0]
    assert (length.stated_by, length.stated_on) == ("Wen", "2024-01-01")


def test_an_old_fact_is_pointed_out_only_where_it_decides() -> None:
    assert not fit_of(fit_case(), _sources()).doubts
    berth = changed(berth_document(), "size.greatest_length_overall_m", 183.5)
    (doubt,) = fit_of(fit_case({"berth": berth}), _sources()).doubts
    assert doubt.startswith("Length overall (183.00")
    assert "older than five years (Wen, 1 January 2024)" in doubt


def test_an_assumed_fact_is_pointed_out_where_it_decides() -> None:
    ship = ship_document()
    ship["berthing"]["statements"] = [{"fact": "bow to manifold", "sure": "assumed", "by": "Agent", "on": "2031-04-01"}]
    assert not fit_of(fit_case({"ship": ship}), _sources()).doubts
    berth = changed(berth_document(), "berthing.reach.greatest_bow_to_manifold_m", 92.5)
    doubts = fit_of(fit_case({"ship": ship, "berth": berth}), _sources()).doubts
    assert [doubt for doubt in doubts if "is assumed (Agent, 1 April 2031)" in doubt]


@pytest.mark.parametrize(
    ("binding", "owner", "fact", "said"),
    [
        ("speed-P1", "ship", "pump curves", "Cargo pumps"),
        ("agreed-manifold-pressure", "berth", "shore line", "Shore"),
        ("berth-manifold-pressure", "berth", "pressure and rate limits", "manifold pressure"),
        ("arm-velocity-2", "berth", "arms or hoses", "Arms"),
        ("receiving-rate", "berth", "pressure and rate limits", "rate"),
    ],
)
def test_an_assumed_fact_on_which_the_rate_stands_is_pointed_out(
    binding: str, owner: str, fact: str, said: str
) -> None:
    document = {"ship": ship_document, "berth": berth_document}[owner]()
    document["berthing"]["statements"] = [{"fact": fact, "sure": "assumed", "by": "Agent", "on": "2031-04-01"}]
    case = fit_case({owner: document})
    assert not fit_of(case, _sources()).rate_doubts
    fit = fit_of(replace(case, binding=binding), _sources())
    told = [doubt for whose, doubt in fit.rate_doubts if whose == owner and "is assumed (Agent" in doubt]
    assert told
    assert all("decides the rate: have it measured or confirmed." in doubt for doubt in told)
    assert set(told) <= set(fit.doubts)
    kept_back = without_arms(fit)
    assert owner == "ship" or all(doubt == KEPT_BACK for whose, doubt in kept_back.rate_doubts if whose == "berth")
    other = "receiving-rate" if fact != "pressure and rate limits" else "inert-gas"
    assert not any("is assumed" in doubt for _, doubt in fit_of(replace(case, binding=other), _sources()).rate_doubts)


def test_every_kind_of_limit_says_on_which_facts_it_stands() -> None:
    assert set(RATE_NEEDS) == set(KINDS)
    assert all(kind_of_key(f"{kind}-3") == kind_of_key(kind) == kind for kind in KINDS)
    assert kind_of_key("") == ""


def test_a_rule_of_the_terminal_tells_its_facts_and_doubts() -> None:
    ship, berth = ship_document(), berth_document()
    berth["berthing"]["own_rules"] = [
        {"name": "Not too long", "fact": "length overall in m", "comparison": "at most", "number": 184.0},
        {"name": "Enough flanges", "fact": "manifold connections", "comparison": "at least", "number": 1.0},
    ]
    ship["berthing"]["statements"] = [{"fact": "length overall", "sure": "assumed", "by": "Agent", "on": "2031-04-01"}]
    fit = fit_of(fit_case({"ship": ship, "berth": berth}), _sources())
    row = row_of(fit, "own-rule-1")
    assert [fact.label for fact in row.facts] == ["Length overall", "Own rules"]
    assert any("Length overall (183.00\xa0m) is assumed" in doubt for doubt in row.doubts)
    assert not row_of(fit, "own-rule-2").doubts


def test_every_fact_that_a_check_or_a_rate_stands_on_can_be_stated_with_its_origin() -> None:
    names = {"ship": SHIP_FACT_KEYS, "berth": BERTH_FACT_KEYS}
    needs = [need for check in CHECKS for need in check.needs] + [*RULE_NEEDS.values()]
    for name in (*flat(needs), *(one for keys in RATE_NEEDS.values() for one in keys)):
        owner, _, key = name.partition(":")
        if owner in names:
            starts = [start for keys in names[owner].values() for start in keys]
            assert any(key.startswith(start) for start in starts), name


def test_every_name_of_a_fact_leads_to_one() -> None:
    for model, names in ((ShipFacts, SHIP_FACT_KEYS), (BerthFacts, UNLIMITED_KEYS)):
        for keys in names.values():
            for key in keys:
                assert read_at(model, key)
    for keys in BERTH_FACT_KEYS.values():
        for key in keys:
            parent, _, start = key.rpartition(".")
            inner = fields_of((read_at(BerthFacts, parent).inner if parent else None) or BerthFacts)
            assert any(name.startswith(start) for name in inner)
    for check in CHECKS:
        for need in check.needs:
            for name in (need,) if isinstance(need, str) else need:
                owner, _, key = name.partition(":")
                if name != "visit:agreed pressure":
                    assert read_at({"ship": ShipFacts, "berth": BerthFacts, "visit": VisitFacts}[owner], key)
