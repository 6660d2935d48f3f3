"""Pump curves and pumps on their way to the manifold: numbers in SI, no Django."""
