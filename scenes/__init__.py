"""The measurement model of a laser alignment survey, and everything computed with it."""
