"""The commands that publish the key and verify a plan, as a stranger without a database runs them."""

from __future__ import annotations

import os
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from compat.accord.checklist.item import Side
from shared.signing import load_or_make_key
from tests.compat.accord.plan_builders import KEY, data_file

ROOT = Path(__file__).parents[3]


def run(folder: Path, data: bytes | None, key: str | None) -> tuple[int, str, str]:
    """Run the command in this process; return exit status, output and errors."""
    file, key_file = folder / "plan.json", folder / "public.pem"
    if data is not None:
        file.write_bytes(data)
    if key is not None:
        key_file.write_text(key, encoding="utf-8")
    out, errors = StringIO(), StringIO()
    with pytest.raises(SystemExit) as end:
        call_command("verify_plan", str(file), "--key", str(key_file), stdout=out, stderr=errors)
    assert isinstance(end.value.code, int)
    return end.value.code, out.getvalue(), errors.getvalue()


def test_a_whole_plan_ends_with_status_0(tmp_path: Path) -> None:
    status, out, errors = run(tmp_path, data_file(), KEY.public_key_pem())
    assert (status, errors) == (0, "")
    assert "Signed for the terminal by Tor Askeland" in out
    assert "no byte of this plan was changed" in out


def test_a_missing_signature_ends_with_status_1_and_names_the_side(tmp_path: Path) -> None:
    status, out, _ = run(tmp_path, data_file(sides=(Side.SHIP,)), KEY.public_key_pem())
    assert status == 1
    assert "No valid signature for the terminal." in out
    assert "This plan does not hold." in out


def test_a_changed_byte_ends_with_status_1(tmp_path: Path) -> None:
    changed = data_file().replace(b"Outer berth", b"Inner berth", 1)
    status, out, _ = run(tmp_path, changed, KEY.public_key_pem())
    assert status == 1
    assert "made over other bytes" in out


def test_a_pdf_is_refused_with_what_to_do(tmp_path: Path) -> None:
    status, out, _ = run(tmp_path, b"%PDF-1.7\n%...", KEY.public_key_pem())
    assert status == 1
    assert "Save the attachment from a PDF reader" in out


@pytest.mark.parametrize(
    ("data", "key", "sentence"),
    [
        (None, KEY.public_key_pem(), "plan.json can't be read: No such file or directory."),
        (b"{}", None, "public.pem can't be read: No such file or directory."),
        (b"{}", "hello", "The public key is no PEM text of a public key."),
    ],
)
def test_what_can_not_be_read_ends_with_status_2(
    data: bytes | None, key: str | None, sentence: str, tmp_path: Path
) -> None:
    status, out, errors = run(tmp_path, data, key)
    assert (status, out) == (2, "")
    assert errors.strip().endswith(sentence)


def test_verifying_needs_no_database_and_no_folder_of_the_installation(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_bytes(data_file())
    (tmp_path / "public.pem").write_text(KEY.public_key_pem(), encoding="ascii")
    environment = {**os.environ, "BERTH_ACCORD_DATA": str(tmp_path / "nowhere"), "BERTH_ACCORD_DATABASE": "postgres://"}
    environment = {**environment, "DJANGO_SETTINGS_MODULE": "compat.settings", "BERTH_ACCORD_SECRET_KEY": ""}
    command = [sys.executable, str(ROOT / "manage.py"), "verify_plan", "plan.json", "--key", "public.pem"]
    ended = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (0, "")
    assert "Both signatures hold" in ended.stdout
    assert not (tmp_path / "nowhere").exists()


def test_the_published_key_verifies_what_the_installation_signs(
    tmp_path: Path, settings: pytest.FixtureRequest
) -> None:
    settings.SIGNING_KEY_FILE = tmp_path / "signing.pem"  # type: ignore[attr-defined]
    key = load_or_make_key(tmp_path / "signing.pem")
    out = StringIO()
    call_command("publish_key", stdout=out, stderr=StringIO())
    assert out.getvalue() == key.public_key_pem()
    assert "PRIVATE" not in out.getvalue()


def test_an_installation_without_a_key_says_how_to_make_one(tmp_path: Path, settings: pytest.FixtureRequest) -> None:
    settings.SIGNING_KEY_FILE = tmp_path / "none.pem"  # type: ignore[attr-defined]
    with pytest.raises(CommandError, match=r"run “manage\.py up” once to make it"):
        call_command("publish_key")
    assert not (tmp_path / "none.pem").exists()


@pytest.mark.parametrize(
    "module",
    ["checklist", "plan_document", "plan_file", "plan_inputs", "plan_view", "verifying"],
)
def test_what_makes_and_verifies_a_plan_loads_no_django(module: str) -> None:
    code = f"import sys, compat.accord.{module}; sys.exit('django' in sys.modules)"
    ended = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
