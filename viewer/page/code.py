"""The findings as the page tells them: sentence, what to do, place, size, and the program about the line.

The law: worst first, every one, in full; a program's line is shown as it stands, its tabs as blanks, and what
is not printable is made visible.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ...parser.finding import Finding, Severity
from ...parser.source import Source
from ...sim.result import Result
from ..layout import clean
from ..manual import why
from ..terminal import reading_of, repeats, size, where

AROUND = 3  # lines shown before and after
LONGEST = 400  # characters of a line that are shown
WORDS = {Severity.STOP: "STOP", Severity.CAUTION: "LOOK", Severity.NOTE: "NOTE"}


@dataclass(frozen=True)
class CodeLine:
    """A line of a program; `caret` stands under it, "" where nothing is pointed at."""

    number: int
    text: str
    here: bool
    caret: str


@dataclass(frozen=True)
class Told:
    """A finding in words. `line`: "face.nc line 119", "" where it has none; `at`: "x,y,z" in mm of the board
    frame, "" where it has no place; `goal`: the part of the page that shows it."""

    number: int
    severity: str
    word: str
    kind: str
    message: str
    advice: str
    line: str
    rows: tuple[tuple[str, str], ...]
    source: str
    at: str
    goal: str
    code: tuple[CodeLine, ...]


def findings_of(result: Result) -> list[Told]:
    """Every finding, worst first, numbered from 1."""
    return [told(result, found, number) for number, found in enumerate(result.findings, 1)]


def told(result: Result, found: Finding, number: int) -> Told:
    line = f", line {found.line}" if found.line else ""
    source = f"{found.program or 'the job'}{line}" + (f", stage {found.stage}" if found.stage else "")
    units = result.job.units
    return Told(number, found.severity.word, WORDS[found.severity], found.kind,
                clean(found.message(units) + repeats(found)), clean(found.advice(units)),
                clean(f"{found.program} line {found.line}") if found.line else "",
                tuple(rows(result, found)), clean(source), place_of(found), goal(result, found, number),
                tuple(code(source_of(result, found), found)))


def rows(result: Result, found: Finding) -> Iterator[tuple[str, str]]:
    """Where, how much, why it matters."""
    if found.shown is not None:
        yield "where", clean(where(found, result))
    if found.value is not None:
        yield "size", clean(size(found, result))
    if reason := why(found.kind):
        yield "why", reason


def place_of(found: Finding) -> str:
    if found.at is None or not np.isfinite(found.at).all():
        return ""
    return ",".join(f"{v:.4f}" for v in found.at)


def goal(result: Result, found: Finding, number: int) -> str:
    """Its mark on its stage's plan, where it has one."""
    drawn = place_of(found) and any(stage.name == found.stage for stage in result.stages)
    return f"plan-{number}" if drawn else "plan"


def source_of(result: Result, found: Finding) -> Source | None:
    """The text that the finding's line belongs to."""
    reading = reading_of(result, found.stage)
    return reading.source if reading is not None else result.job.sources.get(found.stage)


def code(source: Source | None, found: Finding) -> Iterator[CodeLine]:
    """The lines about the finding's, with a caret under its words."""
    if source is None or not found.line or not source.line(found.line).strip():
        return
    last = min(found.line + AROUND, len(source.lines))
    for number in range(max(1, found.line - AROUND), last + 1):
        text = source.line(number).replace("\t", " ")
        here = number == found.line
        yield CodeLine(number, clean(text[:LONGEST]), here, caret(text, found) if here else "")


def caret(text: str, found: Finding) -> str:
    """Under the words that are meant; under the whole line where the finding names none."""
    start = found.column or len(text) - len(text.lstrip()) + 1
    stop = max(start + 1, found.end_column) if found.column else len(text.rstrip()) + 1
    return " " * (start - 1) + "^" * min(stop - start, max(1, LONGEST - start))
