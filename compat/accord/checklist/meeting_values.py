"""What is agreed at the pre-transfer meeting about product, sequence, rates and pressures (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import (
    CRUDE_OIL_WASHING,
    DISCHARGING,
    INERTED,
    LOADING,
    STATIC,
    VAPOUR_RETURN,
)
from compat.accord.checklist.item import (
    BOTH,
    HOURLY,
    PLAN_NEED,
    Item,
    Phase,
    Repeat,
    Severity,
    Source,
    agreed,
    number,
    recalled,
    text,
)

_PHASE = Phase.MEETING

ITEMS = (
    Item(
        key="agree.product",
        phase=_PHASE,
        statement=(
            "Both sides call the same product by the same name, hold its safety data sheet, and agree quantity,"
            " density, viscosity, vapour pressure and the window of temperature, freezing or pour point included."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("product", "Product", required=True),
            number("quantity_m3", "Quantity", "m³", "1", "600000"),
            number("quantity_t", "Quantity", "t", "1", "600000"),
            number("density_15_c_kg_per_m3", "Density at 15 °C", "kg/m³", "500", "1200"),
            number("lowest_temperature_c", "Lowest temperature", "°C", "-50", "150"),
            number("highest_temperature_c", "Highest temperature", "°C", "-50", "150"),
            number("viscosity_mm2_per_s", "Viscosity at the pumping temperature", "mm²/s", "0.1", "5000"),
            number("vapour_pressure_kpa_abs", "Vapour pressure (absolute)", "kPa", "0", "500"),
            agreed("unit_of_quantity", "Quantity in", ""),
            agreed("unit_of_temperature", "Temperature in", ""),
        ),
        repeat=Repeat(on="when a sample or the temperature departs from the plan"),
        sources=(Source("33 CFR 154.310(a)(5), 155.750(a)(1)"), recalled("SOLAS VI/5-1")),
        cfr_156_120=("(w)(1)", "(aa)(10)"),
    ),
    Item(
        key="agree.sequence",
        phase=_PHASE,
        statement=(
            "The order of parcels, tanks, line changes, ballast and tank washing is written down, with the level to be"
            " reached in each tank."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("sequence", "Sequence, or where it is written", required=True),
            number("finishing_ullage_m", "Finishing ullage", "m", "0", "40"),
            number("finishing_fill_percent", "Finishing fill", "%", "0", "98.5"),
        ),
        repeat=Repeat(on="on a change of sequence"),
        sources=(Source("WAC 173-180-230(1)-(4)"),),
        cfr_156_120=("(w)(2)",),
    ),
    Item(
        key="agree.rate-at-start",
        phase=_PHASE,
        statement="The starting rate is agreed, and so is what must be seen before it is raised.",
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("start_rate_m3_per_h", "Start rate", "m³/h"),
            text("to_be_seen", "What must be seen before it is raised", required=True),
        ),
        sources=(Source("33 CFR 154.2150(g)"), Source("46 CFR 35.35-35(b), 39.3001(g)")),
        cfr_156_120=("(w)(3)", "(aa)(4)"),
    ),
    Item(
        key="agree.rate-highest",
        phase=_PHASE,
        statement=(
            "The highest rate is agreed, together with what sets it: pumps, pipe velocity, venting, inert gas, vapour"
            " plant, static charge or the receiver."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("highest_rate_m3_per_h", "Highest rate", "m³/h"),
            agreed("bulk_rate_m3_per_h", "Bulk rate", "m³/h"),
            agreed("unit_of_rate", "Rate in", ""),
            text("set_by", "What sets it"),
        ),
        repeat=HOURLY,
        sources=(
            Source("33 CFR 154.2150(h)"),
            Source("46 CFR 39.3001(d)"),
            Source("SOLAS II-2/11.6.1"),
        ),
        cfr_156_120=("(w)(3)", "(aa)(4)"),
    ),
    Item(
        key="agree.rate-slow-steps",
        phase=_PHASE,
        statement="Rates and warning times for topping off, changing tanks, stripping and washing are agreed.",
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("stripping_rate_m3_per_h", "Stripping rate", "m³/h"),
            agreed("topping_rate_m3_per_h", "Topping-off rate", "m³/h"),
            agreed("slow_step_warning_min", "Warning before a slow step", "min"),
        ),
        sources=(Source("33 CFR 155.750(a)(7), 156.160(a)"),),
        cfr_156_120=("(w)(6)",),
    ),
    Item(
        key="agree.pressure-highest",
        phase=_PHASE,
        statement=(
            "The highest pressure at a named measuring point is agreed. It lies below the lowest allowed working"
            " pressure of the whole path, and the relief or trip setting is stated."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("manifold_pressure_bar_gauge", "Highest manifold pressure", "bar"),
            number("relief_bar", "Relief or trip setting", "bar", "0.1", "400"),
            text("measured_at", "Measuring point", required=True),
            number("lowest_rating_bar", "Lowest working pressure in the path", "bar", "0.1", "400"),
        ),
        repeat=HOURLY,
        sources=(Source("33 CFR 154.500(b), 154.310(a)(16)"),),
        cfr_156_120=("(w)(5)",),
    ),
    Item(
        key="agree.pump-speeds",
        phase=_PHASE,
        statement=(
            "The pumps to run at each stage, the highest speed at each stage and, where shore boosters need it, the"
            " least pressure to hold are agreed."
        ),
        answered_by=BOTH,
        severity=Severity.PLAN,
        values=(
            agreed("pumps_in_bulk", "Pumps in bulk", "count"),
            agreed("pumps_at_start", "Pumps at the start", "count"),
            agreed("highest_speed_rpm", "Highest pump speed", "rpm"),
            agreed("pumps_by_stage", "Pumps by stage", ""),
            agreed("least_pressure_bar_gauge", "Least manifold pressure", "bar"),
        ),
        repeat=HOURLY,
        applies_when=DISCHARGING,
        sources=(PLAN_NEED,),
        cfr_156_120=("(w)(5)", "(w)(6)"),
    ),
    Item(
        key="agree.valve-closing",
        phase=_PHASE,
        statement=(
            "The closing time of each quick valve on both sides is agreed, the order too (pump first, then valve), and"
            " so is the peak of pressure that they imply."
        ),
        answered_by=BOTH,
        severity=Severity.PLAN,
        values=(
            number("closing_ship_s", "Closing time, ship", "s", "1", "600"),
            number("closing_shore_s", "Closing time, shore", "s", "1", "600"),
            agreed("closing_time_s", "Closing time of valves", "s"),
            number("peak_pressure_bar", "Peak pressure", "bar", "0", "400"),
        ),
        repeat=Repeat(on="when the rate is raised above the plan"),
        sources=(
            Source("33 CFR 154.550(b),(c), 155.780(b)"),
            Source("49 CFR 195.406(b) (surge limit of pipelines)"),
            recalled("Joukowsky relation, Wylie & Streeter"),
        ),
    ),
    Item(
        key="agree.tank-pressure-window",
        phase=_PHASE,
        statement=(
            "How tanks will breathe and the window of pressure to keep are agreed; a loading rate fits the relief"
            " capacity with the vapour factor of 1.25."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("pressure_relief_mbar", "Pressure relief setting", "mbar", "1", "1000"),
            number("vacuum_relief_mbar", "Vacuum relief setting", "mbar", "-500", "0"),
            number("lowest_mbar", "Lowest pressure to keep", "mbar", "-500", "1000"),
            number("highest_mbar", "Highest pressure to keep", "mbar", "-500", "1000"),
            number("vent_capacity_m3_per_h", "Vent capacity", "m³/h", "1", "100000"),
        ),
        repeat=HOURLY,
        applies_when=LOADING | INERTED,
        sources=(
            Source("SOLAS II-2/11.6.1, 11.6.3"),
            Source("MSC/Circ.585 §2.6.1"),
            Source("46 CFR 39.2011(a), 39.3001(d)(1),(2)"),
        ),
    ),
    Item(
        key="agree.vapour-line-pressures",
        phase=_PHASE,
        statement=(
            "The highest and lowest pressure at the shore vapour connection, the alarm and trip settings and the limit"
            " of oxygen in the vapour are agreed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("highest_mbar", "Highest pressure", "mbar", "-500", "1000", required=True),
            number("lowest_mbar", "Lowest pressure", "mbar", "-500", "1000", required=True),
            number("alarm_mbar", "Alarm", "mbar", "-500", "1000"),
            number("trip_mbar", "Trip", "mbar", "-500", "1000"),
            number("oxygen_limit_percent", "Oxygen limit", "% vol", "0", "21"),
        ),
        repeat=HOURLY,
        applies_when=VAPOUR_RETURN,
        sources=(Source("33 CFR 154.2103(b)-(g)"), Source("46 CFR 39.3001(c),(h)")),
        cfr_156_120=("(aa)(4)", "(aa)(5)", "(aa)(9)"),
        guidance=(
            "33 CFR 154.2103(b),(f), 156.120(aa)(9); 46 CFR 39.2013(b): keep tanks between 80 % of the vacuum setting"
            " (or 14 mbar if inerted) and 80 % of the relief setting; trip ashore at or below 90 % of the lowest"
            " relief setting; oxygen at or below 8 % for crude oil, gasoline blends and benzene."
        ),
    ),
    Item(
        key="agree.static-limits",
        phase=_PHASE,
        statement=(
            "For a liquid that holds charge going into a tank that is not inert: 1 m/s in each tank branch until the"
            " inlet is covered and quiet, then no more than the agreed bulk velocity; the product's conductivity or"
            " treatment is known."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            number("narrowest_branch_mm", "Narrowest branch bore", "mm", "10", "3000"),
            number("start_rate_per_tank_m3_per_h", "Start rate for each tank", "m³/h", "1", "100000", required=True),
            number("bulk_velocity_m_per_s", "Bulk velocity", "m/s", "0.1", "12", required=True),
            number("conductivity_ps_per_m", "Conductivity", "pS/m", "0", "100000"),
        ),
        applies_when=LOADING & STATIC & ~INERTED,
        sources=(
            Source("46 CFR 39.3001(g)"),
            Source("International Safety Guide for Oil Tankers and Terminals, 5th ed., §11.1.7.1-11.1.7.3, fig. 11.2"),
            recalled("API RP 2003; IEC TS 60079-32-1"),
        ),
    ),
    Item(
        key="agree.cow-plan",
        phase=_PHASE,
        statement=(
            "The tanks to wash, the pressure at the machines, the time it adds, what it takes from the discharge rate"
            " and who runs it are agreed, and the washing manual is on board."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("tanks", "Tanks to wash", required=True),
            number("machine_pressure_bar", "Pressure at the machines", "bar", "0.1", "50"),
            number("extra_time_h", "Time added", "h", "0", "240"),
        ),
        repeat=Repeat(on="on a change of the washing plan"),
        applies_when=CRUDE_OIL_WASHING,
        sources=(
            Source("MARPOL Annex I reg. 35(1)-(3)"),
            Source("33 CFR 157.155(a)"),
            Source("2 CCR 2330(a)(1)(C)"),
            Source("res. MEPC.3(XII)"),
        ),
    ),
)
