"""Two addresses for whoever watches over the site: does it run, and can it do its work."""

from __future__ import annotations

import os
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse

from shared.jobs import broker_answers


@login_not_required
def alive(_request: HttpRequest) -> JsonResponse:
    """Answer 200 as long as the process answers at all."""
    return JsonResponse({"alive": True})


@login_not_required
def ready(_request: HttpRequest) -> JsonResponse:
    """Answer 200 where every part works, else 503 with the names of those that do not."""
    wrong = [name for name, works in _PARTS if not works()]
    return JsonResponse({"ready": not wrong, "waits_for": wrong}, status=503 if wrong else 200)


def _database_answers() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def _database_is_migrated() -> bool:
    try:
        executor = MigrationExecutor(connection)
        return not executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False


def _data_folder_takes_files() -> bool:
    return os.access(settings.DATA_DIR, os.W_OK | os.X_OK)


_PARTS: tuple[tuple[str, Callable[[], bool]], ...] = (
    ("database", _database_answers),
    ("migrations", _database_is_migrated),
    ("data folder", _data_folder_takes_files),
    ("broker", broker_answers),
)
