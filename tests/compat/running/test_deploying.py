"""A site on the open network: Django's own checks, and the units that start it."""

from __future__ import annotations

import configparser
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client, override_settings

ROOT = Path(__file__).parents[3]
DEPLOY = ROOT / ".deploy"
UNITS = sorted(path.name for path in DEPLOY.iterdir() if path.suffix in {".service", ".timer"})


def stated_settings() -> dict[str, str]:
    """Return what the file of settings states, without what is only proposed there."""
    lines = (DEPLOY / "berth-accord.env").read_text(encoding="utf-8").splitlines()
    return dict(line.split("=", 1) for line in lines if line and not line.startswith("#"))


def test_djangos_checks_for_deployment_find_nothing(tmp_path: Path) -> None:
    """With the settings that the units read, and a key as ``manage.py up`` makes it."""
    given = {"BERTH_ACCORD_SECRET_KEY": os.urandom(40).hex(), "BERTH_ACCORD_DATA": str(tmp_path)}
    env = {**os.environ, **stated_settings(), **given}
    env = {name: value for name, value in env.items() if not name.startswith("DJANGO_")}
    command = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"]
    done = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_every_setting_that_is_named_exists() -> None:
    """A setting that the program does not read would be believed to do something."""
    named = set(re.findall(r"BERTH_ACCORD_[A-Z_]+", (DEPLOY / "berth-accord.env").read_text(encoding="utf-8")))
    read = set(re.findall(r"BERTH_ACCORD_[A-Z_]+", (ROOT / "compat" / "settings.py").read_text(encoding="utf-8")))
    assert named <= read


@pytest.mark.parametrize("unit", UNITS)
def test_a_unit_runs_a_command_of_ours_without_more_rights_than_it_needs(unit: str) -> None:
    parser = configparser.ConfigParser(strict=False, interpolation=None)
    parser.optionxform = str  # type: ignore[assignment, method-assign]
    parser.read(DEPLOY / unit)
    if unit.endswith(".timer"):
        assert (DEPLOY / unit.replace(".timer", ".service")).exists()
        return
    service = parser["Service"]
    assert service["User"] == "berth-accord"
    assert service["NoNewPrivileges"] == service["ProtectHome"] == "yes"
    assert service["ProtectSystem"] == "strict"
    command = service["ExecStart"].split()[2]
    assert (ROOT / "compat" / "management" / "commands" / f"{command}.py").exists()


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")
def test_systemd_reads_the_units(tmp_path: Path) -> None:
    """As they are, but for programs and people that only the real machine has."""
    for unit in UNITS:
        text = (DEPLOY / unit).read_text(encoding="utf-8").replace("/opt/berth-accord/.venv/bin/python", sys.executable)
        (tmp_path / unit).write_text(text, encoding="utf-8")
    command = ["systemd-analyze", "verify", "--man=no", *[str(tmp_path / unit) for unit in UNITS]]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    told = [line for line in done.stderr.splitlines() if any(unit in line for unit in UNITS)]
    assert not told, told


@override_settings(SECURE_SSL_REDIRECT=True, SECURE_PROXY_SSL_HEADER=("HTTP_X_FORWARDED_PROTO", "https"))
def test_plain_http_leads_to_https_and_the_proxys_word_counts() -> None:
    plain = Client().get("/health/alive/")
    assert plain.status_code == 301
    assert plain["Location"].startswith("https://")
    assert Client().get("/health/alive/", headers={"x-forwarded-proto": "https"}).status_code == 200
