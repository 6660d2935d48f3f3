"""Puts a case together from what ship, berth and people state (pure: no Django)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from compat.case.case_file import FORMAT, AgreedFacts, CaseFile, OperationFacts, OwnLimit, Tolerance, check_case
from compat.fit.visit import VisitFacts
from shared.calc.errors import InputError
from shared.cargo_facts import CargoFacts
from terminals.facts import ArmFacts, BerthFacts
from vessels.facts import ShipFacts


@dataclass(frozen=True)
class Setting:
    """What people choose for one assessment; ship and berth state the rest.

    ``arms_connected`` counts arms or hoses in the order of the berth's list, each 0 up to what the berth has.
    """

    title: str
    cargo: CargoFacts
    keel_elevation_m: float
    arms_connected: tuple[int, ...]
    operation: OperationFacts
    agreed: AgreedFacts
    own_limits: tuple[OwnLimit, ...] = ()
    tolerances: tuple[Tolerance, ...] = ()
    visit: VisitFacts | None = None


def keel_elevation_m(water_level_m: float, draught_m: float) -> float:
    """Return the keel above the berth's zero in m, from the water level above that zero and the draught."""
    return round(water_level_m - draught_m, 6)  # a millionth of a metre: takes off the dust of binary fractions


def compose_case(ship: ShipFacts, berth: BerthFacts, setting: Setting) -> CaseFile:
    """Return the case of one ship at one berth; raise CaseError with a sentence for each thing that does not fit."""
    connected = berth.model_copy(update={"arms": arms_connected(berth.arms, setting.arms_connected)})
    document = {
        "format": FORMAT,
        "title": setting.title,
        "ship": ship.model_dump(mode="json", exclude_none=True),
        "cargo": setting.cargo.model_dump(mode="json", exclude_none=True),
        "berth": connected.model_dump(mode="json", exclude_none=True),
        "keel_elevation_m": setting.keel_elevation_m,
        "operation": setting.operation.model_dump(mode="json", exclude_none=True),
        "agreed": setting.agreed.model_dump(mode="json", exclude_none=True),
        "own_limits": [limit.model_dump(mode="json", exclude_none=True) for limit in setting.own_limits],
        "tolerances": [one.model_dump(mode="json", exclude_none=True) for one in setting.tolerances],
        "visit": None if setting.visit is None else setting.visit.model_dump(mode="json", exclude_none=True),
    }
    return check_case(document, setting.title or "This case")


def arms_connected(arms: Sequence[ArmFacts], counts: Sequence[int]) -> list[ArmFacts]:
    """Return the arms and hoses that are connected; raise InputError for a count that the berth does not have."""
    if len(counts) != len(arms):
        raise InputError(f"{len(counts)} counts are given for {len(arms)} kinds of arm or hose; give one for each.")
    for arm, count in zip(arms, counts, strict=True):
        if not 0 <= count <= arm.count:
            raise InputError(f"{arm.name} connected: {count}; allowed: 0 to {arm.count}.")
    if not any(counts):
        raise InputError("No arm or hose is connected; connect at least one.")
    return [arm.model_copy(update={"count": count}) for arm, count in zip(arms, counts, strict=True) if count]


def setting_of(case: CaseFile, berth: BerthFacts) -> Setting:
    """Return the setting from which a case was composed; ``berth`` states all the arms that could be connected."""
    return Setting(
        title=case.title,
        cargo=case.cargo,
        keel_elevation_m=case.keel_elevation_m,
        arms_connected=_counts(berth.arms, case.berth.arms),
        operation=case.operation,
        agreed=case.agreed,
        own_limits=tuple(case.own_limits),
        tolerances=tuple(case.tolerances),
        visit=case.visit,
    )


def _counts(all_arms: Sequence[ArmFacts], connected: Sequence[ArmFacts]) -> tuple[int, ...]:
    """Both lists stand in the same order, so each connected kind is the next one that is alike but for its count."""
    left = list(connected)
    counts = []
    for arm in all_arms:
        if left and left[0].model_copy(update={"count": arm.count}) == arm:
            counts.append(left.pop(0).count)
        else:
            counts.append(0)
    return tuple(counts)
