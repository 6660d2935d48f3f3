"""The trail's triggers."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from shared.trail_guard import lift_guard, set_guard


def set_triggers(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Create the triggers."""
    set_guard(schema_editor.connection)


def drop_triggers(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Drop the triggers."""
    lift_guard(schema_editor.connection)


class Migration(migrations.Migration):
    """Make the trail append-only in the database itself."""

    dependencies = [("shared", "0001_initial")]
    operations = [migrations.RunPython(set_triggers, drop_triggers)]
