"""A dialect: how one family of controls reads a program, as data.

The law: what differs from control to control stands in a dialect file and nowhere else. A file names the
one it is built on (`inherits`) and the few keys that differ; the report's own has every key and condition.
A key given as `{ either = [a, b] }` is not confirmed: `a` is read first, the others are `alternatives`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache, cached_property
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from .dialect_keys import KEYS
from .finding import Severity

BASE = "report"
WEIGHTS = {"off": None, "note": Severity.NOTE, "caution": Severity.CAUTION, "stop": Severity.STOP}
HEAD = frozenset({"name", "title", "inherits", "conditions"})


class DialectError(ValueError):
    """A dialect file that cannot be used; the message says what is wrong and what would be accepted."""


@dataclass(frozen=True)
class Dialect:
    """How a control reads a program. `dialect["arc.tol"]` is one key's value, lists and tables as they are.

    alternatives: the other values of each key that is not confirmed · conditions: how each language
    condition weighs (None: it is legal here).
    """

    name: str
    title: str = ""
    values: Mapping[str, Any] = field(default_factory=dict)
    alternatives: Mapping[str, tuple[Any, ...]] = field(default_factory=dict)
    conditions: Mapping[str, Severity | None] = field(default_factory=dict)

    def __getitem__(self, key: str) -> Any:
        return self.values[key]

    def severity(self, condition: str) -> Severity | None:
        """How a condition weighs here, None where the dialect allows it. KeyError: no such condition."""
        return self.conditions[condition]

    def takes(self, code: str) -> bool:
        """Whether the control takes a code ("G1", "M98"); "*" among the codes stands for all."""
        taken = self.values["codes.taken"]
        return "*" in taken or code in taken

    @cached_property
    def variants(self) -> Mapping[str, tuple[Dialect, ...]]:
        """For each key that is not confirmed: this dialect with each of its other values."""
        return {key: tuple(self.with_values({key: other}) for other in others)
                for key, others in self.alternatives.items()}

    def with_values(self, values: Mapping[str, Any]) -> Dialect:
        """The same with some keys settled: they are no alternatives any more."""
        for key, value in values.items():
            _answer(self.name, key, value)
        left = {key: others for key, others in self.alternatives.items() if key not in values}
        return replace(self, values=MappingProxyType({**self.values, **values}),
                       alternatives=MappingProxyType(left))


def shipped() -> tuple[str, ...]:
    """The names of the dialects that come with the program, sorted."""
    found = files(__name__.rpartition(".")[0]).joinpath("dialects").iterdir()
    return tuple(sorted(f.name[:-5] for f in found if f.name.endswith(".toml")))


def load_dialect(name_or_text: str, *, name: str = "") -> Dialect:
    """A shipped dialect by its name, or one from the text of a dialect file (called `name` in messages).

    Raises DialectError, with one clear reason, for an unknown name or a file that cannot be used.
    """
    if "\n" in name_or_text or "=" in name_or_text:
        return _built(name_or_text, name or "the dialect file", ())
    return _shipped(name_or_text)


@cache
def _shipped(name: str, builders: tuple[str, ...] = ()) -> Dialect:
    if name not in shipped():
        raise DialectError(f'no dialect is called "{name}"; {_nearest(name, shipped())}')
    text = files(__name__.rpartition(".")[0]).joinpath("dialects", f"{name}.toml").read_text(encoding="utf-8")
    return _built(text, name, builders)


def _built(text: str, name: str, builders: tuple[str, ...]) -> Dialect:
    try:
        written = tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        raise DialectError(f"{name}: {bad}") from None
    parent = _parent(written, name, builders)
    values, others = dict(parent.values), dict(parent.alternatives)
    for key, value in _flat(name, written):
        first, *more = _readings(name, key, value)
        values[key] = first
        others.pop(key, None)
        if more:
            others[key] = tuple(more)
    conditions = {**parent.conditions, **_conditions(name, written.get("conditions", {}), parent)}
    return Dialect(
        _text(name, written, "name") or name, _text(name, written, "title"),
        MappingProxyType(values), MappingProxyType(others), MappingProxyType(conditions))


def _parent(written: Mapping[str, Any], name: str, builders: tuple[str, ...]) -> Dialect:
    above = _text(name, written, "inherits")
    if name == BASE:
        return Dialect(BASE)
    if not above:
        raise DialectError(f'{name}: inherits is missing: write inherits = "{BASE}", or another of '
                           f"{', '.join(shipped())}")
    if above in builders:
        raise DialectError(f"{name}: inherits goes round in a circle: {' > '.join((*builders, name, above))}")
    return _shipped(above, (*builders, name))


def _text(name: str, written: Mapping[str, Any], key: str) -> str:
    value = written.get(key, "")
    if not isinstance(value, str):
        raise DialectError(f"{name}: {key} is {value!r}; a text in quotes is wanted")
    return value


def _flat(name: str, written: Mapping[str, Any]) -> Iterable[tuple[str, Any]]:
    """`arc.tol = …` and `[arc] tol = …` are one and the same key."""
    for subject, questions in written.items():
        if subject in HEAD:
            continue
        if not isinstance(questions, dict):
            raise DialectError(f"{name}: {subject} is no key; {_nearest(subject, KEYS)}")
        for question, value in questions.items():
            yield f"{subject}.{question}", value


def _readings(name: str, key: str, value: Any) -> list[Any]:
    unconfirmed = isinstance(value, dict) and value.keys() == {"either"}
    readings = value["either"] if unconfirmed else [value]
    if not isinstance(readings, list) or not readings:
        raise DialectError(f"{name}: {key}: either wants a list of values")
    for each in readings:
        _answer(name, key, each)
    return readings


def _answer(name: str, key: str, value: Any) -> None:
    """Raises DialectError unless the value answers the key's question."""
    if key not in KEYS:
        raise DialectError(f"{name}: {key} is no key; {_nearest(key, KEYS)}")
    if not KEYS[key].takes(value):
        raise DialectError(f"{name}: {key} is {value!r}; {KEYS[key].wanted} is wanted")


def _conditions(name: str, written: Any, parent: Dialect) -> dict[str, Severity | None]:
    if not isinstance(written, dict):
        raise DialectError(f"{name}: conditions is {written!r}; a table is wanted")
    for condition, weight in written.items():
        if name != BASE and condition not in parent.conditions:
            raise DialectError(f"{name}: conditions.{condition} is no condition; "
                               f"{_nearest(condition, parent.conditions)}")
        if not isinstance(weight, str) or weight not in WEIGHTS:
            raise DialectError(f"{name}: conditions.{condition} is {weight!r}; "
                               f"{', '.join(WEIGHTS)} are possible")
    return {condition: WEIGHTS[weight] for condition, weight in written.items()}


def _nearest(word: str, known: Iterable[str]) -> str:
    words = list(known)
    near = get_close_matches(word, words, 1, 0.5)
    if near:
        return f"is {near[0]} meant?"
    return f"known are {', '.join(words[:8])}" + (f" and {len(words) - 8} more" if len(words) > 8 else "")
