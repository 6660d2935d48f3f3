"""Template tags of accords."""
