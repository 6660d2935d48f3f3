"""A whole discharge as hours: the stay file, what is stepped through, and what the crew sees (pure: no Django)."""
