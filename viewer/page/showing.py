"""What the page's player shows besides the board: how long each move takes, which cutter makes it, where a
person is waited for.

The law: times are the simulation's; a rapid whose rate nobody gave goes at UNTIMED. Millimetres, seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...parser.motion import Happening
from ...sim.result import Result, StageRecord
from ..layout import clean
from ..standing import stop_words
from ..timeline import RAPID as UNTIMED


def shown_seconds(record: StageRecord) -> NDArray[np.float64]:
    """(n,) seconds of each move, what waits before it included; a rapid of no known rate gets one."""
    motion = record.reading.motion
    spent = np.zeros(len(motion)) if record.seconds is None else np.nan_to_num(record.seconds)
    length = np.nan_to_num(motion.length())
    spent = np.where((spent <= 0) & (length > 0), length * 60 / UNTIMED, spent)
    for event in motion.events:
        if event.kind is Happening.DWELL and event.before < len(spent):
            spent[event.before] += event.value
    return spent


def cutters(record: StageRecord) -> tuple[list[dict[str, Any]], NDArray[np.int16]]:
    """The cutters in the order in which they first move, as label and measures; (n,) whose each move is, or
    -1."""
    seen: dict[int, int] = {}
    made: list[dict[str, Any]] = []
    which = np.full(len(record.reading.motion), -1, np.int16)
    for row, cutter in enumerate(record.cutters if record.cutters is not None else ()):
        if cutter is None:
            continue
        if id(cutter) not in seen:
            seen[id(cutter)] = len(made)
            made.append({"label": clean(cutter.label), "r": (cutter.diameter or 6.0) / 2,
                         "flute": cutter.flute_length or cutter.diameter or 6.0,
                         "shank": (cutter.shank or cutter.diameter or 6.0) / 2,
                         "stickout": cutter.stickout or 0.0})
        which[row] = seen[id(cutter)]
    return made, which


def stops(result: Result, number: int) -> Iterator[dict[str, Any]]:
    """Where a stage's program stands still for a person, and what that person does."""
    written = next(s for s in result.job.stages if s.name == result.stages[number].name)
    for event, words in stop_words(written, result.records[number].reading, result.job.units):
        yield {"before": event.before, "line": event.line, "text": clean(words)}


def nose(result: Result) -> list[tuple[float, float]]:
    """The nose as (radius, length) from below."""
    return [(part.diameter / 2, part.length) for part in result.job.machine.nose or ()]
