"""What this transfer is, and the conditions under which an item applies (pure: no Django).

A condition that nobody has stated is ``None``, not known. It never removes an item: only a stated
fact does.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Literal, get_args

from shared.calc.errors import InputError

Operation = Literal["discharge", "load"]
Connection = Literal["arms", "hoses", "arms and hoses"]


@dataclass(frozen=True)
class TransferConditions:
    """What is known about the transfer; ``None`` is *not known* and keeps every item that depends on it."""

    operation: Operation | None = None
    connection: Connection | None = None
    crude: bool | None = None
    volatile: bool | None = None
    static_accumulator: bool | None = None
    inerted: bool | None = None
    vapour_return: bool | None = None
    hydrogen_sulphide: bool | None = None
    benzene: bool | None = None
    crude_oil_washing: bool | None = None
    night: bool | None = None
    pump_room: bool | None = None
    notice_required: bool | None = None

    def document(self) -> dict[str, str | bool | None]:
        """Return the conditions as a JSON document that ``from_document`` reads back."""
        return asdict(self)

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> TransferConditions:
        """Read conditions from a JSON document; raise InputError with a sentence for a key or value not known."""
        known = {field.name for field in fields(cls)}
        for key, value in document.items():
            if key not in known:
                raise InputError(f"Condition “{key}” is not known; use {', '.join(sorted(known))}.")
            _check_stated(key, value)
        return cls(**document)

    def words(self) -> list[tuple[str, str]]:
        """Return (question, what was stated) for every condition, to be read by people."""
        return [(CONDITION_LABELS[field.name], _stated_words(getattr(self, field.name))) for field in fields(self)]


CONDITION_LABELS: dict[str, str] = {
    "operation": "Operation",
    "connection": "Connection",
    "crude": "Crude oil",
    "volatile": "Volatile: flash point below 60 °C, or handled within 10 °C of it",
    "static_accumulator": "Holds static charge: conductivity below 50 pS/m, or not known and no additive",
    "inerted": "Ship's cargo tanks inerted",
    "vapour_return": "Vapour returned ashore",
    "hydrogen_sulphide": "Hydrogen sulphide on the safety data sheet",
    "benzene": "Benzene on the safety data sheet",
    "crude_oil_washing": "Crude oil washing",
    "night": "Any part between sunset and sunrise",
    "pump_room": "Ship has a cargo pump room",
    "notice_required": "A rule asks for notice to the authority",
}


def _check_stated(key: str, value: object) -> None:
    allowed: tuple[object, ...] = (True, False)
    if key == "operation":
        allowed = get_args(Operation)
    elif key == "connection":
        allowed = get_args(Connection)
    # ``1 == True``: a number must not pass for a stated yes.
    if value is not None and not any(value is one or (isinstance(value, str) and value == one) for one in allowed):
        shown = ", ".join(_stated_words(one) for one in allowed)
        raise InputError(f"Condition “{key}” is {value!r}; allowed: {shown}, or not known.")


def _stated_words(value: object) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


class Condition:
    """A small expression over the conditions; combine with ``&`` and ``|``, deny a stated fact with ``~``."""

    def holds(self, conditions: TransferConditions) -> bool | None:
        """Return whether it holds, or None where what is known does not decide it."""
        raise NotImplementedError

    def words(self) -> str:
        """Return the expression as a person would say it after “when”."""
        raise NotImplementedError

    def __and__(self, other: Condition) -> Condition:
        return Both(self, other)

    def __or__(self, other: Condition) -> Condition:
        return Either(self, other)


@dataclass(frozen=True)
class Stated(Condition):
    """One stated fact about the transfer."""

    said: str
    look: Callable[[TransferConditions], bool | None]
    denied: str = ""

    def __invert__(self) -> Condition:
        return Not(self)

    def holds(self, conditions: TransferConditions) -> bool | None:
        """Return what is stated, or None."""
        return self.look(conditions)

    def words(self) -> str:
        """Return how the fact is said."""
        return self.said


@dataclass(frozen=True)
class Both(Condition):
    """Holds when both parts hold; fails as soon as one is known to fail."""

    left: Condition
    right: Condition

    def holds(self, conditions: TransferConditions) -> bool | None:
        """Return False if either part fails, None if one is undecided, else True."""
        found = (self.left.holds(conditions), self.right.holds(conditions))
        if False in found:
            return False
        return None if None in found else True

    def words(self) -> str:
        """Join the parts by “and”."""
        return f"{self.left.words()} and {self.right.words()}"


@dataclass(frozen=True)
class Either(Condition):
    """Holds as soon as one part holds; fails when both are known to fail."""

    left: Condition
    right: Condition

    def holds(self, conditions: TransferConditions) -> bool | None:
        """Return True if either part holds, None if one is undecided, else False."""
        found = (self.left.holds(conditions), self.right.holds(conditions))
        if True in found:
            return True
        return None if None in found else False

    def words(self) -> str:
        """Join the parts by “or”."""
        return f"{self.left.words()} or {self.right.words()}"


@dataclass(frozen=True)
class Not(Condition):
    """Holds when a stated fact is known not to be so."""

    part: Stated

    def holds(self, conditions: TransferConditions) -> bool | None:
        """Return the opposite of the part, or None where it is undecided."""
        found = self.part.holds(conditions)
        return None if found is None else not found

    def words(self) -> str:
        """Return how the opposite is said."""
        return self.part.denied


def _equals(value: str | None, *wanted: str) -> bool | None:
    return None if value is None else value in wanted


ALWAYS = Stated("always", lambda _: True)
DISCHARGING = Stated("discharging", lambda c: _equals(c.operation, "discharge"))
LOADING = Stated("loading", lambda c: _equals(c.operation, "load"))
HOSES = Stated("hoses are used", lambda c: _equals(c.connection, "hoses", "arms and hoses"))
ARMS = Stated("loading arms are used", lambda c: _equals(c.connection, "arms", "arms and hoses"))
CRUDE = Stated("the cargo is crude oil", lambda c: c.crude)
VOLATILE = Stated("the cargo is volatile", lambda c: c.volatile)
STATIC = Stated("the cargo holds static charge", lambda c: c.static_accumulator)
INERTED = Stated("the ship's tanks are inerted", lambda c: c.inerted, "the ship's tanks are not inerted")
VAPOUR_RETURN = Stated("vapour is returned ashore", lambda c: c.vapour_return)
HYDROGEN_SULPHIDE = Stated("hydrogen sulphide is present", lambda c: c.hydrogen_sulphide)
BENZENE = Stated("benzene is present", lambda c: c.benzene)
CRUDE_OIL_WASHING = Stated("tanks are washed with crude oil", lambda c: c.crude_oil_washing)
NIGHT = Stated("any part falls between sunset and sunrise", lambda c: c.night)
PUMP_ROOM = Stated("the ship has a cargo pump room", lambda c: c.pump_room)
NOTICE_REQUIRED = Stated("a rule asks for notice", lambda c: c.notice_required)
