"""The keys of each table of a job file and what each accepts, told from the dataclasses of job.py.

The law: nothing is listed twice. A field added to job.py is a key here at once, with its words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import is_dataclass
from enum import EnumType
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from .job import LOADED, Job
from .quantities import said
from .toml_places import Path


@cache
def keys_of(table: type) -> Mapping[str, Any]:
    """The keys that a table of a job file may hold, each with its type."""
    hints = get_type_hints(table, include_extras=True)
    fields: Mapping[str, Any] = table.__pydantic_fields__  # type: ignore[attr-defined]
    hidden = LOADED if table is Job else frozenset()
    return {f.alias or name: hints[name] for name, f in fields.items() if name not in hidden}


def table_in(annotation: Any) -> type | None:
    """The one dataclass that a type is, lists or may be; None where it holds no table."""
    if isinstance(annotation, type) and is_dataclass(annotation):
        return annotation
    return next((found for each in get_args(annotation) if (found := table_in(each))), None)


def tables_in(tree: Mapping[str, Any], table: type = Job, path: Path = ()
              ) -> Iterator[tuple[Path, type, Mapping[str, Any]]]:
    """Every table of a TOML tree with its path and its dataclass, outer ones first."""
    yield path, table, tree
    for key, annotation in keys_of(table).items():
        inner = table_in(annotation)
        value = tree.get(key)
        if inner is None:
            continue
        if isinstance(value, Mapping):
            yield from tables_in(value, inner, (*path, key))
        for number, each in enumerate(value if isinstance(value, list) else ()):
            if isinstance(each, Mapping):
                yield from tables_in(each, inner, (*path, key, number))


def annotation_at(path: Path) -> Any:
    """The type of the value at a key path, None where no such key is."""
    annotation: Any = Job
    for part in path:
        annotation = _element(annotation, part) if isinstance(part, int) else _member(annotation, part)
    return annotation


def _member(annotation: Any, key: str) -> Any:
    table = table_in(annotation)
    if table is not None:
        return keys_of(table).get(key)
    return next((get_args(each)[1] for each in _options(annotation) if get_origin(each) is Mapping), None)


def _element(annotation: Any, number: int) -> Any:
    for option in _options(annotation):
        inside = get_args(option)
        if get_origin(option) is tuple:
            return inside[0] if inside[-1] is Ellipsis else inside[min(number, len(inside) - 1)]
    return annotation


def _options(annotation: Any) -> Iterator[Any]:
    """The plain types of a type: without their words, a choice as its members."""
    if get_origin(annotation) in (Annotated, Union, UnionType):
        inside = get_args(annotation)
        for each in inside[:1] if get_origin(annotation) is Annotated else inside:
            yield from _options(each)
    else:
        yield annotation


def accepted(annotation: Any) -> str:
    """What a type accepts, for a person: "a number over 0", "\\"mm\\" or \\"inch\\"", "a list of tables"."""
    if words := said(annotation):
        return words
    origin, inside = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return accepted(inside[0])
    if origin in (Union, UnionType):
        return " or ".join(accepted(each) for each in inside if each is not NoneType)
    if origin is Literal:
        return _one_of(inside)
    if isinstance(annotation, EnumType):
        return _one_of(tuple(annotation))
    if origin is tuple:
        return "a list of tables" if table_in(annotation) else "a list"
    return "a table"


def _one_of(values: tuple) -> str:
    words = [f'"{v}"' if isinstance(v, str) else str(v) for v in values]
    return " or ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def table_of_key(key: str, table: type = Job, name: str = "") -> str | None:
    """The first table of a job file that knows a key: "[board]", "[[cutters]]"; None where none does."""
    if name and key in keys_of(table):
        return name
    for inner, annotation in keys_of(table).items():
        found = table_in(annotation)
        if found is not None and not name:
            many = next(_options(annotation)) is not found and get_origin(next(_options(annotation))) is tuple
            if where := table_of_key(key, found, f"[[{inner}]]" if many else f"[{inner}]"):
                return where
    return None
