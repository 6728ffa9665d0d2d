"""A validator of the JSON Schema (draft 2020-12) that the library ships: what of it is used."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

TYPES: dict[str, Any] = {
    "object": dict, "array": list, "string": str, "boolean": bool, "null": type(None),
    "number": (int, float), "integer": int,
}  # fmt: skip
#: what only tells a person something
TOLD = {"title", "description", "unit", "default", "$schema", "$id", "$defs"}
KNOWN = {
    "type", "enum", "minimum", "exclusiveMinimum", "maximum", "maxLength", "items", "minItems",
    "maxItems", "properties", "additionalProperties", "maxProperties", "required", "oneOf", "anyOf",
    "allOf", "not", "$ref",
}  # fmt: skip


def problems(value: Any, schema: Any, root: Any = None, path: str = "$") -> Iterator[str]:
    """Yield every place where a value does not keep to a schema."""
    root = schema if root is None else root
    if isinstance(schema, bool):
        if not schema:
            yield f"{path}: not allowed"
        return
    assert not set(schema) - TOLD - KNOWN, schema
    if "$ref" in schema:
        name = schema["$ref"].removeprefix("#/$defs/")
        yield from problems(value, root["$defs"][name], root, path)
    kind = schema.get("type")
    if kind is not None and not _is(value, kind):
        yield f"{path}: no {kind}"
        return
    if "enum" in schema and value not in schema["enum"]:
        yield f"{path}: not one of {schema['enum']}"
    if _is(value, "number"):
        low, above = schema.get("minimum"), schema.get("exclusiveMinimum")
        if (low is not None and value < low) or (above is not None and value <= above):
            yield f"{path}: below"
        if "maximum" in schema and value > schema["maximum"]:
            yield f"{path}: above"
    if isinstance(value, str) and len(value) > schema.get("maxLength", len(value)):
        yield f"{path}: too long"
    if isinstance(value, list):
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            yield f"{path}: {len(value)} items"
        for i, item in enumerate(value):
            yield from problems(item, schema.get("items", True), root, f"{path}[{i}]")
    if isinstance(value, dict):
        yield from _of_object(value, schema, root, path)
    for rule in schema.get("allOf", ()):
        yield from problems(value, rule, root, path)
    for name, few in (("oneOf", (1,)), ("anyOf", range(1, 99))):
        if name in schema:
            kept = sum(valid(value, way, root) for way in schema[name])
            if kept not in few:
                yield f"{path}: {kept} of {name}"
    if "not" in schema and valid(value, schema["not"], root):
        yield f"{path}: what must not be"


def valid(value: Any, schema: Any, root: Any = None) -> bool:
    """Whether a value keeps to a schema."""
    return next(problems(value, schema, root), None) is None


def _is(value: Any, kind: str) -> bool:
    # true and false are no numbers; 1.0 is a whole one
    if kind in ("number", "integer") and isinstance(value, bool):
        return False
    if kind == "integer" and isinstance(value, float):
        return value.is_integer()
    return isinstance(value, TYPES[kind])


def _of_object(value: dict[str, Any], schema: Any, root: Any, path: str) -> Iterator[str]:
    for name in schema.get("required", ()):
        if name not in value:
            yield f"{path}: lacks {name}"
    if len(value) > schema.get("maxProperties", len(value)):
        yield f"{path}: too many"
    for name, item in value.items():
        rule = schema.get("properties", {}).get(name, schema.get("additionalProperties", True))
        yield from problems(item, rule, root, f"{path}.{name}")
