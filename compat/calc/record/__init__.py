"""What a transfer showed against what was expected: comparison, likely causes, fitted facts, pumping performance."""
