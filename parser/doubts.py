"""Where a program's meaning hangs on a key that no one has confirmed: read again, the other way.

The law: a doubt is raised only where another value of a key really gives other motion, at the first line
that it changes, and not where a control that reads it so refuses that line. A reading names the keys that
it met (`Reading.doubts`); no other key is tried.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import zip_longest
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .conditions import CONDITIONS
from .dialect import Dialect
from .dialect_keys import KEYS
from .finding import Finding, Phrase, Point, Severity, finding
from .interpreter import read_program, read_until
from .motion import Motion
from .reading import Doubt, Reading, Setting

CLOSE = 1e-6  # mm: nearer places are one place


@dataclass(frozen=True)
class Other:
    """A second reading: the key and the value that made it, the first line that moves elsewhere, and by how
    much the paths part at most (mm; NaN where they cannot be held against each other). `here` and `there`
    are the ends of the first such move as the control shows them, None where its end is the same."""

    doubt: Doubt
    value: Any
    taken: Any
    line: int
    apart: float
    reading: Reading
    here: Point | None = None
    there: Point | None = None


def other_readings(reading: Reading, dialect: Dialect, setting: Setting = Setting()) -> tuple[Other, ...]:  # noqa: B008
    """The program read with each other value of each key that it met, where that moves elsewhere."""
    return tuple(others(reading, dialect, setting))


def others(reading: Reading, dialect: Dialect, setting: Setting = Setting()) -> Iterator[Other]:  # noqa: B008
    """The same one after the other, so that no more than two readings are held at a time. A program that does
    not come to an end is not read again."""
    if any(found.kind == "flow-endless" for found in reading.findings):
        return
    own = replace(setting, at=reading.begins)  # of a file with several programs the same one
    met = {doubt.key: doubt for doubt in reversed(reading.doubts)}
    for key, doubt in sorted(met.items()):
        for value in dialect.alternatives.get(key, ()):
            second = _read_otherwise(reading, dialect.with_values({key: value}), own)
            line = None if second is None else differs(reading, second)
            if second is not None and line is not None and not refused(reading, second, line):
                here, there = ends(reading.motion, second.motion)
                yield Other(doubt, value, dialect[key], line, apart(reading.motion, second.motion), second,
                            here, there)


def _read_otherwise(reading: Reading, dialect: Dialect, setting: Setting) -> Reading | None:
    """The other reading; None where a control that reads it so stops before it moves elsewhere."""
    stops = _stops(reading, sys.maxsize)
    second, come = read_until(reading.source, dialect, setting, stops)
    if come is None:
        return second
    moves, events = come
    same = moves <= len(reading.motion) and same_moves(reading.motion, second.motion)[:moves].all()
    if same and second.motion.events[:events] == reading.motion.events[:events]:
        return None
    return read_program(reading.source, dialect, setting)


def refused(reading: Reading, other: Reading, line: int) -> bool:
    """Whether a control that reads it the other way stops before it moves elsewhere: no move is in doubt."""
    return bool(_stops(other, line) - _stops(reading, line))


def _stops(reading: Reading, line: int) -> set[tuple[str, int]]:
    return {(f.kind, f.line) for f in reading.findings if f.severity is Severity.STOP and 0 < f.line <= line}


def doubted(others: Iterable[Other]) -> tuple[Finding, ...]:
    """What is said of the keys that matter to a program: one finding a key, by its farthest value."""
    farthest: dict[str, tuple[float, Finding]] = {}
    for other in others:
        known = farthest.get(other.doubt.key)
        if known is None or not other.apart <= known[0]:
            farthest[other.doubt.key] = other.apart, doubtful(other)
    return tuple(said for _, said in farthest.values())


def doubtful(other: Other) -> Finding:
    """What is said of a second reading that moves elsewhere."""
    row = CONDITIONS["key-decides"]
    numbers = {"says": KEYS[other.doubt.key].says, "key": other.doubt.key, "taken": _said(other.taken),
               "value": _said(other.value), "line": other.line, "where": _where(other)}
    return finding("word-doubtful", line=other.doubt.line, column=other.doubt.column, about=other.doubt.key,
                   what=Phrase(row.what, numbers), fix=Phrase(row.fix, numbers))


def _where(other: Other) -> Phrase:
    """Where to and how far, as far as it can be told."""
    if other.here is not None:
        numbers = {"here": other.here, "there": other.there, "apart": other.apart}
        return Phrase(": to {there:place} instead of {here:place}, {apart:length} apart at most", numbers)
    if isfinite(other.apart) and other.apart > CLOSE:
        return Phrase(", {apart:length} apart at most", {"apart": other.apart})
    return Phrase("", {})


def _said(value: Any) -> str:
    """A key's value as a dialect file would have it."""
    match value:
        case str():
            return f'"{value}"'
        case list():
            return "[" + ", ".join(map(_said, value)) + "]"
    return str(value)


# --- holding two motions against each other ---

def differs(reading: Reading, other: Reading) -> int | None:
    """The first line on which two readings of one program move differently, None when they never do."""
    one, two = reading.motion, other.motion
    same = same_moves(one, two)
    if not same.all():
        row = int(np.argmin(same))
        return int(min(one.line[row], two.line[row]))
    if len(one) == len(two):
        return _other_events(one, two)
    return int((one if len(one) > len(two) else two).line[len(same)])


def same_moves(one: Motion, two: Motion) -> NDArray[np.bool_]:
    """(n,) for each row that both have: whether it is the same move, its spindle and coolant included."""
    shared = min(len(one), len(two))
    same = _same_arcs(one, two, shared)
    for name in ("line", "kind", "start", "end", "feed"):
        a, b = getattr(one, name)[:shared], getattr(two, name)[:shared]
        close = np.isclose(a, b, rtol=0.0, atol=CLOSE, equal_nan=True)
        same &= close.all(axis=1) if close.ndim == 2 else close
    for name in ("spindle", "speed", "mist", "flood"):
        same &= np.isclose(one.column(name)[:shared], two.column(name)[:shared], equal_nan=True)
    return same


def _same_arcs(one: Motion, two: Motion, shared: int) -> NDArray[np.bool_]:
    rows = []
    for motion in (one, two):
        table = np.column_stack((motion.arcs.centre, motion.arcs.sweep, motion.arcs.plane))
        rows.append(np.vstack((table, np.zeros((1, 4))))[motion.arc[:shared]])
    return np.asarray(np.isclose(rows[0], rows[1], rtol=0.0, atol=CLOSE).all(axis=1))


def _other_events(one: Motion, two: Motion) -> int | None:
    """What happens between the moves: stops, changes and dwells in another order or of another length."""
    for a, b in zip_longest(one.events, two.events):
        if a != b:
            return min(event.line for event in (a, b) if event is not None)
    return None


def ends(one: Motion, two: Motion) -> tuple[Point | None, Point | None]:
    """Where the first move that ends elsewhere goes in each, as the control shows it; None: there is none."""
    shared = min(len(one), len(two))
    gaps = np.linalg.norm(one.end[:shared] - two.end[:shared], axis=1)
    rows = np.flatnonzero(gaps > CLOSE)
    if not len(rows):
        return None, None
    row = int(rows[0])
    return one.shown(row, one.end[row]), two.shown(row, two.end[row])


def apart(one: Motion, two: Motion) -> float:
    """How far the ends of moves with the same row lie apart at most (mm), NaN where none can be compared."""
    shared = min(len(one), len(two))
    gaps = np.linalg.norm(one.end[:shared] - two.end[:shared], axis=1)
    gaps = gaps[np.isfinite(gaps)]
    return float(gaps.max()) if len(gaps) else float("nan")
