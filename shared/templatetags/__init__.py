"""Template tags of every room."""
