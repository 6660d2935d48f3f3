"""Units, root finding, liquids and pipe lines: numbers in SI, no Django."""
