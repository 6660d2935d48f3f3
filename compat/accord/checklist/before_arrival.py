"""What each side tells the other, and makes sure of, before the ship arrives (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import DISCHARGING, HOSES, INERTED, NOTICE_REQUIRED, VAPOUR_RETURN
from compat.accord.checklist.item import (
    BOTH,
    PLAN_NEED,
    SHIP,
    TERMINAL,
    Item,
    Phase,
    Repeat,
    Severity,
    Source,
    date,
    moment,
    number,
    recalled,
    text,
)

_PHASE = Phase.BEFORE_ARRIVAL

BY_THE_SHIP = (
    Item(
        key="ship.particulars-sent",
        phase=_PHASE,
        statement=(
            "The ship has told the terminal her IMO number, her draught and trim on arrival, the deepest draught and"
            " largest trim she expects while alongside, her manifold layout, and any slops or ballast she wants to"
            " land."
        ),
        answered_by=SHIP,
        severity=Severity.PLAN,
        values=(
            number("arrival_draught_m", "Draught on arrival", "m", "1", "30"),
            number("deepest_draught_m", "Deepest draught alongside", "m", "1", "30"),
            number("largest_trim_m", "Largest trim", "m", "0", "15"),
            number("manifold_bore_mm", "Manifold bore", "mm", "50", "1000"),
            text("manifold_flange", "Manifold flange class"),
            number("manifold_height_m", "Manifold height above keel", "m", "1", "60"),
            number("slops_m3", "Slops to land", "m³", "0", "50000"),
        ),
        sources=(Source("2 CCR 2330(a)(1)(A),(B),(E),(F)"),),
        cfr_156_150=("(c)(1)",),
    ),
    Item(
        key="ship.faults-declared",
        phase=_PHASE,
        statement=(
            "Known faults in hull, machinery, pumps, valves, gauging or inert gas plant, and any repair under way near"
            " cargo spaces, have been declared together with what they mean for rate and safety."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(text("faults", "Faults, or “none”", required=True), text("derating", "Limit lowered because of them")),
        repeat=Repeat(on="on any new fault"),
        sources=(Source("2 CCR 2330(a)(1)(D),(G)"), Source("46 CFR 35.35-20(b)")),
    ),
    Item(
        key="ship.procedures-on-board",
        phase=_PHASE,
        statement=(
            "The ship's written transfer procedures, with line diagram, topping-off method, mooring duties and"
            " emergency stop, are up to date, in a language the crew uses, and in the hands of her person in charge,"
            " who works to them."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(date("revised_on", "Revision date"),),
        sources=(Source("33 CFR 155.750(a)(2)-(10), 155.740"),),
        cfr_156_120=("(t)(2)", "(t)(3)"),
    ),
    Item(
        key="ship.tests-in-date",
        phase=_PHASE,
        statement=(
            "The ship's cargo piping, relief valves, gauges, remote valves, level alarms and emergency stop passed"
            " their last periodic test, and that test is still in date."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            date("tested_on", "Date of last test"),
            number("test_pressure_bar", "Test pressure", "bar", "0.1", "400"),
        ),
        sources=(Source("33 CFR 156.170(c)(2)-(5),(f)(3)"),),
        guidance="33 CFR 156.170: test at no less than 1.5 times the allowed working pressure; gauges within 10 %.",
    ),
    Item(
        key="ship.pumps-available",
        phase=_PHASE,
        statement=(
            "The number of cargo pumps fit for use, their highest allowed speed and the curves on which this plan"
            " rests are confirmed."
        ),
        answered_by=SHIP,
        severity=Severity.PLAN,
        values=(
            number("pumps", "Pumps fit for use", "count", "1", "12", required=True),
            number("speed_ceiling_rpm", "Highest speed", "rpm", "1", "20000"),
            number("relief_bar", "Relief or trip setting", "bar", "0.1", "400"),
        ),
        repeat=Repeat(on="when a pump is lost"),
        applies_when=DISCHARGING,
        sources=(Source("33 CFR 155.750(a)(2)(i)"), PLAN_NEED),
    ),
    Item(
        key="ship.strength-stability-checked",
        phase=_PHASE,
        statement=(
            "Every stage of the cargo and ballast sequence has been worked through and stays inside the ship's limits"
            " of strength, stability, trim and freeboard."
        ),
        answered_by=SHIP,
        severity=Severity.PRACTICE,
        values=(text("worst_stage", "Worst stage"), number("margin_percent", "Margin at that stage", "%", "0", "100")),
        repeat=Repeat(on="on a change of sequence"),
        sources=(recalled("MARPOL Annex I reg. 27-28; 46 CFR part 35"),),
    ),
    Item(
        key="ship.inert-gas-capacity",
        phase=_PHASE,
        statement=(
            "The inert gas plant can deliver at least 1.25 times the highest planned discharge rate, with no more than"
            " 5 % oxygen in the main."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            number("delivery_m3_per_h", "Delivery", "m³/h", "1", "100000", required=True),
            number("oxygen_percent", "Oxygen in the main", "% vol", "0", "21", required=True),
        ),
        repeat=Repeat(on="on a change of rate"),
        applies_when=DISCHARGING & INERTED,
        sources=(
            Source("national rule applying SOLAS II-2/62 (125 %, 5 %)"),
            Source("SOLAS II-2/4.5.5.1 as amended by MSC.365(93)"),
            recalled("FSS Code ch. 15 §2.2.1"),
        ),
    ),
    Item(
        key="ship.tanks-inert-on-arrival",
        phase=_PHASE,
        statement=(
            "Each cargo and slop tank was measured before berthing and holds no more than 8 % oxygen, at positive"
            " pressure."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(
            number("highest_oxygen_percent", "Highest oxygen", "% vol", "0", "21", required=True),
            number("lowest_pressure_mbar", "Lowest tank pressure", "mbar", "-100", "500", required=True),
        ),
        applies_when=INERTED,
        sources=(Source("MSC/Circ.353 §2.7.1.1 (Guidelines for Inert Gas Systems)"), Source("46 CFR 32.53-5")),
        cfr_156_120=("(aa)(9)",),
    ),
    Item(
        key="ship.response-plan-reviewed",
        phase=_PHASE,
        statement=(
            "The parts of the ship's spill response plan that fit this berth were read, and the response contact named"
            " in it can be reached."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(text("contact", "Contact"), text("telephone", "Telephone")),
        sources=(Source("46 CFR 35.35-30(b)(13)"), recalled("MARPOL Annex I reg. 37")),
    ),
)

BY_THE_TERMINAL = (
    Item(
        key="term.berth-data-sent",
        phase=_PHASE,
        statement=(
            "The terminal has told the ship the least depth expected at the berth during the stay, the tide and water"
            " density, its limits of size, and the mooring lines it wants."
        ),
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(
            number("least_depth_m", "Least depth", "m", "1", "60"),
            number("water_density_kg_per_m3", "Water density", "kg/m³", "990", "1040"),
            number("largest_draught_m", "Largest draught", "m", "1", "30"),
            number("mooring_lines", "Mooring lines", "count", "1", "40"),
            number("line_strength_kn", "Strength of each line", "kN", "10", "5000"),
        ),
        sources=(Source("2 CCR 2330(a)(2)(A),(B)"),),
    ),
    Item(
        key="term.connection-data-sent",
        phase=_PHASE,
        statement=(
            "The terminal has told the ship the number, bore and kind of its arms or hoses, their allowed working"
            " pressure and velocity, and how far each arm reaches."
        ),
        answered_by=TERMINAL,
        severity=Severity.PLAN,
        values=(
            number("bore_mm", "Bore", "mm", "10", "3000"),
            number("working_pressure_bar", "Allowed working pressure", "bar", "0.1", "400"),
            number("velocity_limit_m_per_s", "Velocity limit", "m/s", "0.01", "30"),
            number("lowest_flange_m", "Lowest flange above water", "m", "0", "60"),
            number("highest_flange_m", "Highest flange above water", "m", "0", "60"),
        ),
        sources=(Source("2 CCR 2330(a)(2)(C)"), Source("33 CFR 154.310(a)(16),(17)(i)")),
    ),
    Item(
        key="term.line-data-sent",
        phase=_PHASE,
        statement=(
            "The shore side on which this plan's figures rest is confirmed: line lengths, bores and elevations, tank"
            " levels or back-pressure, what any booster pump needs, and the lowest rated part of the path."
        ),
        answered_by=TERMINAL,
        severity=Severity.PLAN,
        values=(
            number("lowest_rating_bar", "Lowest working pressure in the path", "bar", "0.1", "400", required=True),
            number("surge_allowance_bar", "Surge allowance", "bar", "0", "400"),
        ),
        repeat=Repeat(on="on any change of shore line or tank"),
        sources=(Source("UK fuel-storage standards, final report (PSLG) ¶197-199"),),
        cfr_156_120=("(w)(5)",),
    ),
    Item(
        key="term.receiver-has-room",
        phase=_PHASE,
        statement=(
            "The tanks that will receive the cargo have room for the whole parcel, for what stands in the lines, and"
            " for a margin. The receiving side measures; the other side has seen the figures."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("free_volume_m3", "Free volume", "m³", "1", "1000000", required=True),
            number("parcel_m3", "Parcel", "m³", "1", "600000", required=True),
            number("margin_m3", "Margin kept", "m³", "0", "100000"),
        ),
        repeat=Repeat(every_min=60, on="at the start"),
        sources=(Source("WAC 173-180-245(6)"), Source("WAC 173-180-230(1)-(3)")),
    ),
    Item(
        key="term.manual-current",
        phase=_PHASE,
        statement=(
            "The terminal's operations manual covers this product, this size of ship and this berth; the shore person"
            " in charge has a copy to hand and works to it."
        ),
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(date("revised_on", "Revision date"),),
        sources=(Source("33 CFR 154.310(a)(4),(5)"),),
        cfr_156_120=("(t)(2)", "(t)(3)"),
    ),
    Item(
        key="term.tests-in-date",
        phase=_PHASE,
        statement=(
            "Shore hoses, arms, piping, relief valves, gauges and remote stops passed their yearly test: hoses and"
            " arms at no less than 1.5 times their allowed working pressure."
        ),
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(
            date("tested_on", "Date of last test"),
            number("test_pressure_bar", "Test pressure", "bar", "0.1", "400"),
        ),
        sources=(Source("33 CFR 156.170(c)(1)-(5),(f)(1)"),),
    ),
    Item(
        key="term.pressure-rating-covers-worst-case",
        phase=_PHASE,
        statement=(
            "Where each hose is fitted, its allowed working pressure is above the relief setting (or the highest pump"
            " pressure) plus static head, and its burst pressure is at least four times that sum. The owner of a hose"
            " states its figures; the other side has seen them."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("relief_bar", "Relief or shut-off pressure", "bar", "0.1", "400"),
            number("static_head_bar", "Static head", "bar", "0", "100"),
            number("hose_working_pressure_bar", "Hose working pressure", "bar", "0.1", "400"),
            number("hose_burst_bar", "Hose burst pressure", "bar", "0.1", "1600"),
        ),
        applies_when=HOSES,
        sources=(Source("33 CFR 154.500(a),(b)"), Source("46 CFR 32.50-30 (not below 150 psi)")),
        cfr_156_120=("(j)",),
        guidance="A hose carried by a tank vessel is never rated below 150 psi (10.3 bar): 46 CFR 32.50-30.",
    ),
    Item(
        key="term.authority-notified",
        phase=_PHASE,
        statement="The authority was told of the transfer within the time that its rules ask for.",
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(
            moment("notified_at", "Notice given", required=True),
            number("notice_h", "Notice period", "h", "0", "240"),
        ),
        applies_when=NOTICE_REQUIRED,
        sources=(
            Source("33 CFR 156.118(a),(c) (4 h where asked)"),
            Source("2 CCR 2325(a) (4 to 24 h)"),
            Source("WAC 173-180-215 (24 h)"),
        ),
    ),
    Item(
        key="term.vapour-system-approved",
        phase=_PHASE,
        statement=(
            "The shore vapour system is certified for this cargo and for any vapour left from earlier ones, and the"
            " ship holds the endorsement that matches."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(date("certified_on", "Certificate date"),),
        applies_when=VAPOUR_RETURN,
        sources=(Source("46 CFR 39.3001(a),(b)"), Source("33 CFR 154.2150(a),(b)")),
    ),
)

ITEMS = BY_THE_SHIP + BY_THE_TERMINAL
