"""The commands that publish the certificate and verify a plan, as a stranger without a database runs them."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from compat.accord.checklist.item import Side
from compat.accord.keys import authority
from compat.accord.models import Plan
from compat.accord.states import State
from compat.management.commands.up import prepare_keys
from shared.models import Person, TrailRow
from shared.trail_guard import lift_guard, set_guard
from tests.compat.accord.building import amend_to_force, bring_to
from tests.compat.accord.plan_builders import AUTHORITY, person_signer, signatures, whole, whole_pdf

ROOT = Path(__file__).parents[3]
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Return the command as run in this process: exit status, output and errors."""

    def ran(name: str, files: dict[str, bytes], *more: str, certificate: str | None = None) -> tuple[int, str, str]:
        pem = AUTHORITY.pem() if certificate is None else certificate
        for file, data in {**files, "authority.pem": pem.encode()}.items():
            (tmp_path / file).write_bytes(data)
        out, errors = StringIO(), StringIO()
        command = [str(tmp_path / name), "--authority", str(tmp_path / "authority.pem"), *more]
        with pytest.raises(SystemExit) as end:
            call_command("verify_plan", *command, stdout=out, stderr=errors)
        assert isinstance(end.value.code, int)
        return end.value.code, out.getvalue(), errors.getvalue()

    return ran


@pytest.mark.parametrize(
    ("name", "files"),
    [
        ("plan.json", {"plan.json": whole()[0], "plan.json.p7s": whole()[1]}),
        ("plan.pdf", {"plan.pdf": whole_pdf()}),
        ("old.json", {"old.json": (Path(__file__).parent / "earlier" / "plan-1.0.json").read_bytes()}),
    ],
)
def test_a_plan_is_told_of_in_sentences(name: str, files: dict[str, bytes], run: Run) -> None:
    status, out, errors = run(name, files)
    holds = name != "old.json"  # another installation issued that one
    assert (status, errors) == (0 if holds else 1, "")
    assert ("Signed for the terminal by Tor Askeland" in out) is holds
    assert ("no byte of this plan was changed" if holds else "This plan does not hold.") in out


def test_a_missing_signature_ends_with_status_1_and_names_the_side(run: Run) -> None:
    data = whole()[0]
    status, out, _ = run("plan.json", {"plan.json": data, "plan.json.p7s": signatures(data, person_signer(Side.SHIP))})
    assert status == 1
    assert "No valid signature for the terminal." in out


def test_a_changed_byte_ends_with_status_1(run: Run) -> None:
    data, signed = whole()
    changed = data.replace(b"Outer berth", b"Inner berth", 1)
    status, out, _ = run("plan.json", {"plan.json": changed, "plan.json.p7s": signed})
    assert status == 1
    assert "made over other bytes" in out


@pytest.mark.parametrize(
    ("files", "certificate", "sentence"),
    [
        ({}, None, "plan.json can't be read: No such file or directory."),
        ({"plan.json": whole()[0]}, None, "plan.json.p7s can't be read: No such file or directory."),
        ({"plan.json": whole()[0]}, "hello", "no PEM text of a certificate that signs itself."),
    ],
)
def test_what_can_not_be_read_ends_with_status_2(
    files: dict[str, bytes], certificate: str | None, sentence: str, run: Run
) -> None:
    status, out, errors = run("plan.json", files, certificate=certificate)
    assert (status, out) == (2, "")
    assert errors.strip().endswith(sentence)


def test_verifying_needs_no_database_and_no_folder_of_the_installation(tmp_path: Path) -> None:
    (tmp_path / "plan.pdf").write_bytes(whole_pdf())
    (tmp_path / "authority.pem").write_text(AUTHORITY.pem(), encoding="ascii")
    environment = {**os.environ, "BERTH_ACCORD_DATA": str(tmp_path / "nowhere"), "BERTH_ACCORD_DATABASE": "postgres://"}
    environment = {**environment, "DJANGO_SETTINGS_MODULE": "compat.settings", "BERTH_ACCORD_SECRET_KEY": ""}
    command = [sys.executable, str(ROOT / "manage.py"), "verify_plan", "plan.pdf", "--authority", "authority.pem"]
    ended = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert "Both signatures hold" in ended.stdout
    assert not (tmp_path / "nowhere").exists()


# What the database of the installation says besides


@pytest.fixture
def plan(ship_officer: Person, terminal_officer: Person) -> Plan:
    return Plan.objects.get(accord=bring_to(State.IN_FORCE, ship_officer, terminal_officer))


def asked(run: Run, plan: Plan, **changes: bytes) -> tuple[int, str]:
    files = {"plan.json": bytes(plan.payload), "plan.json.p7s": bytes(plan.signatures or b""), **changes}
    status, out, errors = run("plan.json", files, "--trail", certificate=authority().pem())
    assert errors == ""
    return status, out


def test_the_trail_still_holds_its_row(run: Run, plan: Plan) -> None:
    status, out = asked(run, plan)
    assert status == 0
    assert f"holds row {plan.trail_position}, the last one when the plan was settled" in out
    assert "says that it came into force at 2031-04-14 06:30 UTC" in out


def test_a_plan_that_holds_no_longer_is_said_to(
    run: Run, plan: Plan, ship_officer: Person, terminal_officer: Person
) -> None:
    amend_to_force(plan.accord, ship_officer, terminal_officer)
    status, out = asked(run, plan)
    assert status == 0
    assert "It holds no longer: “plan superseded” at 2031-04-14 06:30 UTC." in out


def test_what_was_changed_is_told_against_the_plan_that_is_kept(run: Run, plan: Plan) -> None:
    changed = bytes(plan.payload).replace(b'"value":"2800"', b'"value":"2900"')
    assert changed != bytes(plan.payload)
    status, out = asked(run, plan, **{"plan.json": changed})
    assert status == 1
    assert "Highest rate: 2800 m³/h in the plan kept here, 2900 m³/h in the one brought." in out


def test_a_database_that_lost_rows_is_noticed(run: Run, plan: Plan, request: pytest.FixtureRequest) -> None:
    from django.db import connection  # noqa: PLC0415

    lift_guard(connection)
    request.addfinalizer(lambda: set_guard(connection))
    TrailRow.objects.filter(position__gte=plan.trail_position).delete()
    status, out = asked(run, plan)
    assert status == 1
    assert f"row {plan.trail_position}, which plan 1 of accord {plan.accord.reference} names, is missing" in out
    assert "holds no row of this plan coming into force" in out


# The certificate


def test_the_published_certificate_verifies_what_the_installation_signs(tmp_path: Path, settings: Any) -> None:
    settings.DATA_DIR = tmp_path
    settings.SIGNING_KEY_FILE = tmp_path / "signing.pem"
    settings.SECRET_KEY_FILE = tmp_path / "secret.key"
    prepare_keys()
    out = StringIO()
    call_command("publish_authority", stdout=out, stderr=StringIO())
    assert out.getvalue() == authority().pem()
    assert "PRIVATE" not in out.getvalue()


def test_an_installation_without_a_key_says_how_to_make_one(tmp_path: Path, settings: Any) -> None:
    settings.SIGNING_KEY_FILE = tmp_path / "none.pem"
    with pytest.raises(CommandError, match=r"run “manage\.py up” once to make it"):
        call_command("publish_authority")
    assert not (tmp_path / "none.pem").exists()


@pytest.mark.parametrize(
    "module",
    [
        *("checklist", "plan_document", "plan_file", "plan_inputs", "plan_view", "plan_changes", "verdict"),
        *("verifying", "pdf_verifying", "pdf_signature", "cms_signature", "earlier_files", "plan_parts"),
    ],
)
def test_what_makes_and_verifies_a_plan_loads_no_django(module: str) -> None:
    code = f"import sys, compat.accord.{module}; sys.exit('django' in sys.modules)"
    ended = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
