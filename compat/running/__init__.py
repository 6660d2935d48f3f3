"""Running the site: logs, health, metrics, copies of all data."""
