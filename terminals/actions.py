"""Acts on terminals and berths. Each is one transaction with its row in the trail, and asks whether the person may."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from shared.calc.errors import InputError
from shared.models import Person
from shared.permissions import NotAllowedError, check_acts_for
from shared.revisions import facts_sha256, first_revision, next_revision
from shared.roles import Kind
from shared.trail import Fact, record
from shared.zones import checked_zone
from terminals.facts import BerthFacts
from terminals.models import Berth, BerthRevision, Terminal


class NameTakenError(InputError):
    """Another terminal or berth has this name already."""


def check_may_add_terminals(person: Person) -> None:
    """Raise NotAllowedError unless the person is an administrator or officer of a terminal operator."""
    organisation = person.organisation
    if organisation is None or organisation.kind != Kind.TERMINAL:
        raise NotAllowedError("Only a terminal operator's administrators and officers add terminals and berths.")
    check_acts_for(person, organisation)


def may_add_terminals(person: Person) -> bool:
    """Tell whether the person may add terminals."""
    try:
        check_may_add_terminals(person)
    except NotAllowedError:
        return False
    return True


@transaction.atomic
def add_terminal(*, by: Person, now: datetime, name: str, port: str, address: str, zone: str = "") -> Terminal:
    """Add a terminal to the person's organisation; ``zone`` is that of its clocks, empty where it is not known."""
    check_may_add_terminals(by)
    terminal = Terminal(organisation=by.organisation, name=name, port=port, address=address, zone=checked_zone(zone))
    _check_terminal_name(terminal)
    terminal.save()
    _record_terminal("terminal added", by=by, now=now, terminal=terminal)
    return terminal


@transaction.atomic
def change_terminal(
    *, by: Person, now: datetime, terminal: Terminal, name: str, port: str, address: str, zone: str | None = None
) -> None:
    """Change a terminal's name, port, address and zone; its berths get a new revision where name or port differ.

    ``zone`` None leaves it as it is.
    """
    check_acts_for(by, terminal.organisation)
    terminal = Terminal.objects.select_for_update().get(pk=terminal.pk)
    new_zone = terminal.zone if zone is None else checked_zone(zone)
    if (terminal.name, terminal.port, terminal.address, terminal.zone) == (name, port, address, new_zone):
        raise InputError("Nothing differs from what is stored, so nothing was saved.")
    renamed = (terminal.name, terminal.port) != (name, port)
    terminal.name, terminal.port, terminal.address, terminal.zone = name, port, address, new_zone
    _check_terminal_name(terminal)
    terminal.save(update_fields=["name", "port", "address", "zone"])
    _record_terminal("terminal changed", by=by, now=now, terminal=terminal)
    if renamed:
        for berth in terminal.berths.all():
            latest = berth.revisions.latest("number")
            _write_revision(
                berth, latest.berth_facts(), started_from=latest.number, note="Terminal or port renamed", by=by, now=now
            )


@transaction.atomic
def add_berth(
    *, by: Person, now: datetime, terminal: Terminal, facts: BerthFacts, line_data_shared: bool, note: str = ""
) -> Berth:
    """Add a berth to a terminal with revision 1 of its facts."""
    check_acts_for(by, terminal.organisation)
    facts = _at_terminal(facts, terminal)
    berth = Berth(terminal=terminal, name=facts.name, line_data_shared=line_data_shared)
    _save_berth(berth)
    revision: BerthRevision = first_revision(berth.revisions, facts=facts, note=note, by=by, now=now)
    _record("berth added", by=by, now=now, berth=berth, facts=_about(revision, facts))
    return berth


@transaction.atomic
def revise_berth(
    *, by: Person, now: datetime, berth: Berth, started_from: int, facts: BerthFacts, note: str = ""
) -> BerthRevision:
    """Write the berth's next revision.

    Raises ChangedMeanwhileError if ``started_from`` is no longer its newest, NothingChangedError for equal facts,
    NameTakenError for a name that another berth of the terminal has.
    """
    check_acts_for(by, berth.terminal.organisation)
    berth = Berth.objects.select_for_update(of=("self",)).select_related("terminal").get(pk=berth.pk)
    if berth.archived:
        raise InputError(f"{berth} is archived; restore it before changing its data.")
    return _write_revision(berth, facts, started_from=started_from, note=note, by=by, now=now)


@transaction.atomic
def import_berths(
    *,
    by: Person,
    now: datetime,
    terminal: Terminal,
    berths: Sequence[tuple[BerthFacts, BerthFacts | None]],
    note: str = "",
) -> int:
    """Add or revise many berths of a terminal at once, all of them or none; return how many changed.

    Each comes with the facts that it was read against, None for a new berth, which keeps its line data to itself.
    Raises InputError where a berth's newest facts are others by now, or where an act on one of them is refused.
    """
    check_acts_for(by, terminal.organisation)
    changed = 0
    for facts, before in berths:
        if before is None:
            add_berth(by=by, now=now, terminal=terminal, facts=facts, line_data_shared=False, note=note)
        elif facts != before:
            berth = terminal.berths.filter(name=before.name, archived=False).first()
            latest = None if berth is None else berth.revisions.latest("number")
            if berth is None or latest is None or latest.berth_facts() != before:
                raise InputError(f"{before.name} was changed meanwhile; nothing was saved. Send the file again.")
            revise_berth(by=by, now=now, berth=berth, started_from=latest.number, facts=facts, note=note)
        changed += facts != before
    return changed


@transaction.atomic
def share_line_data(*, by: Person, now: datetime, berth: Berth, shared: bool) -> None:
    """Let every organisation see arms, shore line and limits of a berth, or keep them and share only answers."""
    check_acts_for(by, berth.terminal.organisation)
    if not Berth.objects.filter(pk=berth.pk, line_data_shared=not shared).update(line_data_shared=shared):
        raise InputError(f"The line data of {berth} are {'shared' if shared else 'kept'} already; nothing was changed.")
    berth.line_data_shared = shared
    _record("line data shared" if shared else "line data kept", by=by, now=now, berth=berth, facts={})


@transaction.atomic
def archive_berth(*, by: Person, now: datetime, berth: Berth) -> None:
    """Take a berth off the list; its data stay and it can be brought back."""
    _set_archived(by=by, now=now, berth=berth, archived=True)


@transaction.atomic
def restore_berth(*, by: Person, now: datetime, berth: Berth) -> None:
    """Bring an archived berth back to the list."""
    _set_archived(by=by, now=now, berth=berth, archived=False)


def _set_archived(*, by: Person, now: datetime, berth: Berth, archived: bool) -> None:
    check_acts_for(by, berth.terminal.organisation)
    if not Berth.objects.filter(pk=berth.pk, archived=not archived).update(archived=archived):
        raise InputError(f"{berth} is {'archived' if archived else 'on the list'} already; nothing was changed.")
    berth.archived = archived
    _record("berth archived" if archived else "berth restored", by=by, now=now, berth=berth, facts={})


def _write_revision(
    berth: Berth, facts: BerthFacts, *, started_from: int, note: str, by: Person, now: datetime
) -> BerthRevision:
    facts = _at_terminal(facts, berth.terminal)
    revision: BerthRevision = next_revision(
        berth.revisions, started_from=started_from, facts=facts, note=note, by=by, now=now
    )
    berth.name = facts.name
    _save_berth(berth, update_fields=["name"])
    _record("berth revised", by=by, now=now, berth=berth, facts=_about(revision, facts))
    return revision


def _at_terminal(facts: BerthFacts, terminal: Terminal) -> BerthFacts:
    """Return the facts with terminal and port as the terminal itself states them."""
    return facts.model_copy(update={"terminal": terminal.name, "port": terminal.port})


def _check_terminal_name(terminal: Terminal) -> None:
    others = Terminal.objects.filter(organisation=terminal.organisation, name__iexact=terminal.name)
    if others.exclude(pk=terminal.pk).exists():
        raise NameTakenError(f"Name {terminal.name} belongs to another terminal of yours; choose another.")


def _save_berth(berth: Berth, update_fields: list[str] | None = None) -> None:
    taken = f"Name {berth.name} belongs to another berth of {berth.terminal}, on the list or archived; choose another."
    others = Berth.objects.filter(terminal=berth.terminal, name__iexact=berth.name).exclude(pk=berth.pk)
    if others.exists():
        raise NameTakenError(taken)
    try:
        with transaction.atomic():
            berth.save(update_fields=update_fields)
    except IntegrityError as error:  # added by somebody else since it was looked up
        raise NameTakenError(taken) from error


def _about(revision: BerthRevision, facts: BerthFacts) -> dict[str, Fact]:
    return {"revision": revision.number, "note": revision.note, "facts_sha256": facts_sha256(facts)}


def _record(act: str, *, by: Person, now: datetime, berth: Berth, facts: dict[str, Fact]) -> None:
    about: dict[str, Fact] = {"name": berth.name, "terminal": berth.terminal.name, "port": berth.terminal.port}
    record(act=act, by=by, now=now, subject=f"berth:{berth.public_id}", facts=about | facts)


def _record_terminal(act: str, *, by: Person, now: datetime, terminal: Terminal) -> None:
    about: dict[str, Fact] = {
        "name": terminal.name,
        "port": terminal.port,
        "address": terminal.address,
        "zone": terminal.zone,
    }
    record(act=act, by=by, now=now, subject=f"terminal:{terminal.public_id}", facts=about)
