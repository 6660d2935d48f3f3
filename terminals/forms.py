"""How a terminal and the parts of a berth's facts stand in forms; the facts themselves say what is allowed."""

from __future__ import annotations

from crispy_forms.helper import FormHelper
from django import forms

from shared.document_plan import Plan
from shared.revision_pages import section_of_keys
from terminals.facts import ArmFacts, BerthFacts, BerthSizeFacts, ShoreEnd, ShoreSegment, ShoreTankFacts

ABOVE_ZERO = "Above the berth's zero, usually chart datum."


def _missing(label: str) -> dict[str, str]:
    return {"required": f"{label} is missing; state it."}


class TerminalForm(forms.Form):
    """Name, port and address of a terminal."""

    name = forms.CharField(
        label="Name", max_length=120, help_text="As ships and agents know it.", error_messages=_missing("Name")
    )
    port = forms.CharField(label="Port", max_length=120, error_messages=_missing("Port"))
    address = forms.CharField(
        label="Address", max_length=250, help_text="As it stands on the plan.", error_messages=_missing("Address")
    )

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
    keys=(
        "name",
        "kind",
        "count",
        "length_m",
        "bore_mm",
        "roughness_mm",
        "loss_coefficient",
        "rating_bar_gauge",
        "velocity_limit_m_per_s",
    ),
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
    keys=(
        "name",
        "length_m",
        "bore_mm",
        "roughness_mm",
        "loss_coefficient",
        "end_elevation_m",
        "rating_bar_gauge",
        "velocity_limit_m_per_s",
    ),
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
SHORE_END = Plan(
    ShoreEnd,
    heading="Where the shore line ends",
    note="State the receiving tank, or instead a fixed back-pressure at the end of the last run.",
    keys=("back_pressure_bar_gauge",),
    parts={"tank": SHORE_TANK},
    labels={"back_pressure_bar_gauge": "Fixed back-pressure, gauge"},
    help_texts={"back_pressure_bar_gauge": "Empty where a tank is stated."},
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
    Plan(BerthFacts, keys=(), parts={"shore_line": SHORE_LINE, "shore_end": SHORE_END}),
)
WHOLE_BERTH = Plan(
    BerthFacts,
    keys=("name", "source", *LIMIT_KEYS, "arm_shore_end_elevation_m"),
    parts={"size": SIZE, "arms": ARMS, "shore_line": SHORE_LINE, "shore_end": SHORE_END},
    help_texts=_HELP,
    labels=_LABELS,
)
