"""Duties while oil flows: printed in the plan, recorded as they are done (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import (
    BENZENE,
    CRUDE_OIL_WASHING,
    HYDROGEN_SULPHIDE,
    INERTED,
    VAPOUR_RETURN,
)
from compat.accord.checklist.item import (
    BOTH,
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

_PHASE = Phase.TRANSFER

ITEMS = (
    Item(
        key="go.both-say-ready",
        phase=_PHASE,
        statement=(
            "Each person in charge has told the other that every check is done and that flow may start, and the time"
            " is recorded."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(moment("started_at", "Start", required=True),),
        repeat=Repeat(on="at the start and after any stop longer than the agreed time"),
        sources=(Source("33 CFR 156.160(b)"), Source("46 CFR 35.35-20(f), 35.35-25")),
        cfr_156_120=("(x)",),
        cfr_156_150=("(c)(3)", "(c)(5)"),
    ),
    Item(
        key="start.slow-and-seen",
        phase=_PHASE,
        statement=(
            "Flow began at the start rate; cargo reaches only the intended tanks, at the rate expected; joints and the"
            " water around are dry and clean."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("rate_seen_m3_per_h", "Rate seen", "m³/h", "0", "100000"),
            number("minutes_at_start_rate", "Time at the start rate", "min", "0", "600"),
        ),
        repeat=Repeat(on="at the start and after each change of tank or line"),
        sources=(Source("46 CFR 35.35-35(b),(c)"), Source("WAC 173-180-245(7)")),
    ),
    Item(
        key="watch.pressure-and-rate",
        phase=_PHASE,
        statement=(
            "Manifold pressure, rate and pump speed are logged and compared with this plan; a drift beyond the agreed"
            " band is explained, or flow is cut."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("band_percent", "Band on pressure and rate", "%", "0", "50"),
            number("pressure_bar", "Manifold pressure", "bar", "-1", "400"),
            number("rate_m3_per_h", "Rate", "m³/h", "0", "100000"),
            number("speed_rpm", "Pump speed", "rpm", "0", "20000"),
        ),
        repeat=Repeat(every_min=60, closer_every_min=15, closer_while="in the first hour"),
        sources=(Source("46 CFR 35.35-35(d)"), Source("WAC 173-180-245(7)")),
        cfr_156_120=("(w)(5)",),
    ),
    Item(
        key="watch.levels",
        phase=_PHASE,
        statement=(
            "Levels and quantities on both sides are compared within the agreed difference. No tank goes above 98.5 %"
            " or its overfill setting, whichever is lower."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("allowed_difference_m3", "Difference allowed", "m³", "0", "50000"),
            number("highest_fill_percent", "Highest fill", "%", "0", "98.5"),
        ),
        repeat=Repeat(every_min=60, closer_every_min=15, closer_while="when topping off"),
        sources=(
            Source("33 CFR 155.775(b)"),
            Source("46 CFR 39.3001(e), 35.35-35(e)"),
            Source("WAC 173-180-230(5)"),
        ),
        guidance="33 CFR 155.775(b), 46 CFR 39.3001(e): 98.5 % of tank volume or the overfill setting.",
    ),
    Item(
        key="watch.no-leaks",
        phase=_PHASE,
        statement=(
            "Rounds of joints, deck, pump room, drip trays and the water on both sides find no leak beyond what the"
            " trays can hold; trays are drained before they lose their room."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=HOURLY,
        sources=(Source("46 CFR 35.35-35(c)"),),
        cfr_156_120=("(n)", "(p)"),
    ),
    Item(
        key="watch.inert-gas",
        phase=_PHASE,
        statement=(
            "Oxygen in the main is 5 % or less; tanks are at 8 % or less and above the least pressure. Discharge stops"
            " when quality or pressure can't be held."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            number("oxygen_percent", "Oxygen", "% vol", "0", "21"),
            number("pressure_mbar", "Pressure, at least 10", "mbar", "-100", "500"),
        ),
        repeat=HOURLY,
        applies_when=INERTED,
        sources=(
            Source("SOLAS II-2/16.3.3"),
            Source("46 CFR 32.53-5, 32.53-30 (100 mm water), 35.35-30(b)(12)"),
            Source("MSC/Circ.353 §2.7.1"),
        ),
        guidance="46 CFR 32.53-30: the plant can hold 100 mm of water (9.8 mbar).",
    ),
    Item(
        key="watch.vapour-pressure",
        phase=_PHASE,
        statement=(
            "Pressures in the vapour line and in the tanks stay inside the agreed window at the present rate; alarms"
            " are answered at once."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("reading_mbar", "Reading", "mbar", "-500", "1000"),),
        repeat=Repeat(every_min=60, on="by alarm at all times"),
        applies_when=VAPOUR_RETURN,
        sources=(Source("46 CFR 39.2013(b), 39.3001(d)(3)"), Source("33 CFR 154.2103(b),(d)-(g)")),
    ),
    Item(
        key="watch.cow",
        phase=_PHASE,
        statement=(
            "Each tank to be washed read 8 % oxygen or less at 1 m below deck and at half its ullage before washing;"
            " pressure stays positive; the tank that feeds the machines was first drawn down by 1 m; washing lines do"
            " not leak."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            number("oxygen_percent", "Oxygen", "% vol", "0", "21"),
            number("machine_pressure_bar", "Pressure at the machines", "bar", "0", "50"),
        ),
        repeat=Repeat(every_min=60, on="before each tank"),
        applies_when=CRUDE_OIL_WASHING,
        sources=(Source("33 CFR 157.164(a)(1)-(5),(b), 157.155(a)(1)-(3)"),),
    ),
    Item(
        key="watch.toxic",
        phase=_PHASE,
        statement=(
            "Gas readings at manifold, vents, pump room and the air intakes of living spaces are below the agreed"
            " alarm levels."
        ),
        answered_by=BOTH,
        severity=Severity.PRACTICE,
        values=(number("reading_ppm", "Reading", "ppm", "0", "1000000"),),
        repeat=HOURLY,
        applies_when=HYDROGEN_SULPHIDE | BENZENE,
        sources=(recalled("46 CFR 197 subpart C; 29 CFR 1910.1000"),),
    ),
    Item(
        key="watch.in-charge-present",
        phase=_PHASE,
        statement=(
            "Both persons in charge are at the scene and free to act; they and their people work to the manual and the"
            " ship's procedures; the agreed people are on watch; joining, parting, topping off and other critical"
            " steps are done only under their eyes."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=HOURLY,
        sources=(Source("33 CFR 156.160(a),(c), 154.310(a)(6)"),),
        cfr_156_120=("(t)(1)", "(t)(3)", "(u)"),
    ),
    Item(
        key="watch.handover",
        phase=_PHASE,
        statement=(
            "The person in charge who takes over has read this plan and its checks, agrees with them, and signs with"
            " date, time and title."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(text("name_and_title", "Name and title"), moment("taken_over_at", "Taken over")),
        repeat=Repeat(on="at each change of person in charge"),
        cfr_156_120=("(w)(11)",),
        cfr_156_150=("(a)", "(c)(5)"),
    ),
    Item(
        key="watch.weather",
        phase=_PHASE,
        statement="Wind, sea, current and storms, now and forecast, are inside the agreed limits.",
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("wind_now_m_per_s", "Wind now", "m/s", "0", "60"),
            number("wind_forecast_m_per_s", "Wind forecast", "m/s", "0", "60"),
        ),
        repeat=HOURLY,
        sources=(Source("WAC 173-180-235(2)(f)"),),
        cfr_156_120=("(a)",),
    ),
    Item(
        key="watch.stop-on-spill",
        phase=_PHASE,
        statement=(
            "Flow stops as soon as oil escapes from any part. It does not resume until the deck is clean and the water"
            " is clean or contained, or the authority allows it."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(moment("stopped_at", "Stopped"), moment("resumed_at", "Resumed")),
        repeat=Repeat(on="on the event"),
        sources=(Source("33 CFR 156.125(a)-(c)"),),
    ),
    Item(
        key="watch.change-control",
        phase=_PHASE,
        statement=(
            "After any stop, or any change to an agreed value, both persons in charge went over the items it touches"
            " again and signed the plan again before flow went on."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(text("changed", "What changed"), moment("changed_at", "When")),
        repeat=Repeat(on="on the event"),
        sources=(Source("2 CCR 2340(b)(2)"),),
    ),
)
