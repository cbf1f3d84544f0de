"""What the page needs to cut the board again: each stage's sweeps, its moves in time, what stands when.

The law: the sweeps are the simulation's own, made by the same function; the page cuts with the same closed
forms, so that its board is the simulation's at every moment (tests hold it to that). Millimetres, seconds.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...parser.job import Stage
from ...parser.motion import Happening, Move
from ...sim.kernels import sweep as k
from ...sim.result import Result, StageRecord
from ...sim.sweeps import Sweeps, sweeps_of
from ..layout import clean
from ..scene import Path
from ..standing import stop_words
from ..timeline import RAPID as UNTIMED
from .packing import numbers

MOST_SWEEPS = 250_000  # with more the page would be a burden; the window replays those
STRAIGHT = [k.SX, k.SY, k.SZ, k.EX, k.EY, k.M]
ARC = [k.CX, k.CY, k.AR, k.L]


def replay_of(result: Result, path: Path) -> dict[str, Any] | None:
    """Every reported stage, in order, and the nose as (radius, length) from below; None where the result kept
    no moves, none that cuts, or too many."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    if not kept or any(r.cutters is None or r.seconds is None or r.cut is None for r in kept):
        return None
    if sum(len(record.reading.motion) for record in kept) > MOST_SWEEPS:
        return None
    swept = [cuts(result, record) for record in kept]
    if not 0 < sum(len(each.numbers) for each in swept) <= MOST_SWEEPS:
        return None
    nose = [(part.diameter / 2, part.length) for part in result.job.machine.nose or ()]
    return {"stages": [stage(result, number, each, path) for number, each in enumerate(swept)], "nose": nose}


def cuts(result: Result, record: StageRecord) -> Sweeps:
    """The stage's sweeps without the looks that rapids take first."""
    made = sweeps_of(record.reading.motion, list(record.cutters if record.cutters is not None else ()),
                     result.surface.cell, record.tilt, record.rapid)
    cut = made.orders[:, k.ACT] != k.LOOK
    return Sweeps(made.numbers[cut], made.orders[cut], made.rounds, made.pieces)


def stage(result: Result, number: int, swept: Sweeps, path: Path) -> dict[str, Any]:
    """One stage: `line`, `seconds` and cutter of its n moves, its m sweeps, its p pieces of way."""
    record = result.records[number]
    motion, mine = record.reading.motion, path.stage == number
    arcs = swept.orders[:, k.PATH] != k.STRAIGHT
    written = next(s for s in result.job.stages if s.name == result.stages[number].name)
    return {
        "n": len(motion), "line": numbers(motion.line.astype("<i4")),
        "seconds": numbers(shown_seconds(record).astype("<f4")),
        "rapid": numbers((motion.kind == Move.RAPID).astype(np.uint8)),
        "m": len(swept.numbers), "move": numbers(swept.orders[:, k.MOVE].astype("<i4")),
        "kind": numbers((swept.orders[:, k.ROUND] * 16 + swept.orders[:, k.PATH] * 4
                         + swept.orders[:, k.ACT]).astype("<i4")),
        "straight": numbers(swept.numbers[:, STRAIGHT].astype("<f8")),
        "arcs": numbers(swept.numbers[arcs][:, ARC].astype("<f8")),
        "rounds": swept.rounds.tolist(), "rings": swept.pieces.tolist(),
        "p": int(mine.sum()), "ends": numbers(path.ends[mine].astype("<f4")),
        "of": numbers(path.move[mine].astype("<i4")), **cutters(record),
        "stops": list(stops(written, record, result)),
    }


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


def cutters(record: StageRecord) -> dict[str, Any]:
    """The cutters in the order in which they first move, as label and measures; and whose each move is."""
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
    return {"cutters": made, "cutter": numbers(which.astype("<i2"))}


def stops(written: Stage, record: StageRecord, result: Result) -> Iterator[dict[str, Any]]:
    """Where the program stands still for a person, and what that person does."""
    for event, words in stop_words(written, record.reading, result.job.units):
        yield {"before": event.before, "line": event.line, "text": clean(words)}
