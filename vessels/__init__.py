"""Ships and their cargo pumps. May import ``shared`` only; ``calc`` imports no Django."""
