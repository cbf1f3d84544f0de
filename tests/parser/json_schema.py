"""A checker of JSON Schema, written after the published draft 2020-12: type, properties, required, items,
prefixItems, anyOf, const, enum, bounds, $ref. An oracle beside pydantic, which reads job files."""

from __future__ import annotations

import json

KINDS = {"object": dict, "array": list, "string": str, "boolean": bool, "integer": int,
         "number": (int, float)}


def wrong(value, schema, whole) -> str:
    """Why a value does not keep to a schema, "" where it does."""
    if "$ref" in schema:
        return wrong(value, whole["$defs"][schema["$ref"].rpartition("/")[2]], whole)
    if "anyOf" in schema:
        return "" if any(not wrong(value, each, whole) for each in schema["anyOf"]) else f"{value}: no kind"
    if "const" in schema and value != schema["const"]:
        return f"{value} is not {schema['const']}"
    if "enum" in schema and value not in schema["enum"]:
        return f"{value} is none of {schema['enum']}"
    kind = schema.get("type")
    if kind and (not isinstance(value, KINDS[kind]) or (isinstance(value, bool) and kind != "boolean")):
        return f"{value} is no {kind}"
    if kind == "object":
        return _object(value, schema, whole)
    if kind == "array":
        return _array(value, schema, whole)
    for key, broken in (("minimum", lambda a, b: a < b), ("maximum", lambda a, b: a > b),
                        ("exclusiveMinimum", lambda a, b: a <= b), ("exclusiveMaximum", lambda a, b: a >= b),
                        ("minLength", lambda a, b: len(a) < b)):
        if key in schema and broken(value, schema[key]):
            return f"{value}: {key} {schema[key]}"
    return ""


def _object(value, schema, whole) -> str:
    known, more = schema.get("properties", {}), schema.get("additionalProperties", True)
    missing = set(schema.get("required", ())) - set(value)
    if missing or (more is False and set(value) - set(known)):
        return f"{missing or set(value) - set(known)}"
    every = {key: known.get(key, more) for key in value}
    return next(filter(None, (wrong(value[key], each, whole) for key, each in every.items()
                              if isinstance(each, dict))), "")


def _array(value, schema, whole) -> str:
    if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
        return f"{value}: how many"
    kinds = schema.get("prefixItems", [])
    kinds = [*kinds, *[schema.get("items", {})] * (len(value) - len(kinds))]
    found = (wrong(each, kind, whole) for each, kind in zip(value, kinds, strict=False))
    return next(filter(None, found), "")


def plain(value):
    """Dates as JSON would have them."""
    return json.loads(json.dumps(value, default=str))
