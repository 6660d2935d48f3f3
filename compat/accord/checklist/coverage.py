"""Which part of a plan meets which paragraph of 33 CFR 156.120 and 156.150 (pure: no Django).

Paragraph letters and numbers are those of the 2015 annual edition of the Code of Federal Regulations,
the edition that was read. Compare them with the edition in force before relying on them; subjects are
summed up in words of our own.
"""

from __future__ import annotations

from dataclasses import dataclass

EDITION_READ = "2015 annual edition"

CFR_156_120: dict[str, str] = {
    "(a)": "moorings hold and can be tended",
    "(b)": "hoses and arms reach as far as the ship can move",
    "(c)": "hoses are supported",
    "(d)": "the system is lined up",
    "(e)": "parts not in use are closed",
    "(f)": "free ends are blanked",
    "(g)": "connections are fixed ones",
    "(h)": "sea and overboard valves are sealed shut",
    "(i)": "hoses are free of defects",
    "(j)": "hoses and arms are of the required standard",
    "(k)": "joints are made up as required",
    "(l)": "monitoring devices work, where required",
    "(m)": "spill containment gear is to hand or deployed",
    "(n)": "catchments are in place and kept drained",
    "(o)": "drains and scuppers are closed",
    "(p)": "connections are tight",
    "(q)": "communications work",
    "(r)": "the emergency stop is in place and works",
    "(s)": "a person in charge on each side",
    "(t)(1)": "person in charge is on the spot",
    "(t)(2)": "person in charge holds the manual or procedures",
    "(t)(3)": "person in charge works to them",
    "(u)": "the crew is on duty and works to them",
    "(v)": "someone speaks both languages",
    "(w)(1)": "meeting: the product",
    "(w)(2)": "meeting: the sequence",
    "(w)(3)": "meeting: the rate",
    "(w)(4)": "meeting: who takes part, and where",
    "(w)(5)": "meeting: both systems, and how pressure is kept below every working pressure",
    "(w)(6)": "meeting: critical stages",
    "(w)(7)": "meeting: the rules that apply",
    "(w)(8)": "meeting: emergencies",
    "(w)(9)": "meeting: containing a spill",
    "(w)(10)": "meeting: reporting a spill",
    "(w)(11)": "meeting: watches",
    "(w)(12)": "meeting: stopping",
    "(w)(13)": "meeting: radio channel",
    "(x)": "both agree to begin",
    "(y)": "light between sunset and sunrise",
    "(z)": "light for barge-to-barge work at night",
    "(aa)(1)": "vapour: manual valves set",
    "(aa)(2)": "vapour: hose or arm connected",
    "(aa)(3)": "vapour: joint insulated",
    "(aa)(4)": "vapour: start and highest rates settled",
    "(aa)(5)": "vapour: highest and lowest pressures settled",
    "(aa)(6)": "vapour: barge overfill link works",
    "(aa)(7)": "vapour: alarms, trips and analysers tested within 24 h",
    "(aa)(8)": "vapour: hose free of defects",
    "(aa)(9)": "vapour: oxygen in inerted tanks",
    "(aa)(10)": "vapour: freezing point known, freezing guarded against",
    "(aa)(11)": "vapour: polymerising guarded against",
    "(aa)(12)": "vapour: system cleaned between cargoes that do not suit",
    "(bb)": "overfill device works when loading",
    "(cc)": "smoking ashore only where allowed",
    "(dd)": "no hot work aboard; smoking only where allowed",
}


@dataclass(frozen=True)
class PlanPart:
    """A part of the plan's payload that meets a paragraph by itself, as a path of keys."""

    path: tuple[str, ...]
    where: str


CFR_156_150: dict[str, str] = {
    "(a)": "each person in charge fills out and signs",
    "(b)": "each signs after an inspection of their own, with a mark against each requirement",
    "(c)(1)": "who delivers and who receives",
    "(c)(2)": "address of the facility or place",
    "(c)(3)": "date and time of the start",
    "(c)(4)": "list of the requirements of 156.120 with room for each mark",
    "(c)(5)": "date, time, signature and title of each person in charge, and what they certify",
    "(c)(6)": "date and time of the end",
    "(e)": "each side holds a signed copy during the transfer",
    "(f)": "each side keeps it for a month or more",
}

MET_BY_THE_PLAN: dict[str, PlanPart] = {
    "(a)": PlanPart(("parties",), "signatures of both sides"),
    "(b)": PlanPart(("checklist",), "a mark by a named person against each item"),
    "(c)(1)": PlanPart(("ship",), "names of ship and terminal on the first page"),
    "(c)(2)": PlanPart(("place", "address"), "address of the terminal on the first page"),
    "(c)(4)": PlanPart(("checklist",), "checklist with the paragraph beside each item"),
    "(c)(5)": PlanPart(("statements",), "signatures with title, date and time under each side's statement"),
}
"""What the plan itself carries; the other paragraphs are met by an item."""
