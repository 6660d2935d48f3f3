"""How a terminal and the parts of a berth's facts stand in forms; the facts themselves say what is allowed."""

from __future__ import annotations

from dataclasses import replace

from crispy_forms.helper import FormHelper
from django import forms

from shared.curve_rows import first_point_that_rises
from shared.document_plan import Plan, plain_keys
from shared.moment_fields import zone_field
from shared.revision_pages import section_of_keys
from shared.surge_facts import BerthSurgeFacts, ReliefFacts, RunWallFacts, ValveFacts
from terminals.berthing_forms import BERTHING
from terminals.facts import (
    ArmFacts,
    BerthFacts,
    BerthSizeFacts,
    BoosterFacts,
    BoosterPoint,
    FoundFacts,
    ObservedFacts,
    ObservedPair,
    ShoreEnd,
    ShoreSegment,
    ShoreTankFacts,
    TankBranch,
)

ABOVE_ZERO = "Above the berth's zero, usually chart datum."


def _missing(label: str) -> dict[str, str]:
    return {"required": f"{label} is missing; state it."}


class TerminalForm(forms.Form):
    """Name, port, address and zone of a terminal."""

    name = forms.CharField(
        label="Name", max_length=120, help_text="As ships and agents know it.", error_messages=_missing("Name")
    )
    port = forms.CharField(label="Port", max_length=120, error_messages=_missing("Port"))
    address = forms.CharField(
        label="Address", max_length=250, help_text="As it stands on the plan.", error_messages=_missing("Address")
    )
    zone = zone_field("Zone of its clocks", "Pages show the terminal's time beside UTC.", none="not known")

    @property
    def helper(self) -> FormHelper:
        """Return the crispy layout inside the page's own form."""
        made = FormHelper()
        made.form_tag = False
        made.disable_csrf = True
        return made


class SharingForm(forms.Form):
    """Whether other organisations see the line data of a berth."""

    shared = forms.TypedChoiceField(
        label="Line data",
        choices=[
            ("no", "Keep them: ship operators see only the answers worked out from them"),
            ("yes", "Share them: every organisation sees arms, shore line and limits"),
        ],
        coerce=lambda value: value is True or value == "yes",
        initial="no",
        widget=forms.RadioSelect,
        help_text="Rate, speeds, gauge readings and the limit that binds are told either way; with the data kept, they"
        " are worked out from the data without showing them. You can change this at any time.",
    )


SIZE = Plan(
    BerthSizeFacts,
    heading="Ships that the berth takes",
    note="Every signed-in organisation sees these. What is not known stays empty.",
    help_texts=dict.fromkeys(
        ("greatest_length_overall_m", "greatest_beam_m", "greatest_draught_m", "greatest_deadweight_t"), ""
    ),
)
ARMS = Plan(
    ArmFacts,
    heading="Arms and hoses",
    note="One row for each kind that is connected side by side, from the ship's flange to its shore end. Length along"
    " the liquid's way; K is the sum of the loss coefficients of swivels, bends and valves, and left empty, it is not"
    " known and answers ask for it.",
    keys=plain_keys(ArmFacts, "name", "kind", "count"),
    labels={"rating_bar_gauge": "Rating, gauge", "loss_coefficient": "K"},
    item="kind of arm or hose",
    spare_rows=1,
)
SHORE_LINE = Plan(
    ShoreSegment,
    heading="Shore line",
    note="From the arms on, one row for each run of one bore, up to the tank. The end elevation counts from the"
    " berth's zero. K is the sum of the loss coefficients of bends, valves, meters, entrance and exit in that run;"
    " left empty, it is not known and answers ask for it.",
    keys=plain_keys(ShoreSegment, "name"),
    labels={"rating_bar_gauge": "Rating, gauge", "loss_coefficient": "K"},
    item="run of pipe",
)
SHORE_TANK = Plan(
    ShoreTankFacts,
    heading="Receiving tank as it stands now",
    optional=True,
    help_texts={
        "surface_elevation_m": ABOVE_ZERO,
        "bottom_elevation_m": ABOVE_ZERO,
        "top_elevation_m": ABOVE_ZERO,
        "gas_pressure_bar_gauge": "Above atmosphere; 0 for an open or floating roof.",
    },
)
SHORE_TANKS = Plan(
    TankBranch,
    heading="Or several tanks that receive at the same time",
    seldom=True,
    note="Two at least, each with the pipe of its own that leads to it from the end of the shore line.",
    keys=plain_keys(TankBranch, "name", "surface_elevation_m", "gas_pressure_bar_gauge"),
    labels={"loss_coefficient": "K", "gas_pressure_bar_gauge": "Gas pressure, gauge"},
    item="tank",
)
PAIRS = Plan(
    ObservedPair,
    heading="Observed pairs",
    note="Rate, and what the ship's manifold gauge showed at it; two at least, in any order.",
    labels={"rate_m3_per_h": "Rate", "manifold_pressure_bar_gauge": "Manifold pressure, gauge"},
    item="pair",
    spare_rows=3,
    in_order_of="rate_m3_per_h",
)
OBSERVED = Plan(
    ObservedFacts,
    heading="Or the whole shore as it was observed",
    seldom=True,
    note="From earlier discharges with the same line-up, where the piping is not known. The pairs then hold arms and"
    " line together, so the shore line above stays empty.",
    optional=True,
    parts={"pairs": PAIRS},
    help_texts={"manifold_elevation_m": f"Of the gauge that was read. {ABOVE_ZERO}"},
)
SHORE_END = Plan(
    ShoreEnd,
    heading="Where the shore line ends",
    note="State one of these: the receiving tank, several tanks, a fixed back-pressure, or observed pairs.",
    keys=("back_pressure_bar_gauge",),
    parts={"tank": SHORE_TANK, "tanks": SHORE_TANKS, "observed": OBSERVED},
    labels={"back_pressure_bar_gauge": "Fixed back-pressure, gauge"},
    help_texts={"back_pressure_bar_gauge": "At the end of the last run; empty where tanks or pairs are stated."},
)
BOOSTER_POINTS = Plan(
    BoosterPoint,
    heading="Points of its curve",
    note="At the speed at which it runs, in any order.",
    item="point",
    spare_rows=3,
    in_order_of="flow_m3_per_h",
    check_rows=first_point_that_rises,
)
BOOSTER = Plan(
    BoosterFacts,
    heading="Booster pump on the shore line",
    seldom=True,
    note="Only if one runs during the transfer; else all of it stays empty.",
    optional=True,
    parts={"points": BOOSTER_POINTS},
    help_texts={"name": "", "feeds_segment": "Name of the run of the shore line that it pumps into."},
)
FOUND = Plan(
    FoundFacts,
    heading="As found in records of transfers",
    note="Empty until records have shown it; it counts on top of the runs and levels above, and they stay as stated.",
    labels={"resistance_percent": "Head lost in arms and line, of the stated", "static_head_m": "Static head added"},
    optional=True,
    seldom=True,
)
WALLS = Plan(
    RunWallFacts,
    heading="Walls of runs, arms and hoses",
    note="One row for each run of the shore line and each kind of arm or hose, by its name above. A stated wave speed"
    " counts before the wall; for a hose it is the usual way.",
    keys=plain_keys(RunWallFacts, "run"),
    labels={"run": "Run, arm or hose", "wave_speed_m_per_s": "Wave speed", "elastic_modulus_mpa": "Young's modulus"},
    item="wall",
)
SURGE = Plan(
    BerthSurgeFacts,
    heading="For pressure surge",
    note="Walls and valves; without them, surge is not decided.",
    parts={
        "walls": WALLS,
        "arm_valve": Plan(ValveFacts, heading="Valve where the arms end ashore", optional=True),
        "shore_valve": Plan(ValveFacts, heading="Valve on the shore line", optional=True),
        "relief_valve": Plan(ReliefFacts, heading="Relief valve on the shore line", optional=True),
    },
    help_texts={"shore_valve_behind": "Name of the run that it stands behind; empty at the end, before the tank."},
    optional=True,
    seldom=True,
)
_HELP = {
    "name": "",
    "source": "Where these data come from: as-built drawings, survey, with date.",
    "manifold_pressure_limit_bar_gauge": "The terminal's own limit at the ship's manifold, above atmosphere.",
    "receiving_rate_m3_per_h": "What the terminal can take: relief, vapour, tank.",
    "arm_shore_end_elevation_m": ABOVE_ZERO,
}
_LABELS = {"manifold_pressure_limit_bar_gauge": "Highest manifold pressure, gauge"}
LIMIT_KEYS = ("manifold_pressure_limit_bar_gauge", "receiving_rate_m3_per_h")
NAME = Plan(BerthFacts, keys=("name", "source"), help_texts=_HELP)
LIMITS = Plan(BerthFacts, keys=LIMIT_KEYS, help_texts=_HELP, labels=_LABELS)
ARM_END = Plan(BerthFacts, keys=("arm_shore_end_elevation_m",), help_texts=_HELP)

NAME_SECTION = section_of_keys(
    "Name, size and limits",
    Plan(BerthFacts, keys=("name", "source", *LIMIT_KEYS), parts={"size": SIZE}, help_texts=_HELP, labels=_LABELS),
)
ARMS_SECTION = section_of_keys(
    "Arms and hoses",
    Plan(BerthFacts, keys=("arm_shore_end_elevation_m",), parts={"arms": ARMS}, help_texts=_HELP),
)
LINE_SECTION = section_of_keys(
    "Shore line and its end",
    Plan(
        BerthFacts,
        keys=(),
        parts={"shore_line": SHORE_LINE, "shore_end": SHORE_END, "booster": BOOSTER, "found": FOUND, "surge": SURGE},
    ),
)
BERTHING_SECTION = section_of_keys(
    "Ships at this berth",
    Plan(BerthFacts, keys=(), parts={"berthing": replace(BERTHING, seldom=False)}, help_texts=_HELP),
)
WHOLE_BERTH = Plan(
    BerthFacts,
    keys=("name", "source", *LIMIT_KEYS, "arm_shore_end_elevation_m"),
    parts={
        "size": SIZE,
        "arms": ARMS,
        "shore_line": SHORE_LINE,
        "shore_end": SHORE_END,
        "booster": BOOSTER,
        "found": FOUND,
        "surge": SURGE,
        "berthing": BERTHING,
    },
    help_texts=_HELP,
    labels=_LABELS,
)
