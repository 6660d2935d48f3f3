"""Terminals, their berths and shore lines. May import ``shared`` only; ``calc`` imports no Django."""
