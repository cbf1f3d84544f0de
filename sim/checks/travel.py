"""The machine's travel: whether every move, bulges of arcs included, stays within it.

The law: a board-frame place is a machine place less the origin; a longer cutter stands its machine Z
higher by the difference. What is not known is said to be unchecked, axis by axis.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ...parser.finding import Finding, finding
from ...parser.job import Cutter, Job
from ...parser.reading import Unchecked
from ..evidence import Evidence, Said

NOISE = 1e-6  # mm
WHAT = "travel"


def travel(evidence: Evidence) -> Iterator[Said]:
    """One finding for each end of each axis that a stage leaves."""
    machine = evidence.job.machine
    if machine.travel is None or machine.origin is None:
        missing = [f"machine.{key}" for key in ("origin", "travel") if getattr(machine, key) is None]
        yield Unchecked(WHAT, f"{' and '.join(missing)} {'are' if len(missing) > 1 else 'is'} not given")
        return
    boxes, shift = evidence.motion.boxes(), shifts(evidence)
    for axis, name in enumerate("XYZ"):
        reach = getattr(machine.travel, name.lower())
        if reach is None:
            yield Unchecked(f"{WHAT} in {name}", f"machine.travel.{name.lower()} is not given")
            continue
        for side, end in enumerate(sorted(reach)):
            places = boxes[:, side, axis] + machine.origin[axis] + (shift if axis == 2 else 0.0)
            out = (end - places) if side == 0 else (places - end)
            yield from _beyond(evidence, name, np.flatnonzero(out > NOISE), places, end)
    yield from _unknown_lengths(evidence, shift)


def _beyond(evidence: Evidence, name: str, rows: NDArray[np.intp], places: NDArray[np.float64],
            end: float) -> Iterator[Finding]:
    if not len(rows):
        return
    motion, first = evidence.motion, int(rows[0])
    worst = float(places[rows[np.abs(places[rows] - end).argmax()]])
    at = motion.end[first]
    found = finding("travel", line=int(motion.line[first]), at=at, shown=motion.shown(first, at.tolist()),
                    about=name, value=worst, limit=end, beyond=abs(worst - end),
                    way="up" if worst < end else "down")
    yield replace(found, count=len(rows), last_line=int(motion.line[rows].max()))


def shifts(evidence: Evidence) -> NDArray[np.float64]:
    """(n,) what each move's cutter adds to machine Z against the cutter that the origin was measured with;
    NaN where a length is missing. Moves with no known cutter stand as with that one."""
    measured = first_cutter(evidence)
    of, cutters = evidence.spindle
    return np.array([*(_difference(cutter, measured, evidence.job) for cutter in cutters), 0.0])[of]


def _difference(cutter: Cutter, measured: Cutter | None, job: Job) -> float:
    if cutter is measured or len(job.cutters) == 1:
        return 0.0
    if measured is None or cutter.length is None or measured.length is None:
        return np.nan
    return cutter.length - measured.length


def first_cutter(evidence: Evidence) -> Cutter | None:
    """The first stage's first cutter: as the stage says, the job's only one, or the first that its program
    loads; None where that is another stage's program."""
    job = evidence.job
    if evidence.measured is not None:
        return job.cutter(evidence.measured)
    if job.stages[0].cutter is not None:
        return job.cutter(job.stages[0].cutter)
    if len(job.cutters) == 1:
        return job.cutters[0]
    own = evidence.stage.name == job.stages[0].name
    return next((c for c in evidence.cutters if c is not None), None) if own else None


def _unknown_lengths(evidence: Evidence, shift: NDArray[np.float64]) -> Iterator[Unchecked]:
    unknown = dict.fromkeys(evidence.cutters[row].label for row in np.flatnonzero(np.isnan(shift)))
    for label in unknown:
        yield Unchecked(f"{WHAT} in Z with {label}",
                        "its length, or that of the first stage's first cutter, is not given")


CHECKS = (travel,)
