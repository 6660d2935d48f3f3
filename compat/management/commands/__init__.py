"""What manage.py can do besides Django's own commands."""
