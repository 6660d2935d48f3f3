"""A fit in the words and rows of a page (pure: no Django)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from compat.fit.answer import Fit, FitRow
from compat.fit.catalogue import Word

# The style of each word, and a sign that tells it without colour; the first ones are shown first.
STATES: Mapping[Word, tuple[str, str]] = {
    "outside": ("state-exceeded", "✕"),
    "not decided": ("state-undecided", "?"),
    "needs agreement": ("state-binding", "◆"),
    "within": ("state-kept", "✓"),
}
_SENTENCES: Mapping[Word, str] = {
    "outside": "She does not fit as things are stated.",
    "not decided": "Whether she fits is not decided: facts are missing.",
    "needs agreement": "She fits if ship and terminal agree on what is named below.",
    "within": "She fits: every check is within.",
}


@dataclass(frozen=True)
class FitLine:
    """One check as a row of a page."""

    row: FitRow

    @property
    def style(self) -> str:
        """Return the style of the state's word."""
        return STATES[self.row.state][0]

    @property
    def facts(self) -> tuple[tuple[str, str, str], ...]:
        """Return the facts of each holder and origin together: whose, which, and where they come from."""
        together: dict[tuple[str, str], list[str]] = {}
        for fact in self.row.facts:
            origin = f"{fact.sure}, {fact.stated_by}, {fact.stated_on}" if fact.stated_by else ""
            together.setdefault((fact.holder, origin), []).append(f"{fact.label} {fact.text}")
        return tuple((holder, ", ".join(told), origin) for (holder, origin), told in together.items())

    @property
    def sign(self) -> str:
        """Return the sign that tells the state without colour."""
        return STATES[self.row.state][1]


@dataclass(frozen=True)
class FitShown:
    """A fit for a page: what stands in the way first, what is within folded away below."""

    fit: Fit
    sentence: str
    style: str
    sign: str
    open_lines: tuple[FitLine, ...]
    within_lines: tuple[FitLine, ...]
    counts: tuple[tuple[str, str, str, int], ...]


def shown(fit: Fit) -> FitShown:
    """Return a fit in the order in which it is read."""
    order = list(STATES)
    lines = sorted((FitLine(row) for row in fit.rows), key=lambda line: order.index(line.row.state))
    counts = tuple((word, *STATES[word], fit.counts[word]) for word in order if fit.counts[word])
    return FitShown(
        fit=fit,
        sentence=_SENTENCES.get(fit.state, ""),
        style=STATES.get(fit.state, ("", ""))[0],
        sign=STATES.get(fit.state, ("", ""))[1],
        open_lines=tuple(line for line in lines if line.row.state != "within"),
        within_lines=tuple(line for line in lines if line.row.state == "within"),
        counts=counts,
    )
