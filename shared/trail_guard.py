"""Database triggers that let trail rows be added, in order, and refuse every change and removal."""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "shared_trailrow"

_SQLITE = (
    f"""CREATE TRIGGER trail_no_update BEFORE UPDATE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, 'the trail is append-only'); END""",
    f"""CREATE TRIGGER trail_no_delete BEFORE DELETE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, 'the trail is append-only'); END""",
    # INSERT OR REPLACE removes a row without firing the trigger above, so the order is held here.
    f"""CREATE TRIGGER trail_in_order BEFORE INSERT ON {TABLE}
        WHEN NEW.position <> (SELECT COALESCE(MAX(position), 0) + 1 FROM {TABLE})
          OR EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id OR sha256 = NEW.sha256)
        BEGIN SELECT RAISE(ABORT, 'the trail is append-only'); END""",
)
_SQLITE_DROP = tuple(f"DROP TRIGGER {name}" for name in ("trail_no_update", "trail_no_delete", "trail_in_order"))

_POSTGRESQL = (
    """CREATE FUNCTION trail_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'the trail is append-only'; END $$""",
    f"""CREATE FUNCTION trail_check_order() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN
         IF NEW.position <> (SELECT COALESCE(MAX(position), 0) + 1 FROM {TABLE}) THEN
           RAISE EXCEPTION 'the trail is append-only';
         END IF;
         RETURN NEW;
       END $$""",
    f"""CREATE TRIGGER trail_no_change BEFORE UPDATE OR DELETE ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION trail_refuse()""",
    f"""CREATE TRIGGER trail_no_truncate BEFORE TRUNCATE ON {TABLE}
        FOR EACH STATEMENT EXECUTE FUNCTION trail_refuse()""",
    f"""CREATE TRIGGER trail_in_order BEFORE INSERT ON {TABLE}
        FOR EACH ROW EXECUTE FUNCTION trail_check_order()""",
)
_POSTGRESQL_DROP = (
    f"DROP TRIGGER trail_no_change ON {TABLE}",
    f"DROP TRIGGER trail_no_truncate ON {TABLE}",
    f"DROP TRIGGER trail_in_order ON {TABLE}",
    "DROP FUNCTION trail_refuse()",
    "DROP FUNCTION trail_check_order()",
)


def set_guard(connection: BaseDatabaseWrapper) -> None:
    """Create the triggers; raise NotImplementedError for a database that has none here."""
    _run(connection, {"sqlite": _SQLITE, "postgresql": _POSTGRESQL})


def lift_guard(connection: BaseDatabaseWrapper) -> None:
    """Drop the triggers: for a migration that goes backwards, and for emptying a test database."""
    _run(connection, {"sqlite": _SQLITE_DROP, "postgresql": _POSTGRESQL_DROP})


def _run(connection: BaseDatabaseWrapper, statements: dict[str, tuple[str, ...]]) -> None:
    if connection.vendor not in statements:
        raise NotImplementedError(f"The trail has no guard for {connection.vendor}; use SQLite or PostgreSQL.")
    with connection.cursor() as cursor:
        for statement in statements[connection.vendor]:
            cursor.execute(statement)
