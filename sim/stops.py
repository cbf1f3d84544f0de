"""Every stop of a stage as the operator meets it: what is to be moved, what may be, where cutter and nose
stand.

The law: read off the program's own events and the stage's clearances; what stands is what stands after the
change. A clamp is free where the parts that are cut until the next stop stay held without it, by the rule of
`loose`. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..parser.job import Change
from ..parser.motion import Event, Happening, Spindle
from .checks.holding import cut_in, parts, too_little
from .evidence import Evidence, Phase
from .held import bearing
from .setup import changes_in_order
from .solids import ClampSolid, HeadSolid, Solids
from .stage_figures import StopFigures

WAITS = frozenset({Happening.STOP, Happening.OPTIONAL_STOP})


@dataclass(frozen=True)
class Wait:
    """A stop before move `row`, what the program says there, and what the job changes."""

    row: int
    line: int
    code: str
    change: Change | None = None


def stop_figures(evidence: Evidence) -> Iterator[StopFigures]:
    """The stops of a stage, as its program comes to them."""
    waits = list(waits_of(evidence))
    ends = [*(wait.row for wait in waits[1:]), len(evidence.motion)]
    for wait, until in zip(waits, ends, strict=False):
        yield figures(evidence, wait, until)


def waits_of(evidence: Evidence) -> Iterator[Wait]:
    """Stops that the program makes and changes before a line, each once."""
    changes = {(change.at_stop, change.at_line): (row, change) for row, _, change in changes_in_order(
        evidence.job, evidence.stage, evidence.reading, must_reach=False)}
    found = [wait_of(event, changes.get((int(event.value), None))) for event in evidence.motion.events
             if event.kind in WAITS and event.value]
    found += [Wait(row, line or 0, "", change) for (_, line), (row, change) in changes.items() if line]
    yield from sorted(found, key=lambda wait: (wait.row, wait.line))


def wait_of(event: Event, told: tuple[int, Change] | None) -> Wait:
    return Wait(event.before, event.line, event.code, None if told is None else told[1])


def figures(evidence: Evidence, wait: Wait, until: int) -> StopFigures:
    """What is to be known at one stop, for the moves up to the next."""
    change, solids = wait.change or Change(), standing(evidence, wait.row)
    tip, height = place(evidence, wait.row)
    return StopFigures(
        line=wait.line, code=wait.code, remove=change.remove, add=change.add,
        fit=change.fit, unfit=change.unfit, cutter=change.cutter,
        clamps=tuple(dict.fromkeys(clamp.about for clamp in solids.clamps)),
        in_way=tuple(in_way(evidence, wait.row, until)), free=tuple(free(evidence, solids, wait.row, until)),
        tip=tip, nose=height, turning=turning(evidence, wait))


def standing(evidence: Evidence, row: int) -> Solids:
    """What stands when a move begins; after the last move what stood then."""
    later = [phase for phase in evidence.phases if phase.first <= row]
    return later[-1].solids if later else Solids()


def place(evidence: Evidence, row: int) -> tuple[tuple[float, float, float] | None, float | None]:
    """Where the tip stands, and Z of the nut's lower face; None: not known."""
    motion = evidence.motion
    if not len(motion):
        return None, None
    x, y, z = (motion.end[row - 1] if row else motion.start[0]).tolist()
    cutter = evidence.cutters[max(0, row - 1)]
    known = bool(np.isfinite((x, y, z)).all())
    nose = z + cutter.stickout if cutter is not None and cutter.stickout and np.isfinite(z) else None
    return ((x, y, z) if known else None), nose


def turning(evidence: Evidence, wait: Wait) -> bool | None:
    """Whether the program has left the spindle on; None where it is switched by hand."""
    if evidence.job.machine.spindle_by == "hand":
        return None
    now = Spindle.STILL
    for event in evidence.motion.events:
        if (event.before, event.line) > (wait.row, wait.line):
            break
        if event.kind is Happening.SPINDLE:
            now = Spindle(int(event.value))
        elif event.kind is Happening.CUTTER and event.code == "M6":
            now = Spindle.STILL
    return now is not Spindle.STILL


def in_way(evidence: Evidence, first: int, until: int) -> Iterator[str]:
    """The clamps and screws that the moves up to the next stop meet."""
    met: dict[str, None] = {}
    contacts = evidence.clearances.contacts
    for approach in contacts.taken(np.flatnonzero((contacts.move >= first) & (contacts.move < until))):
        if approach.strikes and isinstance(approach.body, ClampSolid | HeadSolid):
            met[approach.about] = None
    yield from met


def free(evidence: Evidence, solids: Solids, first: int, until: int) -> Iterator[str]:
    """The clamps without which every part that is cut up to the next stop stays held."""
    cut = [part for _, part in parts(evidence) if len(cut_in(evidence, Phase(first, until, solids), part))]
    for about in dict.fromkeys(clamp.about for clamp in solids.clamps):
        rest = Phase(first, until, Solids(solids.heads, tuple(c for c in solids.clamps if c.about != about)))
        if all(too_little(bearing(rest, part), part) is None for part in cut):
            yield about
