"""Readings tables in and out."""
