"""The text of a letter of protest from the facts of a record: what happened, by whom it was written down, no more.

A letter of protest keeps a party's rights; it proves nothing by itself. Who signs it reads it first (pure: no Django).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from compat.accord.checklist.item import Side
from compat.record.events import Kind
from compat.record.performance_view import Told, verdict
from compat.record.timesheet import Sheet
from shared.quantities import display

UTC_FORM = "%d %B %Y %H:%M UTC"


_CLOSE = (
    "We protest against this, hold you responsible for what follows from it, and reserve all rights of our principals."
    " Please acknowledge receipt; your signature acknowledges receipt only."
)


@dataclass(frozen=True)
class Letter:
    """Who writes to whom about which transfer."""

    side: Side
    ship: str
    berth: str
    place: str
    cargo: str
    own_party: str
    other_party: str
    reference: str
    written_at: datetime


@dataclass(frozen=True)
class Drifts:
    """How often readings drifted, and how many of these nobody explained."""

    all: int
    unexplained: int


def letter_text(
    letter: Letter, sheet: Sheet, found: Told | None, difference_percent: float | None, drifts: Drifts
) -> str:
    """Return the letter as plain text; without anything to protest against it says so."""
    grounds = list(_grounds(letter, sheet, found, difference_percent, drifts))
    head = [
        "LETTER OF PROTEST",
        "",
        f"Date: {letter.written_at.strftime(UTC_FORM)}",
        f"From: {letter.own_party}, for the {letter.side}",
        f"To: {letter.other_party}, for the {letter.side.other}",
        f"Ship: {letter.ship}    Berth: {letter.berth}, {letter.place}",
        f"Cargo: {letter.cargo}    Transfer record: {letter.reference}",
        "",
    ]
    if not grounds:
        return "\n".join([*head, "The record holds nothing that this side would have to protest against.", ""])
    body = ["We note the following from the transfer record that both sides kept:", ""]
    body += [f"{number}. {ground}" for number, ground in enumerate(grounds, start=1)]
    body += [
        "",
        _CLOSE,
        "",
        "For the "
        + str(letter.side)
        + ": ______________________    Received for the "
        + str(letter.side.other)
        + ": ______________________",
        "",
    ]
    return "\n".join([*head, *body])


def _grounds(
    letter: Letter, sheet: Sheet, found: Told | None, difference_percent: float | None, drifts: Drifts
) -> Iterator[str]:
    if letter.side is Side.SHIP:
        yield from _of_ship(sheet, found)
    else:
        yield from _of_terminal(found)
    for stop in sheet.stops:
        if stop.caused_by == letter.side.other and stop.hours:
            begun = stop.begins.strftime(UTC_FORM)
            yield f"Flow was stopped by the {letter.side.other} from {begun} for {stop.hours:.1f} h: {stop.reason}"
    if difference_percent is not None:
        more = "more" if difference_percent > 0 else "less"
        yield (
            f"Ship's figures are {abs(difference_percent):.2f} % {more} than shore's, beyond the difference that was"
            " agreed."
        )
    if drifts.unexplained:
        yield f"{drifts.unexplained} of {drifts.all} drifts of gauges from the agreed plan were not explained."


def _of_ship(sheet: Sheet, found: Told | None) -> Iterator[str]:
    for line in sheet.lines:
        if line.kind == Kind.HELD_BACK:
            to = (
                ""
                if line.pressure_bar_gauge is None
                else f" to {display(line.pressure_bar_gauge, 'bar', note='gauge')}"
            )
            remark = f": {line.remark}" if line.remark else "."
            yield f"From {line.at.strftime(UTC_FORM)} the terminal held the ship back{to}{remark}"
    if found is not None and found.restricted and found.agreed_bar_gauge is not None:
        allowed = display(found.agreed_bar_gauge, "bar", note="gauge")
        asked = display(found.asked.pressure_bar_gauge, "bar")
        took = "took" if found.ended else "has so far taken"
        yield (
            f"The terminal allowed no more than {allowed} at the manifold, below the {asked} of the usual warranty; the"
            f" discharge {took} {found.counted.pumping_hours:.1f} h of pumping."
        )


def _of_terminal(found: Told | None) -> Iterator[str]:
    if found is None or found.counted.kept != "not kept":
        return
    counted, took = found.counted, "took" if found.ended else "has so far taken"
    yield (
        f"Pumping {took} {counted.pumping_hours:.1f} h against {counted.allowed_hours:.1f} h allowed, and for"
        f" {counted.short_hours:.1f} h the manifold pressure lay below what the ship could be asked for"
        f" ({display(found.asked.pressure_bar_gauge, 'bar', note='gauge')}, or less where the terminal allowed less)."
    )
    if found.mean_bar_gauge is not None:
        mean = display(found.mean_bar_gauge, "bar", note="gauge")
        yield f"The mean manifold pressure of the bulk discharge was {mean}."
    yield verdict(found)
