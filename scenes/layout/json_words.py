"""JSON Schema of the layout language where it differs from what the types alone say."""

from __future__ import annotations

from typing import Any

from pydantic import GetJsonSchemaHandler
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

__all__ = ["ListOrOne", "PlainSchema"]


class PlainSchema(GenerateJsonSchema):
    """Without null: a key that may be left out may not be left empty."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Schema of the value itself."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Schema of the value without its default, which is in SI units; the description says it in words."""
        return self.generate_inner(schema["schema"])


class ListOrOne:
    """A list that may be written as its only entry."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        listed = handler(schema)
        return {"anyOf": [listed, listed["items"]]}
