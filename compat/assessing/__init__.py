"""One ship, one cargo, one berth, one answer: stored assessments and their pages."""
