"""What if zero were somewhere else: on the board's top, on the bed, on what the last facing left; and how far
it may be off.

The law: a program whose zero is lower by so much is lower by so much everywhere; what it meets then follows
from the exact room over every body. What lies above the board is asked of a coarse map of the board's
highest places before the stage, whose error is only toward a warning. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

import numpy as np
from numpy.typing import NDArray

from .approach import STRIKE
from .checks.travel import shifts
from .cutters import profile_of
from .evidence import Evidence, once
from .paths import paths_of
from .plan import face_height
from .slack import Bound
from .stage_figures import SlackFigures, ZeroFigures
from .swarm import numbered
from .underboard import coarse

CELLS = 30_000  # of the coarse map: it must cost nothing beside the cut
SAME = 1e-6  # mm: zeros that are one
TOUCH = 0.01  # mm: a rapid this far under the surface does not touch it
RAPIDS = "rapids over the board"
TRAVEL = "travel"


def zero_figures(evidence: Evidence) -> tuple[ZeroFigures, ...]:
    """The plausible zeros of a stage and what each would do; none for a program that never moves."""
    if not evidence.motion.placed.any():
        return ()
    own, found = evidence.stage.zero[2], []
    for name, z in plausible(evidence):
        if all(abs(z - other.z) > SAME for other in found):
            found.append(zeroed_at(evidence, name, z, z - own))
    return tuple(found)


def plausible(evidence: Evidence) -> Iterator[tuple[str, float]]:
    """Where a person may have zeroed Z."""
    yield "board", evidence.job.board.top
    if evidence.bed_top is not None:
        yield "bed", evidence.bed_top
    faces = [face_height(face, evidence.stage) for face in evidence.stage.face]
    if faces:
        yield "face", min(faces)
    elif (left := left_by_facing(evidence)) is not None:
        yield "face", left


def left_by_facing(evidence: Evidence) -> float | None:
    """The middle height of the board before a stage, where facings have lowered it."""
    middle = float(np.nanmedian(evidence.cut.before)) if evidence.cut.before.size else inf
    return middle if middle < evidence.job.board.top - TOUCH else None


def zeroed_at(evidence: Evidence, name: str, z: float, higher: float) -> ZeroFigures:
    """What the program does with its zero `higher` by so much."""
    depth, air = over_board(evidence)
    worst = evidence.clearances.slack.lower
    room = worst.amount + higher
    rapid = max(0.0, -(air + higher)) if air + higher < -TOUCH else 0.0
    return ZeroFigures(name, z, abs(higher) <= SAME, None if depth is None else depth - higher,
                       *((worst.by, -room) if room < -STRIKE else ("", 0.0)), rapid)


@once
def over_board(evidence: Evidence) -> tuple[float | None, float]:
    """How deep below the board the deepest feed goes (None: none is over it), and how high over it the lowest
    rapid passes that does not go into what the stage itself has cut (inf: none)."""
    motion, (of, kinds) = evidence.motion, numbered(evidence.cutters)
    deepest, air = -inf, inf
    for number, cutter in enumerate(kinds):
        radius = profile_of(cutter).radius
        rows = np.flatnonzero(motion.placed & (of == number))
        paths = paths_of(motion, rows, evidence.rapid)
        highest = coarse(evidence.surface, evidence.cut.before, (-radius, radius), (-radius, radius), CELLS)
        over = paths.box[:, 0, 2] - highest.along(paths)
        feeds, over_it = motion.is_feed[paths.row], np.isfinite(over)
        deepest = max(deepest, float((-over[feeds & over_it]).max(initial=-inf)))
        free = over_it & ~feeds & ~upward(motion.start[paths.row], motion.end[paths.row]) & (over >= -TOUCH)
        air = min(air, float(over[free].min(initial=inf)))
    return (None if deepest == -inf else deepest), air


def upward(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(k,) moves straight up."""
    return (start[:, :2] == end[:, :2]).all(axis=1) & (end[:, 2] >= start[:, 2])


def slack_figures(evidence: Evidence) -> SlackFigures | None:
    """How far zero may be off, and how much doubt the job can bear; None where nothing moves."""
    if not evidence.motion.placed.any():
        return None
    slack, doubt = evidence.clearances.slack, evidence.job.uncertainty
    ends = {side: limit.least(slack.aside.get(side, Bound(inf)))
            for side, limit in travel_left(evidence).items()}
    air = over_board(evidence)[1]
    ends["down"] = ends["down"].least(slack.lower).least(Bound(air, RAPIDS) if air < inf else Bound(inf))
    known = (doubt.z_zero, doubt.head_z, doubt.head_xy) if doubt else (0.0, 0.0, 0.0)
    bears = (Bound(limit.amount + more, limit.by) for limit, more in zip(
        (slack.lower, slack.heads_higher, slack.wider), known, strict=True))
    return SlackFigures(**ends, **dict(zip(("z_zero", "head_z", "head_xy"), bears, strict=True)))


def travel_left(evidence: Evidence) -> dict[str, Bound]:
    """How far each way the whole program may be moved before the machine's travel ends; inf: not known."""
    machine, boxes, longer = evidence.job.machine, evidence.motion.boxes(), shifts(evidence)
    found = {}
    for axis, sides in enumerate((("left", "right"), ("front", "back"), ("down", "up"))):
        reach = getattr(machine.travel, "xyz"[axis]) if machine.travel is not None else None
        for side, name in enumerate(sides):
            found[name] = Bound(inf)
            if reach is not None and machine.origin is not None:
                places = boxes[:, side, axis] + machine.origin[axis] + (longer if axis == 2 else 0.0)
                left = (places - min(reach)) if side == 0 else (max(reach) - places)
                if np.isfinite(left).any():
                    found[name] = Bound(float(np.nanmin(left)), TRAVEL)
    return found
