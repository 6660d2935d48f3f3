"""What the shore asks of the manifold at each flow: numbers in SI, no Django."""
