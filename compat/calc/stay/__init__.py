"""A discharge over time: levels, draught and tide move, the rate follows. SI, no Django."""
