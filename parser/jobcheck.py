"""A TOML tree against the dataclasses of the job: unknown keys, missing ones, wrong types, bad values.

The law: pydantic decides what is right; what would be accepted is told from the types, so that the words
and the rule cannot differ.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from .job import Job
from .jobkeys import accepted, annotation_at, keys_of, table_of_key, tables_in
from .mistakes import Report, nearest
from .quantities import LARGEST
from .toml_places import Path

JOB = TypeAdapter(Job)
QUOTED_NUMBER = re.compile(r"found [\"']\s*[-+]?[\d.]")
SURELY = 0.75  # so like a key that it is that key misspelt


def without_unknown_keys(tree: Mapping[str, Any], report: Report) -> dict[str, Any]:
    """The tree with the keys that a job file knows; every other one is told to `report`.

    A misspelt key goes on under the name that was surely meant, so that nothing is said to be missing
    that is only misspelt.
    """
    known = deepcopy(dict(tree))
    for path, table, values in tables_in(known):
        for key in [k for k in values if k not in keys_of(table)]:
            report.key((*path, key), "unknown key", _instead(key, table))
            value = values.pop(key)  # type: ignore[attr-defined]
            misspelt = nearest(key, keys_of(table), SURELY)
            if misspelt is not None and misspelt not in values:
                values[misspelt] = value  # type: ignore[index]
                report.places.rename((*path, key), (*path, misspelt))
    return known


def _instead(key: str, table: type) -> str:
    close = nearest(key, keys_of(table))
    if close is not None:
        return f'did you mean "{close}"?'
    home = table_of_key(key)
    return f'"{key}" belongs to {home}' if home else f"this table knows: {', '.join(keys_of(table))}"


def validated(tree: Mapping[str, Any], report: Report) -> Job | None:
    """The job in millimetres, None where a value is wrong; each wrong one is told to `report`."""
    try:
        return JOB.validate_python(tree, context={"inch": tree.get("units") == "inch"})
    except ValidationError as errors:
        _tell(tree, errors.errors(include_url=False, include_context=False), report)
        return None


def _tell(tree: Mapping[str, Any], errors: list[ErrorDetails], report: Report) -> None:
    """Each wrong place once; where something inside a value is wrong, that alone."""
    wrong = {}
    for error in errors:
        missing = error["type"] == "missing" and isinstance(error["loc"][-1], str)
        path = _in_tree(tree, error["loc"][:-1] if missing else error["loc"])
        wrong[(*path, error["loc"][-1]) if missing else path] = (missing, error["type"])
    for path, (missing, type_) in wrong.items():
        if not any(path == other[:len(path)] and path != other for other in wrong):
            _tell_one(path, missing, type_, report)


def _tell_one(path: Path, missing: bool, type_: str, report: Report) -> None:
    words, found = accepted(annotation_at(path)), report.found(path)
    if type_ == "less_than_equal":
        words += f", no more than {LARGEST:,.0f}"
    if QUOTED_NUMBER.match(found) and words.startswith(("a number", "one number", "a whole number")):
        words += ', without quotes and unit: units = "mm" or "inch" says what it is in'
    report.value(path, "missing" if missing else found, f"give {words}")


def _in_tree(tree: Any, loc: tuple[int | str, ...]) -> Path:
    """The part of an error's place that the tree really has: names of alternatives are left out."""
    path: Path = ()
    for part in loc:
        inside: Any = dict(enumerate(tree)) if isinstance(tree, list) else tree
        if isinstance(inside, Mapping) and part in inside:
            tree, path = inside[part], (*path, part)
    return path
