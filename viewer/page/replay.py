"""What the page needs to cut the board again: each stage's sweeps, its moves in time, what stands when.

The law: the sweeps are the simulation's own, made by the same function, but for chords, which are straight
and shorter; the page cuts with the same closed forms, so that its board is the simulation's at every moment
(tests hold it to that). Millimetres, seconds.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ...parser.motion import Move
from ...sim.kernels import sweep as k
from ...sim.result import Result, StageRecord
from ...sim.sweeps import Sweeps, sweeps_of
from ..scene import Path
from .packing import numbers
from .passing import passing_of
from .showing import cutters, nose, shown_seconds, stops

MOST_SWEEPS = 250_000  # with more the page would be a burden: it shows the passing instead
CHORD = 1e-5  # mm between a chord and its arc: the page follows no bow
STRAIGHT = [k.SX, k.SY, k.SZ, k.EX, k.EY, k.M]
ARC = [k.CX, k.CY, k.AR, k.L]


def replay_of(result: Result, path: Path) -> dict[str, Any] | None:
    """Every reported stage, in order, and the nose as (radius, length) from below; None where the result kept
    no moves, or none that cuts. Of too many it is the passing alone."""
    kept = result.records if len(result.records) == len(result.stages) else ()
    if not kept or any(r.cutters is None or r.seconds is None or r.cut is None for r in kept):
        return None
    if sum(len(record.reading.motion) for record in kept) > MOST_SWEEPS:
        return passing_of(result, path)
    swept = [cuts(result, record) for record in kept]
    count = sum(len(each.numbers) for each in swept)
    if not 0 < count <= MOST_SWEEPS:
        return passing_of(result, path) if count else None
    return {"stages": [stage(result, number, each, path) for number, each in enumerate(swept)],
            "nose": nose(result), "side": 1}


def cuts(result: Result, record: StageRecord) -> Sweeps:
    """The stage's sweeps without the looks that rapids take first."""
    made = sweeps_of(record.reading.motion, list(record.cutters if record.cutters is not None else ()),
                     result.surface.cell, record.tilt, record.rapid, straight=CHORD)
    cut = made.orders[:, k.ACT] != k.LOOK
    return Sweeps(made.numbers[cut], made.orders[cut], made.rounds, made.pieces)


def stage(result: Result, number: int, swept: Sweeps, path: Path) -> dict[str, Any]:
    """One stage: `line`, `seconds` and cutter of its n moves, its m sweeps, its p pieces of way."""
    record = result.records[number]
    motion, mine = record.reading.motion, path.stage == number
    arcs = swept.orders[:, k.PATH] != k.STRAIGHT
    made, which = cutters(record)
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
        "of": numbers(path.move[mine].astype("<i4")), "cutters": made,
        "cutter": numbers(which.astype("<i2")), "stops": list(stops(result, number)),
    }
