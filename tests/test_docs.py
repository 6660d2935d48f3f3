"""What README.md, DEVELOPERS.md and the lock say, compared with what is there."""

from __future__ import annotations

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[1]
README = PROJECT / "README.md"
DEVELOPERS = PROJECT / "DEVELOPERS.md"
RUN_LOCK, TEST_LOCK = PROJECT / ".lock" / "run.txt", PROJECT / ".lock" / "test.txt"
CAUTION = (
    "Follow local regulations and the terminal's own procedures; where they are stricter than these figures, they win."
)


def command_block(last_line: str) -> str:
    blocks = re.findall(r"```sh\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.DOTALL)
    found = [block for block in blocks if block.strip().splitlines()[-1] == last_line]
    assert len(found) == 1, f"README.md has one block that ends with {last_line}"
    return str(found[0])


def pins(lock: Path) -> list[tuple[str, str]]:
    """Name and version of each entry; one name may have a version for each range of Pythons."""
    text = lock.read_text(encoding="utf-8")
    return re.findall(r"^([a-z0-9._-]+)(?:\[[^]]*\])?==(\S+)", text, flags=re.MULTILINE)


def wanted(group: str = "") -> set[str]:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    listed = project["optional-dependencies"][group] if group else project["dependencies"]
    return {re.split(r"[\[<>=~! ]", requirement)[0].lower() for requirement in listed}


@pytest.mark.parametrize(
    ("last_line", "lock"),
    [(".venv/bin/python manage.py up", ".lock/run.txt"), (".venv/bin/python -m pytest", ".lock/test.txt")],
)
def test_each_command_of_the_readme_is_enough_alone(last_line: str, lock: str) -> None:
    block = command_block(last_line)
    assert "python3 -m venv .venv\n" in block
    assert f".venv/bin/pip install --require-hashes -r {lock}\n" in block
    assert "apt-get install -y --no-install-recommends python3-venv libpango-1.0-0" in block
    assert "brew install pango" in block
    assert (PROJECT / lock).is_file()
    subprocess.run(["bash", "-n"], input=block, text=True, check=True)


def test_the_check_run_uses_the_readmes_test_command_and_packages() -> None:
    script = (PROJECT / ".ci" / "run").read_text(encoding="utf-8")
    assert '"$room/venv/bin/python" -m pytest ' in script
    assert "--require-hashes -r .lock/test.txt" in script
    named = re.search(r"python3-venv (.*)", command_block(".venv/bin/python -m pytest"))
    assert named is not None
    for package in named[1].split():
        assert f" {package} " in script.replace("(", " ").replace(")", " ")
    subprocess.run(["bash", "-n", PROJECT / ".ci" / "run"], check=True)


@pytest.mark.parametrize("lock", [RUN_LOCK, TEST_LOCK])
def test_the_lock_pins_everything_by_hash_and_names_no_host(lock: Path) -> None:
    text = lock.read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index-url" not in text
    entries = re.split(r"\n(?=\S)", re.sub(r"^#.*\n", "", text, flags=re.MULTILINE))
    assert len(entries) == len(pins(lock))
    assert all("--hash=sha256:" in entry for entry in entries)


def test_the_lock_holds_what_the_project_asks_for_and_the_same_for_tests() -> None:
    run, test = pins(RUN_LOCK), pins(TEST_LOCK)
    assert wanted() <= {name for name, _ in run}
    assert wanted("test") <= {name for name, _ in test}
    assert set(run) <= set(test)


def test_the_readme_carries_the_caution() -> None:
    assert CAUTION in " ".join(README.read_text(encoding="utf-8").split())
    assert (PROJECT / "templates" / "shared" / "caution.html").read_text(encoding="utf-8").strip() == CAUTION


def test_developers_md_states_the_licence_of_every_direct_dependency() -> None:
    lines = DEVELOPERS.read_text(encoding="utf-8").lower().splitlines()
    licence = re.compile(r"\b(mit|bsd|apache|lgpl|mpl|isc|psf|python|hpnd)\b")
    unnamed = [
        name
        for name in sorted(wanted() | wanted("test"))
        if not any(re.search(rf"\b{re.escape(name)}\b", line) and licence.search(line) for line in lines)
    ]
    assert not unnamed
