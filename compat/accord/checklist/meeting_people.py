"""What is agreed at the pre-transfer meeting about stopping, people, weather and emergencies (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import BENZENE, HYDROGEN_SULPHIDE, STATIC, VAPOUR_RETURN
from compat.accord.checklist.item import (
    BOTH,
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
        key="agree.normal-stop",
        phase=_PHASE,
        statement=(
            "How a normal stop is called, how long it takes and how much still flows after the call are agreed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("notice_before_change_min", "Notice before a change", "min"),
            agreed("normal_stop_means", "How it is called and done", ""),
            agreed("normal_stop_min", "Time until nothing flows", "min"),
            agreed("volume_after_call_m3", "Volume after the call", "m³"),
            agreed("planned_stops", "Planned stops", ""),
            agreed("while_stopped", "How the line stands while stopped", ""),
            agreed("stop_before_checks_min", "Stop after which both say ready again", "min"),
        ),
        sources=(Source("UK fuel-storage standards, final report (PSLG) ¶199"),),
        cfr_156_120=("(w)(12)",),
    ),
    Item(
        key="agree.emergency-stop",
        phase=_PHASE,
        statement=(
            "Who may call an emergency stop, by what means, what each side then does, and the longest time until"
            " nothing flows are agreed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("emergency_stop_s", "Time until nothing flows", "s"),
            agreed("emergency_stop_means", "Signal and means", ""),
        ),
        sources=(Source("33 CFR 154.550(a),(c), 155.780"),),
        cfr_156_120=("(r)", "(w)(8)", "(w)(12)"),
        guidance=(
            "33 CFR 154.550(c): flow stopped within 60 s at a facility first used for oil on or before 1 November"
            " 1980, within 30 s at a later one."
        ),
    ),
    Item(
        key="agree.communication",
        phase=_PHASE,
        statement=(
            "Main and reserve channels, call names, language, how often they are tested and what to do when contact is"
            " lost are agreed, and someone on site speaks the languages of both persons in charge."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("main_channel", "Main channel", ""),
            agreed("reserve_channel", "Reserve channel", ""),
            agreed("language", "Language", ""),
            agreed("contact_test_min", "Test of contact, every", "min"),
            agreed("contact_lost", "When contact is lost", ""),
        ),
        sources=(Source("33 CFR 154.560, 155.785"),),
        cfr_156_120=("(q)", "(v)", "(w)(13)"),
    ),
    Item(
        key="agree.people-and-watches",
        phase=_PHASE,
        statement=(
            "A person in charge is named on each side; the name or title and the post of everyone who takes part, and"
            " the times at which watches change, are agreed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("person_in_charge", "Person in charge of this side", required=True),
            text("posts", "Names or titles, and posts"),
            agreed("watch_on_board", "Watch on board", ""),
            agreed("watch_ashore", "Watch ashore", ""),
            agreed("watch_changes", "Watch changes", ""),
            agreed("handover", "Handover", ""),
        ),
        repeat=Repeat(on="at each change of watch"),
        sources=(Source("33 CFR 154.310(a)(6), 155.750(a)(3),(4)"),),
        cfr_156_120=("(s)", "(u)", "(w)(4)", "(w)(11)"),
    ),
    Item(
        key="agree.weather-limits",
        phase=_PHASE,
        statement=(
            "Limits of wind, wave, current and distance of thunderstorms are agreed: when to stop, when to drain, when"
            " to disconnect."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("wind_stop_m_per_s", "Wind: stop pumping", "m/s"),
            agreed("wind_drain_m_per_s", "Wind: drain arms or hoses", "m/s"),
            agreed("wind_disconnect_m_per_s", "Wind: disconnect", "m/s"),
            agreed("wave_m", "Wave height", "m"),
            agreed("wave_action", "Wave height: what is done", ""),
            agreed("current_m_per_s", "Current", "m/s"),
            agreed("current_action", "Current: what is done", ""),
            agreed("lightning_km", "Thunderstorm: distance", "km"),
            agreed("lightning_action", "Thunderstorm: what is done", ""),
        ),
        repeat=Repeat(every_min=60),
        sources=(Source("WAC 173-180-235(2)(f)"),),
        cfr_156_120=("(a)",),
    ),
    Item(
        key="agree.rules",
        phase=_PHASE,
        statement=(
            "Both sides have named the national, state and local rules and the terminal procedures that apply, and"
            " which is stricter where they differ."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(text("rules", "Rules that apply", required=True),),
        sources=(Source("33 CFR 154.310(a)(19)"),),
        cfr_156_120=("(w)(7)",),
    ),
    Item(
        key="agree.emergencies",
        phase=_PHASE,
        statement=(
            "Alarm signals, and what each side does on fire, breakaway, gas release, injury and loss of power, are"
            " agreed."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(text("signals", "Signals"), text("muster_points", "Muster points")),
        sources=(Source("33 CFR 154.310(a)(17)(iv)"),),
        cfr_156_120=("(w)(8)",),
    ),
    Item(
        key="agree.spill-response",
        phase=_PHASE,
        statement="How a spill is contained, who reports it, to whom and how soon are agreed.",
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            text("telephone", "Telephone numbers", required=True),
            number("boom_min", "Time to deploy the boom", "min", "0", "600"),
        ),
        sources=(Source("33 CFR 154.310(a)(18), 155.750(a)(9), 156.125"),),
        cfr_156_120=("(w)(9)", "(w)(10)"),
    ),
    Item(
        key="agree.gauging-and-sampling",
        phase=_PHASE,
        statement=(
            "How cargo is gauged and sampled (closed, restricted or open) is agreed. Conductive gear is bonded, and"
            " nothing is lowered into a tank that is not inert and holds such liquid until 30 minutes after flow"
            " stops."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(
            agreed("gauging_method", "Gauging", ""),
            agreed("sampling", "Sampling", ""),
            agreed("gauging_wait_min", "Wait before anything is lowered into a tank", "min"),
        ),
        applies_when=STATIC | VAPOUR_RETURN | HYDROGEN_SULPHIDE | BENZENE,
        sources=(
            Source("46 CFR 39.3001(f)(1)-(4), 35.35-20(l)"),
            Source("MSC/Circ.353 (30 min, then 5 h, after loss of inert gas)"),
        ),
        guidance="46 CFR 39.3001(f)(4): 30 minutes for cargo that holds charge, where the tank is not inert.",
    ),
    Item(
        key="agree.toxic-controls",
        phase=_PHASE,
        statement=(
            "The content of hydrogen sulphide or benzene is stated, with the limits of exposure, alarm settings,"
            " protective gear, and who measures where."
        ),
        answered_by=BOTH,
        severity=Severity.PRACTICE,
        values=(
            number("liquid_ppm", "Content in the liquid", "ppm", "0", "1000000"),
            number("vapour_ppm", "Content in the vapour", "ppm", "0", "1000000"),
            number("alarm_ppm", "Alarm setting", "ppm", "0", "1000", required=True),
        ),
        applies_when=HYDROGEN_SULPHIDE | BENZENE,
        sources=(
            Source("46 CFR 197.515"),
            Source("33 CFR 154.310(a)(5)(ii)"),
            recalled("29 CFR 1910.1000 table Z-2; 46 CFR 197 subpart C, figures"),
        ),
        guidance=(
            "Figures to be checked against the rule in force, all recalled: benzene 1 ppm over 8 h and 5 ppm over 15"
            " min; hydrogen sulphide 20 ppm ceiling; many operators set alarms at 5 to 10 ppm."
        ),
    ),
    Item(
        key="agree.line-clearing",
        phase=_PHASE,
        statement=(
            "How lines, arms and hoses will be cleared, with what, at what pressure and into which space are agreed."
            " Air is not used to clear cargo lines into a ship on vapour return."
        ),
        answered_by=BOTH,
        severity=Severity.ADVICE,
        values=(
            text("medium", "Medium"),
            number("pressure_bar", "Pressure", "bar", "0", "50"),
            number("line_volume_m3", "Line volume", "m³", "0", "100000"),
            number("room_left_m3", "Room left for it", "m³", "0", "100000"),
        ),
        sources=(Source("33 CFR 154.2150 (air, gas and pigging)"), Source("MSC.1/Circ.1216 §9.4.1.1.10")),
    ),
)
