"""Questionnaires as spreadsheets: a layout made from a facts class, read with bounds, filled and compared (pure)."""
