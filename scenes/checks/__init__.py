"""Checks of a plan; each returns findings."""
