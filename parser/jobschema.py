"""The job file as a JSON Schema, for editors that complete and check keys while a person writes.

The law: it is made from the same dataclasses that read the file, so it accepts what they accept key by key;
what holds between keys is told by a check alone. Draft 2020-12, as pydantic writes it.
"""

from __future__ import annotations

from functools import cache
from typing import Any, get_args

from pydantic import TypeAdapter
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from .job import LOADED, Job
from .jobheights import ONE_OR_MORE
from .jobkeys import accepted, annotation_at, keys_of, table_in
from .quantities import SEVERAL

DRAFT = "https://json-schema.org/draft/2020-12/schema"


class _Plain(GenerateJsonSchema):
    """What the loader adds to a Job has no schema: it is no part of the file."""

    def handle_invalid_for_json_schema(self, schema: Any, error_info: str) -> JsonSchemaValue:
        return {}


def job_schema() -> dict[str, Any]:
    """The schema as plain JSON: every key with its type, bounds, default, and what it accepts in words."""
    made = TypeAdapter(Job).json_schema(by_alias=True, schema_generator=_Plain)
    for key in LOADED:
        made["properties"].pop(key, None)
    tables = {table.__name__: table for table in every_table(Job)}
    for name, schema in [("Job", made), *made["$defs"].items()]:
        if name in tables:
            with_words(schema, tables[name])
    made["$defs"] = {name: made["$defs"][name] for name in sorted(used(made, made["$defs"]))}
    return {"$schema": DRAFT, "title": "a job of proveout", **{k: v for k, v in made.items() if k != "title"}}


def every_table(table: type) -> set[type]:
    """A table and all that it holds."""
    found = {table}
    for annotation in keys_of(table).values():
        inner = table_in(annotation)
        found |= every_table(inner) if inner is not None else set()
    return found


def with_words(schema: dict[str, Any], table: type) -> None:
    """Each key says what a person would be told that it accepts; no key is ever null, for TOML has no such
    value."""
    for key, annotation in keys_of(table).items():
        made = without_null(schema["properties"][key])
        made.pop("title", None)
        if (table, key) in one_or_more():
            made = {k: v for k, v in made.items() if k != "default"} | {"minItems": 1}
        if SEVERAL in get_args(annotation):
            listed = {k: made.pop(k) for k in ("type", "items", "minItems")}
            made = {"anyOf": [listed, made_items(annotation)], **made}
        schema["properties"][key] = {**made, "description": accepted(annotation)}


@cache
def one_or_more() -> frozenset[tuple[type | None, str]]:
    """(table, key) of the lists that an empty one is refused for."""
    paths = [[0 if part == "*" else part for part in pattern.split(".")] for pattern in ONE_OR_MORE]
    return frozenset((table_in(annotation_at(tuple(path[:-1]))), str(path[-1])) for path in paths)


def without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """A key that may be left out, as what it is when it is there."""
    kinds = [each for each in schema.get("anyOf", ()) if each != {"type": "null"}]
    plain = {k: v for k, v in schema.items() if k != "anyOf" and (k, v) != ("default", None)}
    if not kinds:
        return plain
    return {**plain, **kinds[0]} if len(kinds) == 1 else {**plain, "anyOf": kinds}


def made_items(annotation: Any) -> dict[str, Any]:
    """The table that may stand for a list of one."""
    table = table_in(annotation)
    assert table is not None
    return {"$ref": f"#/$defs/{table.__name__}"}


def used(schema: Any, tables: dict[str, Any]) -> set[str]:
    """The names of the definitions that a schema refers to, directly or not."""
    found, left = set(), [{k: v for k, v in schema.items() if k != "$defs"}]
    while left:
        each = left.pop()
        if isinstance(each, dict):
            name = str(each.get("$ref", "")).rpartition("/")[2]
            if name in tables and name not in found:
                found.add(name)
                left.append(tables[name])
            left += each.values()
        elif isinstance(each, list):
            left += each
    return found
