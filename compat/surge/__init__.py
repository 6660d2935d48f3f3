"""Pressure surge of a case: what is missing for it, its line, its events and answers (pure: no Django)."""
