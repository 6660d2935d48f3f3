"""Ship pumps against the shore: operating point, limits, achievable rate. SI, no Django."""
