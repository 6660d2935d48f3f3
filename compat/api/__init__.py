"""The same acts and answers for programs: tokens, addresses under /api/v1/, problems in one form."""
