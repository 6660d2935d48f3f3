"""What tells a watcher that the site runs, and how it does."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db import DatabaseError
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from pytest_django.fixtures import Settings


def test_a_sound_site_is_alive_and_ready(client: Client, db: None) -> None:
    assert client.get("/health/alive/").json() == {"alive": True}
    answer = client.get("/health/ready/")
    assert (answer.status_code, answer.json()) == (200, {"ready": True, "waits_for": []})


def test_a_missing_migration_is_told(client: Client, db: None) -> None:
    MigrationRecorder.Migration.objects.filter(app="vessels").delete()
    answer = client.get("/health/ready/")
    assert (answer.status_code, answer.json()["waits_for"]) == (503, ["migrations"])


def test_a_missing_data_folder_is_told(client: Client, db: None, settings: Settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path / "gone"
    assert client.get("/health/ready/").json()["waits_for"] == ["data folder"]


def test_a_silent_database_is_told_and_the_process_still_lives(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(*_: object) -> None:
        raise DatabaseError("no answer")

    monkeypatch.setattr("compat.running.health.connection.cursor", silent)
    monkeypatch.setattr("compat.running.health.MigrationExecutor", silent)
    assert client.get("/health/ready/").json()["waits_for"] == ["database", "migrations"]
    assert client.get("/health/alive/").status_code == 200


def test_metrics_are_for_who_knows_the_token(client: Client, db: None, settings: Settings) -> None:
    assert client.get("/metrics/").status_code == 404
    settings.METRICS_TOKEN = "watch-tower"
    assert client.get("/metrics/", headers={"Authorization": "Bearer watch"}).status_code == 404
    client.get("/health/alive/")
    told = client.get("/metrics/", headers={"Authorization": "Bearer watch-tower"}).content.decode()
    assert 'berth_accord_answers_total{method="GET",route="/health/alive/",status="200"}' in told
    assert 'berth_accord_answer_seconds_bucket{le="0.1",route="/health/alive/"}' in told
