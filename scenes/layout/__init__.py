"""Layout files: YAML to model, or every problem of the file with its place."""

from .read import read_layout
from .schema_file import json_schema

__all__ = ["json_schema", "read_layout"]
