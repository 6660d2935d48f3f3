"""Django's SQLite database, whose writers take turns."""
