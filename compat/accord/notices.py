"""Mail that tells the other side of an act on an accord: one for each person and transaction, after the commit."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator, Sequence
from uuid import UUID

from django.db.models import Q

from compat.accord.checklist.item import Side
from compat.accord.models import Accord
from compat.accord.permissions import side_of
from compat.accord.states import across
from compat.accord.values import DEFINITIONS
from shared.mail import Letter, mail_after_commit, site_address
from shared.models import Person, TrailRow
from shared.roles import Notices
from shared.trail import facts_of, follow_acts, name_in_trail

# What is told, by act; an act that is not here is nobody's mail.
_WORDS = {
    "accord opened": "opened this accord",
    "value proposed": "put on the table: {label}, {value}",
    "value accepted": "accepted: {label}, {value}",
    "value taken back": "took off the table: {label}, {value}",
    "accord rearranged": "changed place, time or conditions",
    "accord settled": "settled the accord; it can be read and signed",
    "accord taken back": "took the accord back to the table: {reason}",
    "plan signed": "signed plan {plan_number}",
    "plan in force": "both sides have signed: plan {plan_number} is in force",
    "accord withdrawn": "withdrew the accord: {reason}",
    "amendment opened": "opened an amendment, plan {plan_number}: {reason}",
}
NOTICED = frozenset(_WORDS)
_ONLY_ALL = frozenset({"value proposed", "value accepted", "value taken back", "accord rearranged"})
_WANTED = {Notices.ALL: NOTICED, Notices.STATES: NOTICED - _ONLY_ALL, Notices.NONE: frozenset()}
_CAUTION = (
    "A mail may be late or lost; what holds stands on the accord's page. You choose what you are told under My notices."
)


class _Bundle:
    """The acts of one transaction. Those that were rolled back are not in the trail and are told to nobody."""

    def __init__(self) -> None:
        self.hashes: set[str] = set()
        self.by: dict[str, Person | None] = {}
        self.written = False

    def add(self, row: TrailRow, by: Person | None) -> None:
        self.hashes.add(row.sha256)
        self.by[row.sha256] = by

    def letters(self) -> list[Letter]:
        """Write the letters, once, however many acts ask for it at the commit."""
        if self.written:
            return []
        self.written = True
        rows = list(TrailRow.objects.filter(sha256__in=self.hashes).order_by("position"))
        subjects = dict.fromkeys(row.subject for row in rows)
        return [
            letter
            for subject in subjects
            for letter in _letters(subject, [row for row in rows if row.subject == subject], self.by)
        ]


_here = threading.local()


@follow_acts
def notice(row: TrailRow, by: Person | None) -> None:
    """Remember an act that the other side is told of, until its transaction is committed."""
    if row.act not in NOTICED or not row.subject.startswith("accord:"):
        return
    bundle: _Bundle | None = getattr(_here, "bundle", None)
    if bundle is None or bundle.written:
        bundle = _here.bundle = _Bundle()
    bundle.add(row, by)
    mail_after_commit(bundle.letters)


def _letters(subject: str, rows: Sequence[TrailRow], by: dict[str, Person | None]) -> Iterator[Letter]:
    parties = Accord.objects.select_related("ship_party", "terminal_party")
    accord = parties.defer("case", "payload").filter(public_id=UUID(subject.removeprefix("accord:"))).first()
    if accord is None:
        return
    for side in Side:
        for person in _people_of(side, accord):
            told = [row for row in rows if _is_told(row, by[row.sha256], person, side, accord)]
            if told:
                yield _letter(accord, person, told, by)


def _people_of(side: Side, accord: Accord) -> Iterable[Person]:
    """Return who of a side has a mail address: its own people, and its guests in this accord."""
    guests = accord.guest_invitations.filter(side=side, ended_at=None, person__isnull=False).values("person")
    either = Q(organisation=accord.party(side)) | Q(pk__in=guests)
    return Person.objects.filter(either, is_active=True).exclude(email="").order_by("pk")


def _is_told(row: TrailRow, by: Person | None, person: Person, side: Side, accord: Accord) -> bool:
    if row.act not in _WANTED[Notices(person.notices)] or (by is not None and by.pk == person.pk):
        return False
    # A plan in force concerns both sides alike; anything else is told to the side that did not do it.
    return row.act == "plan in force" or by is None or side_of(by, accord) is across(side)


def _letter(accord: Accord, person: Person, rows: Sequence[TrailRow], by: dict[str, Person | None]) -> Letter:
    lines = [_line(row, by[row.sha256], accord) for row in rows if _line(row, by[row.sha256], accord)]
    text = "\n".join(
        [
            f"{accord.title} ({accord.reference}), plan {accord.plan_number}",
            "",
            *lines,
            "",
            site_address("accord", accord.public_id),
            "",
            _CAUTION,
        ]
    )
    return Letter(person.email, " ".join(f"{_heading(rows)}: {accord.title}".split()), text + "\n")


def _heading(rows: Sequence[TrailRow]) -> str:
    acts = list(dict.fromkeys(row.act for row in rows))
    last = acts[-1].capitalize()
    return last if len(acts) == 1 else f"{last}, and {len(rows) - 1} more"


def _line(row: TrailRow, by: Person | None, accord: Accord) -> str:
    facts = {"plan_number": accord.plan_number, "reason": "", **facts_of(row)}
    definition = DEFINITIONS.get(str(facts.get("key", "")))
    facts["label"] = definition.label if definition else facts.get("key", "")
    said = _WORDS[row.act].format_map({name: str(value) for name, value in facts.items()})
    who = f"{name_in_trail(by)}, {row.organisation}" if by else row.person
    return f"{row.at:%d %b %Y %H:%M} UTC  {who}: {said}"
