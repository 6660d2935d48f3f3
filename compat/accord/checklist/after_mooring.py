"""What is true once she is fast and before anything is connected (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import BENZENE, CRUDE, HYDROGEN_SULPHIDE, VOLATILE
from compat.accord.checklist.item import (
    BOTH,
    EACH_WATCH,
    HOURLY,
    SHIP,
    Item,
    Phase,
    Repeat,
    Severity,
    Source,
    moment,
    number,
    recalled,
    text,
)

_PHASE = Phase.AFTER_MOORING

ITEMS = (
    Item(
        key="moor.lines-hold",
        phase=_PHASE,
        statement=(
            "Moorings are strong enough for the worst wind, current, surge and passing traffic expected, are long"
            " enough to be tended through rise and fall, and people are named to tend them."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("highest_wind_m_per_s", "Highest wind for this mooring", "m/s", "0", "60"),
            number("people", "People tending lines", "count", "1", "40"),
        ),
        repeat=Repeat(every_min=60, on="at the turn of the tide and when ships pass"),
        sources=(Source("33 CFR 155.750(a)(5)"),),
        cfr_156_120=("(a)",),
    ),
    Item(
        key="moor.under-keel-margin",
        phase=_PHASE,
        statement=(
            "Water under the keel stays above the agreed least margin at the deepest draught and the lowest tide of"
            " the stay."
        ),
        answered_by=BOTH,
        severity=Severity.PRACTICE,
        values=(
            number("least_margin_m", "Least margin", "m", "0", "20", required=True),
            moment("lowest_at", "Time of the lowest point"),
        ),
        repeat=Repeat(every_min=120, on="at low water"),
        sources=(
            Source("2 CCR art. 5, offshore terminals, ahead of § 2395 (6 ft net)"),
            recalled("PIANC Report 121"),
        ),
    ),
    Item(
        key="moor.can-leave",
        phase=_PHASE,
        statement=(
            "The ship can leave the berth under her own power, or with tugs already arranged, within the agreed time."
            " Work that would stop this needs the terminal's consent."
        ),
        answered_by=SHIP,
        severity=Severity.ADVICE,
        values=(
            number("time_to_leave_min", "Time to leave", "min", "1", "1440"),
            number("tugs", "Tugs", "count", "0", "10"),
        ),
        repeat=EACH_WATCH,
        sources=(Source("2 CCR 2325(d), 2340(c)(28)(A) (30 min in that State)"),),
    ),
    Item(
        key="access.safe-and-guarded",
        phase=_PHASE,
        statement=(
            "There is a safe, lit way on and off and a second way out; who comes aboard or into the transfer area is"
            " controlled; security levels match, and a declaration of security is signed where one is needed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(text("security_level", "Security level, ship and port"),),
        repeat=EACH_WATCH,
        sources=(
            Source("33 CFR 154.735(t), 105.245(c),(d)"),
            Source("WAC 173-180-225 (heading)"),
            recalled("ISPS Code A/5; SOLAS II-1/3-9"),
        ),
    ),
    Item(
        key="signs.shown",
        phase=_PHASE,
        statement=(
            "Warning notices stand at the entry to the berth and on the ship, and she shows the day or night signal"
            " that is required of her."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=EACH_WATCH,
        sources=(Source("46 CFR 35.35-20(a)"), Source("33 CFR 154.735(g),(v)")),
    ),
    Item(
        key="fire.gear-ready",
        phase=_PHASE,
        statement=(
            "The fire main is under pressure or can be within 2 minutes; hoses and extinguishers lie ready on both"
            " sides of the manifold; shore fire gear is marked and clear; fire crews can get in."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("fire_main_min", "Time to pressurise the fire main", "min", "0", "60"),),
        repeat=EACH_WATCH,
        sources=(Source("2 CCR 2345(a)-(d)"), Source("33 CFR 154.735(a),(d),(e),(f)")),
        guidance="Under pressure, or within 2 minutes: 2 CCR 2345(c) (California).",
    ),
    Item(
        key="ignition.controlled",
        phase=_PHASE,
        statement=(
            "There is no open flame, and no hot work within the distance where it is forbidden. People smoke only in"
            " agreed places indoors. Galley and boiler fires were judged safe for this cargo."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("smoking_places", "Where smoking is allowed"),
            number("hot_work_distance_m", "Distance kept from hot work", "m", "0", "1000"),
        ),
        repeat=EACH_WATCH,
        sources=(
            Source("33 CFR 154.735(l)(1) (30.5 m),(o),(u)"),
            Source("46 CFR 35.30-5, 35.35-20(e),(h)-(j)"),
        ),
        cfr_156_120=("(cc)", "(dd)"),
        guidance="No hot work within 30.5 m (100 ft) of flammable cargo work in bulk: 33 CFR 154.735(l)(1).",
    ),
    Item(
        key="openings.kept-shut",
        phase=_PHASE,
        statement=(
            "Doors, ports and air intakes through which cargo vapour could reach living, control or machinery spaces"
            " are shut or set to recirculate."
        ),
        answered_by=SHIP,
        severity=Severity.PRACTICE,
        repeat=Repeat(every_min=120),
        applies_when=VOLATILE | CRUDE | HYDROGEN_SULPHIDE | BENZENE,
        sources=(Source("MSC.1/Circ.1216 §9.2.2.1.1"), Source("46 CFR 35.35-20(e)")),
    ),
    Item(
        key="craft.kept-clear",
        phase=_PHASE,
        statement=(
            "No other craft lies alongside in way of the cargo tanks, unless both persons in charge have agreed to it"
            " and conditions suit."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=HOURLY,
        applies_when=VOLATILE | CRUDE,
        sources=(Source("46 CFR 35.35-42"),),
    ),
)
