"""A copy of everything, taken and brought back while the site serves, in processes as a keeper runs them."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from compat.running.copies import CopyError, read_copy
from tests.compat.test_up import PROJECT, answers, environment_for, free_port, site

RENAME = "from shared.models import Person; Person.objects.filter(username='kit.farrow').update(title='{}')"
TITLE = "from shared.models import Person; print(Person.objects.get(username='kit.farrow').title)"
CUT = """
from django.db import connection
from shared.trail_guard import lift_guard, set_guard
lift_guard(connection)
connection.cursor().execute("DELETE FROM shared_trailrow WHERE position BETWEEN 100 AND 109")
set_guard(connection)
"""


@pytest.fixture(scope="module")
def database() -> Iterator[dict[str, str]]:
    """Where the site of these tests keeps its data: the kind of database that all tests run on."""
    if connection.vendor == "sqlite":
        yield {}
        return
    import psycopg  # noqa: PLC0415 (only where PostgreSQL is under test)

    told = connection.settings_dict
    name = f"accord_copies_{uuid.uuid4().hex[:8]}"
    server = {"host": told["HOST"], "port": told["PORT"], "user": told["USER"], "password": told["PASSWORD"] or None}
    with psycopg.connect(dbname="postgres", autocommit=True, **server) as connected:
        connected.execute(f"CREATE DATABASE {name}")
        yield {
            "BERTH_ACCORD_DATABASE": f"postgresql://{told['USER']}:{told['PASSWORD']}@{told['HOST']}:{told['PORT']}/{name}"
        }
        connected.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("site")


def run(data: Path, database: dict[str, str], *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=PROJECT,
        env={**environment_for(data), **database},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def shell(data: Path, database: dict[str, str], code: str) -> str:
    done = run(data, database, "shell", "--verbosity", "0", "-c", code)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture(scope="module")
def copied(
    data: Path, database: dict[str, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[str, Path]]:
    """A serving site with the demo, and a copy taken of it."""
    target = tmp_path_factory.mktemp("copies") / "night.tar"
    with pytest.MonkeyPatch.context() as patch:
        for name, value in database.items():
            patch.setenv(name, value)
        patch.setattr("tests.compat.test_up.environment_for", lambda folder: {**environment_for(folder), **database})
        with site(data, "--port", str(free_port())) as running:
            address = running.address()
            done = run(data, database, "back_up", str(target))
            assert done.returncode == 0, done.stderr
            yield address, target


@pytest.mark.slow
def test_what_was_changed_since_is_undone_while_the_site_serves(
    data: Path, database: dict[str, str], copied: tuple[str, Path]
) -> None:
    address, copy = copied
    before = shell(data, database, TITLE)
    shell(data, database, RENAME.format("Changed since"))
    refused = run(data, database, "restore", str(copy))
    assert refused.returncode == 1
    assert "--replace" in refused.stderr
    assert shell(data, database, TITLE) == "Changed since"
    done = run(data, database, "restore", str(copy), "--replace")
    assert done.returncode == 0, done.stderr
    assert "every plan and" in done.stdout
    assert shell(data, database, TITLE) == before
    assert answers(address)
    kept = max((data / "copies").glob("before-restore-*.tar"))  # their names begin with the time
    assert run(data, database, "restore", str(kept), "--replace").returncode == 0
    assert shell(data, database, TITLE) == "Changed since"


@pytest.mark.slow
def test_a_copy_with_rows_missing_from_the_trail_is_told(
    data: Path, database: dict[str, str], copied: tuple[str, Path], tmp_path: Path
) -> None:
    shell(data, database, CUT)
    short = tmp_path / "short.tar"
    assert run(data, database, "back_up", str(short)).returncode == 0
    done = run(data, database, "restore", str(short), "--replace")
    assert done.returncode == 1
    assert "row 100 is missing" in done.stderr
    assert run(data, database, "restore", str(copied[1]), "--replace").returncode == 0


@pytest.mark.slow
def test_a_copy_is_for_its_keeper_only_and_is_never_overwritten(
    data: Path, database: dict[str, str], copied: tuple[str, Path]
) -> None:
    copy = copied[1]
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    told = read_copy(copy)
    assert {"database", "files/secret.key"} <= set(told.sha256_of)
    assert told.trail_rows > 300
    again = run(data, database, "back_up", str(copy))
    assert again.returncode == 1
    assert "exists already" in again.stderr
    assert not list(copy.parent.glob(".copy-*"))


@pytest.mark.slow
def test_a_damaged_copy_is_refused_before_anything_is_changed(
    data: Path, database: dict[str, str], copied: tuple[str, Path], tmp_path: Path
) -> None:
    whole = copied[1].read_bytes()
    for name, changed in {
        "flipped.tar": whole[: len(whole) // 2] + bytes([whole[len(whole) // 2] ^ 1]) + whole[len(whole) // 2 + 1 :],
        "short.tar": whole[: len(whole) // 2],
    }.items():
        path = tmp_path / name
        path.write_bytes(changed)
        with pytest.raises(CopyError, match=r"damaged|cut short"):
            read_copy(path)
        done = run(data, database, "restore", str(path), "--replace")
        assert done.returncode == 1
        assert "Traceback" not in done.stderr


def test_something_else_is_no_copy(tmp_path: Path) -> None:
    for content in (b"", b"x" * 20_000, os.urandom(5000)):
        path = tmp_path / "else.tar"
        path.write_bytes(content)
        with pytest.raises(CopyError, match=r"no copy made by back_up"):
            read_copy(path)
    with pytest.raises(CopyError, match="can't be read"):
        read_copy(tmp_path / "absent.tar")
