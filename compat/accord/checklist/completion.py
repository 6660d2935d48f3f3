"""What is done and written down when the transfer is over (pure data)."""

from __future__ import annotations

from compat.accord.checklist.conditions import VAPOUR_RETURN
from compat.accord.checklist.item import (
    BOTH,
    SHIP,
    TERMINAL,
    Item,
    Phase,
    Severity,
    Source,
    date,
    moment,
    number,
    recalled,
)

_PHASE = Phase.COMPLETION

ITEMS = (
    Item(
        key="end.time-recorded",
        phase=_PHASE,
        statement="The date and time at which the transfer ended are entered in the plan.",
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(moment("ended_at", "End", required=True),),
        cfr_156_150=("(c)(6)",),
    ),
    Item(
        key="end.valves-shut",
        phase=_PHASE,
        statement="All valves used were shut on both sides before any joint was loosened.",
        answered_by=BOTH,
        severity=Severity.LAW,
        sources=(Source("46 CFR 35.35-50(a)"), Source("33 CFR 155.750(a)(8), 154.310(a)(17)(iii)")),
    ),
    Item(
        key="end.drained-then-blanked",
        phase=_PHASE,
        statement=(
            "Arms and hoses were relieved of pressure, drained and parted under the eyes of the person in charge, and"
            " every end was blanked before it was moved."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(number("residual_bar", "Pressure left", "bar", "-1", "400"),),
        sources=(
            Source("33 CFR 156.160(a)"),
            Source("46 CFR 35.35-50(a)"),
            Source("WAC 173-180-205(1)(e)"),
            Source("MSC.1/Circ.1216 §9.4.1.1.9, .10"),
        ),
        cfr_156_120=("(f)",),
    ),
    Item(
        key="end.vapour-line-purged",
        phase=_PHASE,
        statement="The shore vapour system was purged with at least two volumes of safe gas and left isolated.",
        answered_by=TERMINAL,
        severity=Severity.LAW,
        values=(number("volumes", "Volumes purged", "count", "0", "100"),),
        applies_when=VAPOUR_RETURN,
        sources=(Source("33 CFR 154.2150(q)"),),
    ),
    Item(
        key="end.tanks-secured",
        phase=_PHASE,
        statement=(
            "Tank openings are shut, relief valves are set for the passage, and inert tanks hold positive pressure."
        ),
        answered_by=SHIP,
        severity=Severity.LAW,
        values=(number("pressure_mbar", "Tank pressure", "mbar", "-100", "500"),),
        sources=(Source("33 CFR 155.815(a)"), Source("46 CFR 32.53-5"), Source("SOLAS II-2/16.3.3")),
    ),
    Item(
        key="end.quantities-compared",
        phase=_PHASE,
        statement="Ship and shore quantities were compared, and the difference and its likely cause written down.",
        answered_by=BOTH,
        severity=Severity.ADVICE,
        values=(
            number("difference_m3", "Difference", "m³", "-100000", "100000"),
            number("difference_percent", "Difference", "%", "-100", "100"),
        ),
        sources=(
            Source("UK fuel-storage standards, final report (PSLG) ¶197-199"),
            Source("comparison with the prediction", "our own"),
        ),
    ),
    Item(
        key="end.oil-record-book",
        phase=_PHASE,
        statement="The loading or discharge, and any tank washing, was entered in the oil record book and signed.",
        answered_by=SHIP,
        severity=Severity.LAW,
        sources=(Source("33 CFR 151.25(e)(1),(3),(5),(h)"), recalled("MARPOL Annex I reg. 36")),
    ),
    Item(
        key="end.records-kept",
        phase=_PHASE,
        statement=(
            "Each side holds a signed copy and will keep it for at least one month, or longer if its own rules say so."
        ),
        answered_by=BOTH,
        severity=Severity.LAW,
        values=(date("keep_until", "Keep until"),),
        sources=(Source("33 CFR 155.820(d)"),),
        cfr_156_150=("(e)", "(f)"),
    ),
)
