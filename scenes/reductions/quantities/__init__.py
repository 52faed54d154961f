"""Quantities that a task can ask for, each one defined through the unknowns of the network."""
