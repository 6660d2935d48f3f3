"""The organisations and people of the demo scenario. All of them are invented."""

from __future__ import annotations

from dataclasses import dataclass

from shared.roles import Kind, Role

SECRET = "neaps-and-lanterns"
"""One secret for every demo log-in; an installation in earnest starts without the demo."""

KEEPER = "keeper"

SHIP_A, SHIP_B = "Calder Reach Shipping", "Brannoch Tankers"
TERMINAL_A, TERMINAL_B = "Ellery Storage", "Skarra Terminals"
AUDITOR = "Plumbline Audit"


@dataclass(frozen=True)
class DemoLogin:
    """Who can sign in: an organisation's first person is its first administrator."""

    username: str
    full_name: str
    title: str
    organisation: str
    role: Role


KINDS = {
    SHIP_A: Kind.SHIP,
    SHIP_B: Kind.SHIP,
    TERMINAL_A: Kind.TERMINAL,
    TERMINAL_B: Kind.TERMINAL,
    AUDITOR: Kind.AUDIT,
}
LOG_INS = (
    DemoLogin("ida.marsh", "Ida Marsh", "Fleet Operations Manager", SHIP_A, Role.ADMINISTRATOR),
    DemoLogin("teodor.lund", "Teodor Lund", "Chief Officer", SHIP_A, Role.OFFICER),
    DemoLogin("wen.ashby", "Wen Ashby", "Operations Trainee", SHIP_A, Role.READER),
    DemoLogin("morag.sethi", "Morag Sethi", "Marine Superintendent", SHIP_B, Role.ADMINISTRATOR),
    DemoLogin("anselm.krog", "Anselm Krog", "Chief Officer", SHIP_B, Role.OFFICER),
    DemoLogin("julian.peake", "Julian Peake", "Terminal Manager", TERMINAL_A, Role.ADMINISTRATOR),
    DemoLogin("rosa.delmar", "Rosa Delmar", "Loading Master", TERMINAL_A, Role.OFFICER),
    DemoLogin("kit.farrow", "Kit Farrow", "Jetty Clerk", TERMINAL_A, Role.READER),
    DemoLogin("sigrun.vale", "Sigrun Vale", "Operations Manager", TERMINAL_B, Role.ADMINISTRATOR),
    DemoLogin("lars.hamre", "Lars Hamre", "Shift Supervisor", TERMINAL_B, Role.OFFICER),
    DemoLogin("noor.castell", "Noor Castell", "Auditor", AUDITOR, Role.ADMINISTRATOR),
    DemoLogin(KEEPER, "Vera Quill", "Keeper of this installation", "", Role.READER),
)
