"""Pages of signing in, people, organisations and units: who gets them, what they change."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shared import queries
from shared.models import Organisation, Person
from shared.queries import Waiting
from tests.builders import SECRET, make_person

ClientOf = Callable[[Person | None], Client]
NEW_SECRET = "eight-bells-and-rain"
NEW_PERSON = {"full_name": "Anna Vale", "title": "Pumpman", "username": "anna", "role": "officer", "secret": NEW_SECRET}
NEW_ORGANISATION = {
    "name": "Corvane Shipping", "kind": "ship", "full_name": "Elif Aydin", "title": "", "username": "elif",
    "secret": NEW_SECRET,
}  # fmt: skip

PAGES_FOR_ALL = ["home", "own-secret", "own-units", "organisation", "trail"]
PAGES_ABOUT_A_PERSON = ["person", "person-secret", "person-deactivate"]


@pytest.mark.parametrize("page", PAGES_FOR_ALL)
@pytest.mark.parametrize("who", ["ship_reader", "terminal_officer", "auditor", "ship_admin"])
def test_every_member_sees_their_own_pages(
    page: str, who: str, request: pytest.FixtureRequest, client_of: ClientOf
) -> None:
    answer = client_of(request.getfixturevalue(who)).get(reverse(page))
    assert answer.status_code == 200
    assert "Follow local regulations and the terminal" in answer.text


@pytest.mark.django_db
@pytest.mark.parametrize("page", [*PAGES_FOR_ALL, "organisation-list", "organisation-add", "person-add"])
def test_nobody_sees_a_page_without_signing_in(page: str, client_of: ClientOf) -> None:
    answer = client_of(None).get(reverse(page))
    assert (answer.status_code, answer["Location"]) == (302, f"{reverse('sign-in')}?next={reverse(page)}")


@pytest.mark.django_db
def test_every_page_carries_the_content_security_policy(client_of: ClientOf) -> None:
    policy = client_of(None).get(reverse("sign-in"))["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


def test_signing_in_leads_to_the_page_that_was_asked_for(ship_officer: Person, client_of: ClientOf) -> None:
    browser = client_of(None)
    entry = {"username": "ship-officer", "password": SECRET}
    answer = browser.post(f"{reverse('sign-in')}?next={reverse('own-units')}", entry)
    assert (answer.status_code, answer["Location"]) == (302, reverse("own-units"))
    assert "Ingrid Solheim" in browser.get(reverse("home")).text
    assert browser.post(reverse("sign-out"))["Location"] == reverse("sign-in")
    assert browser.get(reverse("home")).status_code == 302


@pytest.mark.parametrize("closed", [False, True])
def test_a_wrong_secret_or_closed_access_does_not_sign_in(
    closed: bool, ship_officer: Person, client_of: ClientOf
) -> None:
    Person.objects.update(is_active=not closed)
    entry = {"username": "ship-officer", "password": SECRET if closed else "wrong"}
    answer = client_of(None).post(reverse("sign-in"), entry)
    assert answer.status_code == 200
    assert "do not belong together" in answer.text
    assert 'value="ship-officer"' in answer.text


def test_an_initial_secret_is_replaced_before_anything_else(ship_officer: Person, client_of: ClientOf) -> None:
    Person.objects.update(secret_is_initial=True)
    browser = client_of(ship_officer)
    for page in ["home", "organisation", "trail", "own-units"]:
        assert browser.get(reverse(page))["Location"] == reverse("own-secret")
    assert "chosen by an administrator" in browser.get(reverse("own-secret")).text
    entry = {"present": SECRET, "secret": NEW_SECRET, "again": NEW_SECRET}
    assert browser.post(reverse("own-secret"), entry)["Location"] == reverse("home")
    assert browser.get(reverse("home")).status_code == 200


def test_changing_the_secret_ends_other_sessions_and_keeps_this_one(ship_officer: Person) -> None:
    here, elsewhere = Client(), Client()
    for browser in (here, elsewhere):
        browser.post(reverse("sign-in"), {"username": "ship-officer", "password": SECRET})
        assert browser.get(reverse("home")).status_code == 200
    here.post(reverse("own-secret"), {"present": SECRET, "secret": NEW_SECRET, "again": NEW_SECRET})
    assert here.get(reverse("home")).status_code == 200
    assert elsewhere.get(reverse("home")).status_code == 302


def test_two_new_secrets_that_differ_are_refused(ship_officer: Person, client_of: ClientOf) -> None:
    entry = {"present": SECRET, "secret": NEW_SECRET, "again": NEW_SECRET + "x"}
    assert "type the same one twice" in client_of(ship_officer).post(reverse("own-secret"), entry).text
    entry = {"present": "wrong", "secret": NEW_SECRET, "again": NEW_SECRET}
    answer = client_of(ship_officer).post(reverse("own-secret"), entry)
    assert "present secret is not right" in answer.text
    assert NEW_SECRET not in answer.text


@pytest.mark.parametrize("page", PAGES_ABOUT_A_PERSON)
@pytest.mark.parametrize("who", ["terminal_admin", "terminal_reader", "auditor", "stranger", "installation_admin"])
def test_people_of_another_organisation_do_not_exist(
    page: str, who: str, request: pytest.FixtureRequest, ship_officer: Person, client_of: ClientOf
) -> None:
    browser = client_of(request.getfixturevalue(who))
    assert browser.get(reverse(page, args=["ship-officer"])).status_code == 404
    assert browser.post(reverse(page, args=["ship-officer"]), {"role": "reader"}).status_code == 404
    assert browser.post(reverse("person-reactivate", args=["ship-officer"])).status_code == 404


@pytest.mark.parametrize("who", ["ship_reader", "ship_officer"])
def test_a_member_who_is_no_administrator_sees_people_and_changes_nothing(
    who: str, request: pytest.FixtureRequest, ship_admin: Person, client_of: ClientOf
) -> None:
    browser = client_of(request.getfixturevalue(who))
    shown = browser.get(reverse("person", args=["ship-admin"]))
    assert shown.status_code == 200
    assert "Maud Okafor" in shown.text
    assert "Change the role" not in shown.text
    assert "Add a person" not in browser.get(reverse("organisation")).text
    for page in ["person-secret", "person-deactivate"]:
        assert browser.get(reverse(page, args=["ship-admin"])).status_code == 403
    for page, entry in [
        ("person", {"role": "reader"}),
        ("person-secret", {"secret": NEW_SECRET}),
        ("person-deactivate", {}),
        ("person-reactivate", {}),
    ]:
        refused = browser.post(reverse(page, args=["ship-admin"]), entry)
        assert refused.status_code == 403
        assert "Only an administrator of Halvard Tankers may do this" in refused.text
    assert browser.get(reverse("person-add")).status_code == 403
    assert browser.post(reverse("person-add"), NEW_PERSON).status_code == 403
    ship_admin.refresh_from_db()
    assert (ship_admin.role, ship_admin.is_active) == ("administrator", True)
    assert ship_admin.check_password(SECRET)


def test_an_administrator_adds_and_changes_people(ship_admin: Person, client_of: ClientOf) -> None:
    browser = client_of(ship_admin)
    assert browser.get(reverse("person-add")).status_code == 200
    answer = browser.post(reverse("person-add"), NEW_PERSON, follow=True)
    assert "Anna Vale can sign in now as anna" in answer.text
    assert (
        "Anna Vale is now reader."
        in browser.post(reverse("person", args=["anna"]), {"role": "reader"}, follow=True).text
    )
    assert "Close the access of Anna Vale?" in browser.get(reverse("person-deactivate", args=["anna"])).text
    assert Person.objects.get(username="anna").is_active
    browser.post(reverse("person-deactivate", args=["anna"]))
    assert not Person.objects.get(username="anna").is_active
    browser.post(reverse("person-reactivate", args=["anna"]))
    assert Person.objects.get(username="anna").is_active
    browser.post(reverse("person-secret", args=["anna"]), {"secret": "fog-signal-every-minute"})
    assert Person.objects.get(username="anna").check_password("fog-signal-every-minute")


def test_a_refused_person_keeps_what_was_typed_but_not_the_secret(ship_admin: Person, client_of: ClientOf) -> None:
    answer = client_of(ship_admin).post(reverse("person-add"), {**NEW_PERSON, "username": "ship-admin"})
    assert "Username ship-admin is taken; choose another." in answer.text
    assert 'value="Anna Vale"' in answer.text
    assert NEW_SECRET not in answer.text


def test_the_last_administrator_is_told_so(ship_admin: Person, client_of: ClientOf) -> None:
    answer = client_of(ship_admin).post(reverse("person", args=["ship-admin"]), {"role": "reader"})
    assert "is the last administrator of Halvard Tankers" in answer.text


def test_people_are_searched_sorted_and_shown_a_page_at_a_time(ship_admin: Person, client_of: ClientOf) -> None:
    for number in range(30):
        make_person(ship_admin.organisation, username=f"crew-{number:02}", full_name=f"Crew {number:02}")
    browser = client_of(ship_admin)
    page = reverse("organisation")
    assert "Page 1 of 2, 31 in all" in browser.get(page).text
    assert "Maud Okafor</a>" in browser.get(page, {"page": 2}).text
    found = browser.get(page, {"search": "crew 07"}).text
    assert "Crew 07" in found
    assert "Crew 08" not in found
    assert "Nobody found." in browser.get(page, {"search": "zzz"}).text
    last_first = browser.get(page, {"sort": "-username", "page": "nonsense"}).text
    assert last_first.index("ship-admin") < last_first.index("crew-29") < last_first.index("crew-28")
    assert browser.get(page, {"sort": "password"}).status_code == 200


def test_units_are_chosen_and_pages_follow(ship_reader: Person, client_of: ClientOf) -> None:
    browser = client_of(ship_reader)
    entry = {
        "pressure": "kgf/cm²", "flow": "bbl/h", "length": "ft", "density": "kg/m³", "viscosity": "cSt",
        "temperature": "°F",
    }  # fmt: skip
    answer = browser.post(reverse("own-units"), entry, follow=True)
    assert "8 bar reads 8.16\u00a0kgf/cm²" in answer.text  # 8 / 0.980665 (NIST SP 811, B.8)
    assert "Select a valid choice" in browser.post(reverse("own-units"), {**entry, "flow": "litres"}).text


@pytest.mark.parametrize("page", ["organisation-list", "organisation-add"])
@pytest.mark.parametrize("who", ["ship_admin", "ship_reader", "terminal_admin", "auditor"])
def test_only_the_installations_administrator_sees_all_organisations(
    page: str, who: str, request: pytest.FixtureRequest, client_of: ClientOf
) -> None:
    browser = client_of(request.getfixturevalue(who))
    assert browser.get(reverse(page)).status_code == 403
    if page == "organisation-add":
        assert browser.post(reverse(page), NEW_ORGANISATION).status_code == 403
        assert not Organisation.objects.filter(name="Corvane Shipping").exists()


def test_the_installations_administrator_adds_an_organisation(installation_admin: Person, client_of: ClientOf) -> None:
    browser = client_of(installation_admin)
    assert "There is no organisation yet" in browser.get(reverse("organisation-list")).text
    assert browser.get(reverse("organisation-add")).status_code == 200
    answer = browser.post(reverse("organisation-add"), NEW_ORGANISATION, follow=True)
    assert "Corvane Shipping is added" in answer.text
    assert Person.objects.get(username="elif").organisation == Organisation.objects.get(name="Corvane Shipping")
    assert browser.get(reverse("organisation"))["Location"] == reverse("organisation-list")
    assert browser.get(reverse("person-add")).status_code == 403
    assert browser.get(reverse("home")).status_code == 200


def test_the_home_page_lists_what_rooms_say_is_waiting(
    ship_officer: Person, ship_reader: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queries, "_waiting_lists", [])
    queries.show_waiting(
        lambda person: [Waiting("The plan waits for your signature.", "/accords/1/", "Sign")] * (person == ship_officer)
    )
    assert "The plan waits for your signature." in client_of(ship_officer).get(reverse("home")).text
    assert "Nothing waits for you now." in client_of(ship_reader).get(reverse("home")).text


@pytest.mark.parametrize("page", ["sign-out", "person-reactivate"])
def test_acts_are_not_done_by_a_link(page: str, ship_admin: Person, client_of: ClientOf) -> None:
    arguments = ["ship-admin"] if page == "person-reactivate" else []
    assert client_of(ship_admin).get(reverse(page, args=arguments)).status_code == 405


def test_an_act_without_the_forms_token_is_refused(ship_admin: Person) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.force_login(ship_admin)
    refused = browser.post(reverse("person-deactivate", args=["ship-admin"]))
    assert (refused.status_code, "This form is too old" in refused.text) == (403, True)
    assert browser.post(reverse("sign-out")).status_code == 403


def test_an_unknown_address_has_a_page_of_its_own(ship_reader: Person, client_of: ClientOf) -> None:
    answer = client_of(ship_reader).get("/nothing/")
    assert answer.status_code == 404
    assert "There is no such page, or it belongs to someone else." in answer.text


def test_a_defect_has_a_page_that_says_whose_fault_it_is(
    ship_reader: Person, client_of: ClientOf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(person: Person) -> list[Waiting]:
        raise ZeroDivisionError

    monkeypatch.setattr(queries, "_waiting_lists", [fail])
    browser = client_of(ship_reader)
    browser.raise_request_exception = False
    answer = browser.get(reverse("home"))
    assert answer.status_code == 500
    assert "nothing is left half done" in answer.text
    assert "ZeroDivisionError" not in answer.text
