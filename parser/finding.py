"""A finding is data: a kind, a place and its numbers. Its sentence is derived, here and nowhere else.

The law: kinds.toml is the registry of kinds. A finding carries exactly the numbers that its kind's
sentence and advice use; `finding()` refuses any other, so no number goes unsaid and no blank unfilled.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import IntEnum
from functools import cache
from importlib.resources import files
from string import Formatter
from types import MappingProxyType
from typing import Any

from .units import DIMENSIONS, Units

Point = tuple[float, float, float]


class Severity(IntEnum):
    """How a finding weighs: only `CAUTION` and `STOP` change the verdict."""

    NOTE = 0
    CAUTION = 1
    STOP = 2

    @property
    def word(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Kind:
    """One row of the registry: what a finding of this kind measures, and how it is said.

    `value` and `limit` name what the two numbers measure ("" when there is none), `unit` their
    dimension (a key of `units.DIMENSIONS`), `limit_default` the limit when the job gives none.
    """

    name: str
    severity: Severity
    sentence: str
    advice: str
    value: str = ""
    limit: str = ""
    unit: str = ""
    limit_default: float | None = None

    @property
    def placeholders(self) -> frozenset[str]:
        return placeholders(self.sentence) | placeholders(self.advice)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found, in millimetres and the board frame.

    `line` counts from 1 (0: no line is to blame); `column` and `end_column` count from 1 within that
    line (0: the whole line). `at` is the board frame, `shown` what the control shows there. `numbers`
    fill the kind's templates; `lines` is (first, last) and `count` how many were folded into this one.
    """

    kind: str
    severity: Severity
    line: int = 0
    column: int = 0
    end_column: int = 0
    at: Point | None = None
    shown: Point | None = None
    value: float | None = None
    limit: float | None = None
    about: str = ""
    numbers: Mapping[str, Any] = field(default_factory=dict)
    stage: str = ""
    program: str = ""
    last_line: int = 0
    count: int = 1

    @property
    def lines(self) -> tuple[int, int]:
        return self.line, max(self.line, self.last_line)

    @property
    def unit(self) -> str:
        """The dimension of `value` and `limit` (a key of `units.DIMENSIONS`)."""
        return registry()[self.kind].unit

    def message(self, units: Units = Units.MM) -> str:
        """What was found, as a sentence in the job's unit."""
        return _opened(fill(registry()[self.kind].sentence, self, units))

    def advice(self, units: Units = Units.MM) -> str:
        """What to change, as a sentence in the job's unit."""
        return _opened(fill(registry()[self.kind].advice, self, units))


OWN_FIELDS = frozenset({"value", "limit", "about", "at", "shown", "line", "stage", "program"})


def finding(kind: str, *, severity: Severity | None = None, line: int = 0, column: int = 0,
            end_column: int = 0, at: Iterable[float] | None = None, shown: Iterable[float] | None = None,
            value: float | None = None, limit: float | None = None, about: str = "",
            stage: str = "", program: str = "", **numbers: Any) -> Finding:
    """A finding of `kind`, with the registry's severity unless another is given.

    Raises KeyError for a kind that the registry lacks, ValueError when `numbers` are not exactly the
    kind's placeholders: both are mistakes of ours, never of an input.
    """
    entry = registry()[kind]
    wanted = entry.placeholders - OWN_FIELDS
    if wanted != numbers.keys():
        raise ValueError(f"{kind}: templates use {sorted(wanted)}, given {sorted(numbers)}")
    return Finding(kind, entry.severity if severity is None else severity, int(line), column, end_column,
                   _point(at), _point(shown), _number(value), _number(limit), about,
                   numbers, stage, program)


def fold(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Repeats of one kind about one thing become one: the first place, the worst value, a count.

    Findings come back in the order in which their first one came.
    """
    folded: dict[tuple, Finding] = {}
    for found in findings:
        what = found.numbers.get("what")  # no sentence of one stands at another's line
        said = what.template if isinstance(what, Phrase) else ""
        key = (found.stage, found.program, found.kind, found.severity, found.about, said)
        folded[key] = _merge(folded[key], found) if key in folded else found
    return tuple(folded.values())


def _merge(first: Finding, later: Finding) -> Finding:
    worse = _excess(later) > _excess(first)
    return replace(
        first, count=first.count + later.count,
        last_line=max(first.lines[1], later.lines[1]),
        value=later.value if worse else first.value,
        limit=later.limit if worse else first.limit,
        numbers=later.numbers if worse else first.numbers)


def _excess(found: Finding) -> float:
    """How far a value lies beyond its limit, whichever side is the wrong one."""
    if found.value is None:
        return -1.0
    return abs(found.value - (found.limit or 0.0))


@cache
def registry() -> Mapping[str, Kind]:
    """The kinds of kinds.toml by name, in its order."""
    text = files("proveout.parser").joinpath("kinds.toml").read_text(encoding="utf-8")
    return MappingProxyType({name: _kind(name, row) for name, row in tomllib.loads(text).items()})


def _kind(name: str, row: dict) -> Kind:
    return Kind(name=name, **{**row, "severity": Severity[row["severity"].upper()]})


def placeholders(template: str) -> frozenset[str]:
    """The names that a template's blanks use."""
    return frozenset(name for _, name, _, _ in Formatter().parse(template) if name)


def fill(template: str, found: Finding, units: Units) -> str:
    """The template with its blanks filled: `{name:dimension}` in the job's unit, `{name}` as text,
    `{name:place}` as "X.. Y.. Z..". A missing value reads "unknown"."""
    own = {name: getattr(found, name) for name in OWN_FIELDS}
    return _filled(template, {**own, **found.numbers}, units)


def _filled(template: str, blanks: Mapping[str, Any], units: Units) -> str:
    return "".join(text + ("" if name is None else _said(blanks[name], spec or "", units))
                   for text, name, spec, _ in Formatter().parse(template))


def _opened(sentence: str) -> str:
    """A sentence begins with a capital, also where it begins with a name that has none."""
    return sentence[:1].upper() + sentence[1:]


@dataclass(frozen=True, slots=True)
class Phrase:
    """A blank that is a template of its own: its numbers are shown in the job's unit, too."""

    template: str
    numbers: Mapping[str, Any]

    def said(self, units: Units = Units.MM) -> str:
        return _filled(self.template, self.numbers, units)


def _said(value: Any, spec: str, units: Units) -> str:
    if value is None:
        return "unknown"
    if isinstance(value, Phrase):
        return value.said(units)
    if spec == "place":
        return place(value, units)
    if spec in DIMENSIONS and spec and isinstance(value, int | float):
        return units.text(float(value), spec)
    return str(value)


def place(point: Iterable[float], units: Units) -> str:
    """A point as a control shows it: "X325 Y150 Z-5.8"; an unknown coordinate is "?"."""
    return " ".join(letter + ("?" if v is None or v != v else units.digits(float(v)))
                    for letter, v in zip("XYZ", point, strict=False))


def _point(values: Iterable[float] | None) -> Point | None:
    if values is None:
        return None
    x, y, z = (float(v) for v in values)
    return x, y, z


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)
