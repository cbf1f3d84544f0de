"""What the page shows of a program that is too long to be cut again there: each place as it is in the end,
from the moment at which the last pass over it is made.

The law: the finished board and the board as stages find it are the simulation's; in between no height is made
up, only the moment is told at which a place gets its last one. Moves go in runs of equal number, so that any
program fits; a run has the line of its last move.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...parser.motion import Move
from ...sim.result import Result, StageRecord
from ..scene import Path
from .packing import CutBy, cut_by_of, numbers
from .showing import cutters, nose, shown_seconds, stops

MOST_RUNS = 60_000  # of moves, in all stages
NO_CUTS = {"m": 0, "rounds": [], "rings": [],
           **{name: numbers(np.empty(0, np.float64)) for name in ("move", "kind", "straight", "arcs")}}


def passing_of(result: Result, path: Path) -> dict[str, Any]:
    """Every stage in runs of moves, and for each row of the map's table the run with which it is through."""
    moves = [len(record.reading.motion) for record in result.records]
    side = max(1, -(-sum(moves) // MOST_RUNS))
    counts = [-(-count // side) for count in moves]
    begin = np.concatenate([[0], np.cumsum(counts)])
    return {"stages": [stage(result, number, side, path) for number in range(len(moves))],
            "nose": nose(result), "side": side,
            "passed": numbers(through(result, cut_by_of(result), side, begin).astype("<i4"))}


def through(result: Result, cut_by: CutBy, side: int, begin: NDArray[np.int64]) -> NDArray[np.int64]:
    """(rows,) the run in which a line of a stage moves last; -1 for what no reported stage cut."""
    last = np.full(len(cut_by.line), -1, np.int64)
    stages, lines = np.array(cut_by.stage), np.array(cut_by.line)
    for number, record in enumerate(result.records):
        rows = np.flatnonzero(stages == number)  # sorted by line
        line = record.reading.motion.line
        at = np.minimum(np.searchsorted(lines[rows], line), max(len(rows) - 1, 0))
        if len(rows):
            known = lines[rows[at]] == line
            np.maximum.at(last, rows[at[known]], begin[number] + np.flatnonzero(known) // side)
    return last


def stage(result: Result, number: int, side: int, path: Path) -> dict[str, Any]:
    """One stage: `line`, `seconds` and cutter of its n runs, and the straight way of the tip over each."""
    record = result.records[number]
    motion = record.reading.motion
    ends = np.minimum(np.arange(side, len(motion) + side, side), len(motion))
    first = np.arange(0, len(motion), side)
    ways, of = over(path, number, side)
    return {
        "n": len(ends), "line": numbers(motion.line[ends - 1].astype("<i4")),
        "seconds": numbers(np.add.reduceat(shown_seconds(record), first).astype("<f4")),
        "rapid": numbers(np.minimum.reduceat(motion.kind == Move.RAPID, first).astype(np.uint8)),
        "p": len(of), "ends": numbers(ways.astype("<f4")), "of": numbers(of.astype("<i4")), **NO_CUTS,
        **cutter_of(record, ends - 1), "stops": [each | {"before": each["before"] // side}
                                                 for each in stops(result, number)],
    }


def over(path: Path, number: int, side: int) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """(p, 2, 3) from where to where the tip goes in each run that has a known way, and (p,) which run."""
    mine = np.flatnonzero(path.stage == number)
    of, first = np.unique(path.move[mine] // side, return_index=True)
    last = np.append(first[1:], len(mine)) - 1
    return np.stack([path.ends[mine[first], 0], path.ends[mine[last], 1]], axis=1), of


def cutter_of(record: StageRecord, rows: NDArray[np.intp]) -> dict[str, Any]:
    made, which = cutters(record)
    return {"cutters": made, "cutter": numbers(which[rows].astype("<i2"))}
