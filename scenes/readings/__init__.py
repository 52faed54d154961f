"""Readings and points from CSV files, and back."""

from __future__ import annotations

from .points import PointsTable, read_points, read_points_text
from .read import read_readings, read_readings_text
from .write import readings_text, write_readings, write_table_csv

__all__ = [
    "PointsTable",
    "read_points",
    "read_points_text",
    "read_readings",
    "read_readings_text",
    "readings_text",
    "write_readings",
    "write_table_csv",
]
