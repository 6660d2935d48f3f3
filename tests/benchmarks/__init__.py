"""Runs that measure speed and memory; nothing here is a test, each module's docstring says how it is run."""
