"""The transfer record: readings against the plan, checks, stops, time sheet, and what all of it teaches."""
