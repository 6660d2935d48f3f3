"""One file with all data of the installation, and the way back from it, both while the site serves.

A copy is a tar file: ``manifest.json`` (what it holds, SHA-256 of each file, head of the trail), the database as
SQLite or as PostgreSQL's own dump, and the files of the data folder, keys among them.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from shared.authority import certificate_file
from shared.calc.errors import InputError
from shared.trail import trail_head

FORMAT = "berth-accord-copy-1"
_MANIFEST, _DATABASE, _FILES = "manifest.json", "database", "files"
_LARGEST_MANIFEST_BYTES = 10_000_000
_PART_BYTES = 1 << 20
_NOT_DATA = ("metrics", "copies", "static")  # made again by the site itself


class CopyError(InputError):
    """A copy that can't be made or brought back, with the reason as a sentence."""


@dataclass(frozen=True)
class Copy:
    """What a copy says of itself."""

    path: Path
    made_at: str
    vendor: str
    trail_rows: int
    trail_sha256: str
    migrations: tuple[tuple[str, str], ...]
    sha256_of: dict[str, str]


def make_copy(target: Path, *, now: datetime) -> Copy:
    """Write all data into one new file that only its owner reads; raise CopyError where that fails."""
    if target.exists():
        raise CopyError(f"{target} exists already; name a new file, so that no older copy is lost.")
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".copy-") as folder:
        database = Path(folder, _DATABASE)
        rows, head = _copy_database(database)
        sources = {_DATABASE: database, **dict(_data_files())}
        facts = {
            "format": FORMAT,
            "made_at": now.isoformat(timespec="seconds"),
            "vendor": connection.vendor,
            "trail_rows": rows,
            "trail_sha256": head,
            "migrations": sorted(map(list, MigrationRecorder(connection).applied_migrations())),
            "sha256_of": {name: _sha256(path) for name, path in sources.items()},
        }
        manifest = Path(folder, _MANIFEST)
        manifest.write_text(json.dumps(facts, indent=1), encoding="utf-8")
        whole = Path(folder, "whole")
        descriptor = os.open(whole, os.O_CREAT | os.O_WRONLY | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as out, tarfile.open(fileobj=out, mode="w") as tar:
            for name, path in {_MANIFEST: manifest, **sources}.items():
                tar.add(path, arcname=name, recursive=False)
            out.flush()
            os.fsync(out.fileno())
        whole.rename(target)
    return read_copy(target)


def read_copy(path: Path) -> Copy:
    """Return what a copy says of itself, after checking every file in it; raise CopyError where it is not whole."""
    try:
        with tarfile.open(path) as tar:
            facts = _manifest(path, tar)
            found = {member.name: _sha256_of_member(tar, member) for member in tar if member.name != _MANIFEST}
    except OSError as error:
        raise CopyError(f"{path} can't be read: {error.strerror or error}.") from error
    except (tarfile.TarError, EOFError) as error:
        raise CopyError(f"{path} is no copy made by back_up, or was cut short.") from error
    wrong = sorted(
        name for name in found.keys() | facts["sha256_of"].keys() if found.get(name) != facts["sha256_of"].get(name)
    )
    if wrong:
        raise CopyError(f"{path} is damaged: {', '.join(wrong)} is missing or not what was copied.")
    return Copy(
        path=path,
        made_at=str(facts["made_at"]),
        vendor=str(facts["vendor"]),
        trail_rows=int(facts["trail_rows"]),
        trail_sha256=str(facts["trail_sha256"]),
        migrations=tuple((str(app), str(name)) for app, name in facts["migrations"]),
        sha256_of=dict(facts["sha256_of"]),
    )


def bring_back(copy: Copy) -> None:
    """Put the copy's data in place of what is there now, all of it or nothing of the database; raise CopyError.

    The database changes in one transaction, so a site that serves meanwhile sees the old data or the new.
    """
    _refuse_what_does_not_fit(copy)
    with tempfile.TemporaryDirectory(prefix="berth-accord-") as folder:
        with tarfile.open(copy.path) as tar:
            tar.extractall(folder, filter="data")
        _replace_database(Path(folder, _DATABASE))
        for name in copy.sha256_of:
            if name != _DATABASE:
                _replace_file(Path(folder, name), _place_of(name))
    connection.close()
    call_command("migrate", verbosity=0, interactive=False)


def _refuse_what_does_not_fit(copy: Copy) -> None:
    if copy.vendor != connection.vendor:
        raise CopyError(
            f"{copy.path} was copied from {copy.vendor}, and this installation keeps its data in {connection.vendor}."
        )
    known = set(MigrationLoader(None).disk_migrations or {})
    later = sorted(set(copy.migrations) - known)
    if later:
        raise CopyError(
            f"{copy.path} was made by a later version of this program ({'.'.join(later[0])}); install that first."
        )


# ---- the database


def _copy_database(target: Path) -> tuple[int, str]:
    """Write one consistent picture of the database, and return the head of the trail in it."""
    if connection.vendor == "sqlite":
        return _copy_sqlite(target)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        head = trail_head()
        _run_postgresql(["pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={target}"])
    return head


def _copy_sqlite(target: Path) -> tuple[int, str]:
    connection.ensure_connection()
    with sqlite3.connect(target) as copied:
        connection.connection.backup(copied)
        copied.execute("PRAGMA journal_mode=DELETE")
        last = copied.execute("SELECT position, sha256 FROM shared_trailrow ORDER BY position DESC LIMIT 1").fetchone()
    copied.close()
    return (int(last[0]), str(last[1])) if last else trail_head()


def _replace_database(source: Path) -> None:
    if connection.vendor != "sqlite":
        connection.close()
        _run_postgresql(
            [
                "pg_restore",
                "--clean",
                "--if-exists",
                "--no-owner",
                "--single-transaction",
                "--exit-on-error",
                str(source),
            ]
        )
        return
    connection.ensure_connection()
    with sqlite3.connect(source) as copied:
        copied.backup(connection.connection)
    copied.close()


def _run_postgresql(command: list[str]) -> None:
    """Run one of PostgreSQL's own programs against this installation's database."""
    told = connection.settings_dict
    environment = {**os.environ, "PGPASSWORD": str(told["PASSWORD"] or "")}
    where = {"--host": told["HOST"], "--port": told["PORT"], "--username": told["USER"], "--dbname": told["NAME"]}
    options = [f"{option}={value}" for option, value in where.items() if value]
    try:
        done = subprocess.run([*command, *options], env=environment, capture_output=True, text=True, check=False)  # noqa: S603
    except FileNotFoundError:
        raise CopyError(f"{command[0]} is not installed; on Debian: apt-get install postgresql-client.") from None
    if done.returncode:
        raise CopyError(
            f"{command[0]} failed: {done.stderr.strip().splitlines()[-1] if done.stderr.strip() else done.returncode}."
        )


# ---- files


def _data_files() -> Iterator[tuple[str, Path]]:
    """Name each file of the data folder, and the signing key with its certificate where they lie elsewhere."""
    folder = Path(settings.DATA_DIR)
    database = Path(str(connection.settings_dict["NAME"])) if connection.vendor == "sqlite" else None
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        is_database = database is not None and path.name in {
            database.name,
            f"{database.name}-wal",
            f"{database.name}-shm",
            f"{database.name}-queue",
        }
        if path.is_file() and not path.is_symlink() and not is_database and inside.parts[0] not in _NOT_DATA:
            yield f"{_FILES}/{inside.as_posix()}", path
    for name, path in _keys().items():
        if path.exists() and folder not in path.parents:
            yield name, path


def _keys() -> dict[str, Path]:
    key = Path(settings.SIGNING_KEY_FILE)
    return {"signing-key.pem": key, "authority.pem": certificate_file(key)}


def _place_of(name: str) -> Path:
    if name in _keys():
        return _keys()[name]
    return Path(settings.DATA_DIR, *Path(name).parts[1:])


def _replace_file(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    beside = target.with_name(f".{target.name}.new")
    beside.write_bytes(source.read_bytes())
    beside.chmod(0o600)
    beside.rename(target)


def _manifest(path: Path, tar: tarfile.TarFile) -> dict[str, Any]:
    first = tar.next()
    if first is None or first.name != _MANIFEST or first.size > _LARGEST_MANIFEST_BYTES:
        raise CopyError(f"{path} is no copy made by back_up.")
    taken = tar.extractfile(first)
    try:
        facts = json.loads(taken.read()) if taken else None
    except ValueError:
        facts = None
    if not isinstance(facts, dict) or facts.get("format") != FORMAT:
        raise CopyError(f"{path} is no copy made by back_up.")
    return facts


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _sha256_of_member(tar: tarfile.TarFile, member: tarfile.TarInfo) -> str:
    taken = tar.extractfile(member)
    if taken is None:
        return ""
    digest = hashlib.sha256()
    while part := taken.read(_PART_BYTES):
        digest.update(part)
    return digest.hexdigest()
