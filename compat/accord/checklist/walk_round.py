"""What both sides go and look at together before the plan is signed (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import ARMS, HOSES, LOADING, NIGHT, PUMP_ROOM, VAPOUR_RETURN
from compat.accord.checklist.item import (
    BOTH,
    EACH_WATCH,
    HOURLY,
    SHIP,
    TERMINAL,
    Item,
    Phase,
    Repeat,
    Severity,
    Source,
    agreed,
    date,
    moment,
    number,
    recalled,
    text,
    yes_or_no,
)

_PHASE = Phase.WALK_ROUND
_AFTER_LINE_CHANGE = Repeat(on="after every line change")

CONNECTIONS = (
    Item(
        key="conn.lined-up",
        phase=_PHASE,
        statement=(
            "Every valve from the delivering tank to the receiving tank was seen set for this transfer and no other."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=_AFTER_LINE_CHANGE,
        sources=(Source("46 CFR 35.35-20(c), 35.35-35(a)"),),
        cfr_156_120=("(d)",),
    ),
    Item(
        key="conn.unused-ends-closed",
        phase=_PHASE,
        statement=(
            "Parts of the system that are not in use are shut or blanked, and free ends of arms, hoses and manifolds"
            " carry their proper closures."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=_AFTER_LINE_CHANGE,
        cfr_156_120=("(e)", "(f)"),
    ),
    Item(
        key="conn.joints-made-up",
        phase=_PHASE,
        statement=(
            "Each joint is on a fixed flange, with a sound gasket and undamaged bolts of the right size in the number"
            " that the rule asks for, or an accepted quick coupler. None is an open end through a hatch."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("bolts_per_flange", "Bolts in each flange", "count", "4", "64"),),
        repeat=Repeat(on="after every reconnection"),
        sources=(
            Source("33 CFR 156.130(a)-(c)"),
            Source("46 CFR 35.35-15(a), 35.35-20(d)"),
            Source("WAC 173-180-245(2) (every hole, new gasket)"),
        ),
        cfr_156_120=("(g)", "(k)"),
        guidance=(
            "33 CFR 156.130(a): a temporary joint on an ANSI flange has a bolt in at least every other hole, never"
            " fewer than four; other flanges and permanent joints have one in every hole."
        ),
    ),
    Item(
        key="conn.hoses-fit",
        phase=_PHASE,
        statement=(
            "Each hose was looked over along its whole length: no kink, bulge, soft spot, loose cover or cut that"
            " reaches the reinforcement. It is marked for this service, and its marked pressure and test date match"
            " the plan."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("marked_pressure_bar", "Marked working pressure", "bar", "0.1", "400", required=True),
            date("tested_on", "Test date"),
        ),
        repeat=Repeat(on="at first use each day"),
        applies_when=HOSES,
        sources=(Source("33 CFR 154.500(c)-(f)"), Source("MSC.1/Circ.1216 §9.4.1.1.1, .4, .5")),
        cfr_156_120=("(i)", "(j)"),
    ),
    Item(
        key="conn.hoses-run",
        phase=_PHASE,
        statement=(
            "Hoses are long enough for all movement of the ship, hang clear of edges without kinks, and are slung from"
            " gear strong enough for a full hose."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("full_hose_t", "Weight of a full hose", "t", "0", "50"),
            number("gear_swl_t", "Safe working load of the gear", "t", "0", "200"),
        ),
        repeat=HOURLY,
        applies_when=HOSES,
        sources=(
            Source("46 CFR 35.35-15(b)"),
            Source("MSC.1/Circ.1216 §9.4.1.1.7"),
            Source("WAC 173-180-205(1)(a),(d)"),
        ),
        cfr_156_120=("(b)", "(c)"),
    ),
    Item(
        key="conn.arms-in-reach",
        phase=_PHASE,
        statement=(
            "Arms are within their reach now and at the highest and lowest flange height foreseen, their out-of-reach"
            " alarms work, and the ship's flange can bear the load."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("lowest_flange_m", "Lowest flange above water", "m", "0", "60"),
            number("highest_flange_m", "Highest flange above water", "m", "0", "60"),
            yes_or_no("alarm_tested", "Out-of-reach alarm tested"),
        ),
        repeat=HOURLY,
        applies_when=ARMS,
        sources=(Source("33 CFR 154.310(a)(17)(i)"),),
        cfr_156_120=("(b)", "(j)"),
    ),
    Item(
        key="conn.electrically-isolated",
        phase=_PHASE,
        statement=(
            "Each hose string or arm, for liquid and for vapour, has one insulating flange or one length that does not"
            " conduct, clear of metal around it and last measured at 1000 ohm or more. No bonding cable defeats it."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("resistance_ohm", "Resistance", "ohm", "0", "1000000000"), date("measured_on", "Measured on")),
        repeat=Repeat(on="after reconnection"),
        sources=(Source("46 CFR 35.35-4(a)-(c)"), Source("MSC.1/Circ.1216 §9.4.1.1.6")),
        cfr_156_120=("(aa)(3)",),
        guidance="46 CFR 35.35-4(c): at least 1000 ohm after installation, tested yearly.",
    ),
    Item(
        key="vapour.line-proved",
        phase=_PHASE,
        statement=(
            "The vapour hose or arm is connected and sound and its valves are set; the system was cleaned where the"
            " last cargo does not suit this one; freezing and polymerising of vapour are guarded against; alarms,"
            " trips and analysers were tested within 24 hours before the start."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(moment("tested_at", "Time of the test", required=True),),
        repeat=Repeat(on="when more than 24 h have passed before the start"),
        applies_when=VAPOUR_RETURN,
        sources=(
            Source("33 CFR 154.2150(c)(1)-(6),(d),(p), 156.170(g)"),
            Source("46 CFR 35.35-20(m)"),
        ),
        cfr_156_120=("(aa)(1)", "(aa)(2)", "(aa)(7)", "(aa)(8)", "(aa)(10)", "(aa)(11)", "(aa)(12)"),
    ),
)

DECK_AND_GEAR = (
    Item(
        key="deck.containment-ready",
        phase=_PHASE,
        statement=(
            "Scuppers and deck drains are closed by their plugs; drip trays at both ends of the connection are in"
            " place, big enough and empty, and can be drained inboard."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("tray_litres", "Tray volume on this side", "L", "1", "100000"),),
        repeat=Repeat(every_min=60, on="after rain"),
        sources=(Source("33 CFR 154.530(b), 155.310(a)"), Source("46 CFR 35.35-10, 35.35-15(c)")),
        cfr_156_120=("(n)", "(o)"),
        guidance=(
            "33 CFR 154.530(b), 155.310(a)(1): ashore 318, 477 or 636 L for a bore up to 6 in, 6 to 12 in, 12 in and"
            " more; aboard 80, 159, 318, 477 or 636 L for up to 2, 4, 6, 12 in and more."
        ),
    ),
    Item(
        key="sea.valves-sealed",
        phase=_PHASE,
        statement=(
            "Sea and overboard valves joined to cargo lines are shut and sealed or lashed, except those in lawful use"
            " for ballast."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(text("seals", "Seal numbers"),),
        repeat=EACH_WATCH,
        sources=(Source("46 CFR 35.35-10, 35.35-20(g)"),),
        cfr_156_120=("(h)",),
    ),
    Item(
        key="spill.gear-ready",
        phase=_PHASE,
        statement=(
            "Boom and recovery gear is to hand or already set, and any leak detector that the authority asks for is"
            " working."
        ),
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(
            number("deployment_min", "Time to deploy", "min", "0", "600"),
            yes_or_no("boom_set", "Boom already set"),
        ),
        repeat=EACH_WATCH,
        sources=(Source("33 CFR 154.525, 154.545"),),
        cfr_156_120=("(l)", "(m)"),
    ),
    Item(
        key="esd.proved",
        phase=_PHASE,
        statement=(
            "The emergency stop was tried or demonstrated from the ship's control post and from shore, and the time to"
            " shut was measured."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("closing_s", "Measured closing time", "s", "1", "600", required=True),),
        repeat=Repeat(on="after any fault"),
        sources=(Source("33 CFR 154.550, 155.780(c), 156.170(c)(5)"),),
        cfr_156_120=("(r)",),
    ),
    Item(
        key="comms.proved",
        phase=_PHASE,
        statement=(
            "Main and reserve links were tried from the posts where they will be used, and portable radios are safe"
            " for gas areas."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        repeat=Repeat(every_min=30, on="or at the agreed test interval"),
        sources=(Source("33 CFR 154.560(a)-(e), 155.785(a)-(d)"),),
        cfr_156_120=("(q)",),
    ),
    Item(
        key="light.enough",
        phase=_PHASE,
        statement=(
            "From sunset to sunrise the connections and work areas on both sides are lit well enough, without dazzling"
            " traffic."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("connection_lux", "At the connection", "lux", "0", "2000"),
            number("work_area_lux", "In work areas", "lux", "0", "2000"),
        ),
        repeat=Repeat(each_watch=True, on="at dusk"),
        applies_when=NIGHT,
        sources=(Source("33 CFR 154.570(a),(b),(d), 155.790"),),
        cfr_156_120=("(y)", "(z)"),
        guidance=(
            "33 CFR 154.570(b), 155.790(b): 54 lux (5 foot-candles) at connections and 11 lux (1 foot-candle) in work"
            " areas, measured 0.9 m above deck."
        ),
    ),
    Item(
        key="gauges.readable",
        phase=_PHASE,
        statement=(
            "Pressure gauges or sensors on both sides of the joint work, read in the agreed units, and are within 10 %"
            " of the true pressure."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("at_rest_bar", "Reading at rest on this side", "bar", "-1", "400"),
            agreed("unit_of_pressure", "Pressure in", ""),
        ),
        repeat=HOURLY,
        sources=(Source("33 CFR 156.170(c)(3)"), Source("46 CFR 35.35-35(d)")),
    ),
    Item(
        key="tanks.shut-and-vents-free",
        phase=_PHASE,
        statement=(
            "Openings for ullage, sounding and washing are shut, levels can be read without opening them, and relief"
            " valves and flame screens move freely and are clear."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        repeat=EACH_WATCH,
        sources=(Source("46 CFR 35.35-20(k),(l), 39.2011(b)"), Source("MSC.1/Circ.1216 §9.2.2.1.2")),
    ),
    Item(
        key="overfill.guard-active",
        phase=_PHASE,
        statement=(
            "High-level and overfill alarms of every tank to be filled work and were tested within 24 hours; a barge's"
            " overfill link is plugged in and tested."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            number("setting_percent", "Setting, of tank volume", "%", "50", "100", required=True),
            moment("tested_at", "Time of the test", required=True),
        ),
        repeat=Repeat(on="on a change of tank"),
        applies_when=LOADING,
        sources=(
            Source("33 CFR 155.750(e), 154.2150(e)"),
            Source("46 CFR 39.3001(j), 39.2009(a)(2)"),
        ),
        cfr_156_120=("(aa)(6)", "(bb)"),
    ),
    Item(
        key="pumproom.safe",
        phase=_PHASE,
        statement=(
            "The pump-room fan runs, gas and bilge alarms are live, and seals and bearings show no leak or undue heat."
        ),
        answered_by=SHIP,
        severity=Severity.PRACTICE,
        values=(number("gas_percent_lfl", "Gas reading", "% LFL", "0", "100"),),
        repeat=Repeat(every_min=120),
        applies_when=PUMP_ROOM,
        sources=(recalled("SOLAS II-2/4.5.10"),),
        cfr_156_120=("(p)",),
    ),
)

ITEMS = CONNECTIONS + DECK_AND_GEAR
