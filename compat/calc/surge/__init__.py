"""Pressure surge in one line of pipe runs from the ship's pumps to the shore tank, by the method of characteristics."""
