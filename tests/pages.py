"""Reads a page as a browser without scripts would: what its form sends, and what it says is wrong."""

from __future__ import annotations

from html.parser import HTMLParser
from urllib.parse import urlencode

from django.http import HttpResponse
from django.test import Client

Sent = list[tuple[str, str]]


class _FormReader(HTMLParser):
    """Collects names and values of the controls of the form with one class or id, in the order of the page."""

    def __init__(self, form_class: str) -> None:
        super().__init__()
        self.form_class, self.sent = form_class, list[tuple[str, str]]()
        self.inside = self.template = False
        self.select: str | None = None
        self.chosen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form":
            self.inside = self.form_class in [given.get("id"), *(given.get("class") or "").split()]
        elif tag == "template":
            self.template = True
        elif not self.inside or self.template:
            return
        elif tag == "input" and (given.get("type") not in {"radio", "checkbox"} or "checked" in given):
            self.sent.append((given.get("name") or "", given.get("value") or ""))
        elif tag == "select":
            self.select, self.chosen = given.get("name") or "", []
        elif tag == "option" and ("selected" in given or not self.chosen):
            self.chosen = [given.get("value") or ""]

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.inside = False
        elif tag == "template":
            self.template = False
        elif tag == "select" and self.select is not None:
            self.sent.append((self.select, self.chosen[0] if self.chosen else ""))
            self.select = None


class _ProblemReader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inside = self.link = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "section":
            self.inside = "problems" in (dict(attrs).get("class") or "")
        elif tag == "li" and self.inside:
            self.link = True
            self.found.append("")

    def handle_endtag(self, tag: str) -> None:
        if tag == "section":
            self.inside = False
        elif tag == "li":
            self.link = False

    def handle_data(self, data: str) -> None:
        if self.link:
            self.found[-1] += data


def sent_by(page: HttpResponse, form_class: str = "facts-form") -> Sent:
    """Return what the form of a page would send, in order, without the token against forged posts."""
    return form_sent(page.text, form_class)


def form_sent(page: str, form_class: str) -> Sent:
    """Return the same of a page's text."""
    reader = _FormReader(form_class)
    reader.feed(page)
    return [(name, value) for name, value in reader.sent if name not in {"", "csrfmiddlewaretoken"}]


def problems_on(page: HttpResponse) -> list[str]:
    """Return the sentences in the list of what is to be corrected."""
    reader = _ProblemReader()
    reader.feed(page.text)
    return reader.found


def with_values(sent: Sent, **changes: str) -> Sent:
    """Return what is sent with other values; a name is given by its end, which must fit exactly one control."""
    changed = list(sent)
    for end, value in changes.items():
        places = [place for place, (name, _) in enumerate(changed) if name.endswith(end)]
        if len(places) != 1:
            raise LookupError(f"{len(places)} controls end in {end}: {[changed[place][0] for place in places]}")
        changed[places[0]] = (changed[places[0]][0], value)
    return changed


def send(client: Client, address: str, sent: Sent) -> HttpResponse:
    """Post a form as a browser does."""
    answer = client.post(address, urlencode(sent), content_type="application/x-www-form-urlencoded")
    assert isinstance(answer, HttpResponse)
    return answer
