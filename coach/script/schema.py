"""What an editor needs to complete and check a script while somebody writes it: a JSON Schema.

It is made from the declarations that read the script. What only the whole script shows, such as a
name that leads nowhere, is left to `coach.script.faults`.
"""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from coach.script.reading import Sheet


class _AsWritten(GenerateJsonSchema):
    """The schema of what stands in the file, where values still have their units."""

    def str_schema(self, schema: core_schema.StringSchema) -> JsonSchemaValue:
        """YAML reads a bare 45 as a number, and the reader takes it for the text that it is."""
        return {**super().str_schema(schema), "type": ["string", "number"]}

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """What its keys are made of holds for every key: a pattern alone lets others through."""
        found = super().dict_schema(schema)
        names = {**self.generate_inner(schema["keys_schema"]), "type": "string"}
        (values,) = found.pop("patternProperties").values()
        return {**found, "propertyNames": names, "additionalProperties": values}

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """A default in SI units would not be valid where it stands."""
        found = super().default_schema(schema)
        if not isinstance(found.get("default"), (str, bool)):
            found.pop("default", None)
        return found

    def field_title_should_be_set(self, schema: Any) -> bool:
        """A key says enough by itself."""
        return False


def schema(kind: type[Sheet]) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a kind of script."""
    found = kind.model_json_schema(by_alias=True, schema_generator=_AsWritten)
    return {"$schema": _AsWritten.schema_dialect, **found}
