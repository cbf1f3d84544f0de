"""Joints: chains of stretches as passes, where they go on, turn and end.

The law: consecutive straight stretches in one line are one pass. Where a path turns, the pass before the
turn has the wedge of the disc on its outer side; where it begins or ends, half the disc.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import acos, atan2, hypot, pi, remainder

import numpy as np

from .passes import TURN, Passes, Rounds, Straights
from .stretches import Stretch

MEETING = 1e-9  # mm: path ends that lie closer are one point
IN_LINE = 1e-7  # mm: farthest that a joined move's end lies beside the line of the moves before it
STRAIGHT_ON = 1e-7  # rad: a bend that is none, and a turn that is a reversal

Chain = list[Stretch]


def passes_of(chains: Sequence[Chain]) -> Passes:
    """Chains as columns: straight moves in one line joined, and the wedges where paths turn."""
    straights = [part for chain in chains for part in _capped(_in_line(chain))]
    rounds = [stretch for chain in chains for stretch in chain if stretch.centre is not None]
    return Passes(_straights(straights), _rounds(rounds))


def _in_line(chain: Chain) -> Chain:
    """The straight stretches of a chain, those that go on in one line made one."""
    joined: Chain = []
    for stretch in chain:
        if stretch.centre is not None:
            joined.append(stretch)  # keeps its neighbours apart; left out again by _capped
        elif joined and _covered(joined[-1], stretch):
            continue
        elif joined and _goes_on(joined[-1], stretch):
            last = joined[-1]
            row = stretch.row if last.a == last.b else last.row
            joined[-1] = Stretch(row, last.a, stretch.b, last.reach)
        else:
            joined.append(_or_disc(stretch))
    return joined


def _covered(last: Stretch, stretch: Stretch) -> bool:
    """Whether a stretch that goes nowhere reaches no farther than the one before it."""
    return stretch.a == stretch.b and max(stretch.reach) <= last.reach[1]


def _goes_on(last: Stretch, stretch: Stretch) -> bool:
    """Whether a stretch lengthens the one before it without a bend."""
    if not _as_wide(last, stretch) or last.centre is not None or stretch.a == stretch.b:
        return False
    if last.a == last.b:
        return True
    ux, uy = stretch.b[0] - last.a[0], stretch.b[1] - last.a[1]
    vx, vy = last.b[0] - last.a[0], last.b[1] - last.a[1]
    onward = (stretch.b[0] - stretch.a[0]) * vx + (stretch.b[1] - stretch.a[1]) * vy
    return onward > 0 and abs(ux * vy - uy * vx) <= IN_LINE * hypot(vx, vy)


def _as_wide(first: Stretch, second: Stretch) -> bool:
    return first.reach[0] == first.reach[1] == second.reach[0] == second.reach[1]


def _or_disc(stretch: Stretch) -> Stretch:
    """A stretch one end of which covers the other is a disc."""
    if stretch.length > abs(stretch.reach[1] - stretch.reach[0]):
        return stretch
    wide = int(stretch.reach[1] > stretch.reach[0])
    at = (stretch.a, stretch.b)[wide]
    return Stretch(stretch.row, at, at, (stretch.reach[wide], stretch.reach[wide]))


def _capped(chain: Chain) -> list[tuple]:
    """Rows for `_straights`: each straight stretch with its two caps (from, span)."""
    rows = []
    for before, stretch, after in zip([None, *chain], chain, [*chain[1:], None], strict=False):
        if stretch.centre is not None:
            continue
        start = (0.0, 0.0) if before and _turns_into(before, stretch) else _half(stretch, 0)
        end = _wedge(stretch, after) if after and _turns_into(stretch, after) else _half(stretch, 1)
        rows.append((*stretch.a, *stretch.b, *stretch.reach, stretch.row, start[0], end[0], start[1], end[1]))
    return rows


def _turns_into(first: Stretch, second: Stretch) -> bool:
    """Whether two stretches are straight, as wide as each other, and meet."""
    return (first.centre is None and second.centre is None and _as_wide(first, second)
            and first.a != first.b and second.a != second.b and meet(first.b, second.a))


def _heading(stretch: Stretch) -> float:
    return atan2(stretch.b[1] - stretch.a[1], stretch.b[0] - stretch.a[0])


def _half(stretch: Stretch, side: int) -> tuple[float, float]:
    """The round end of a pass that begins or ends: half a disc where the reach does not change."""
    if stretch.a == stretch.b:
        return 0.0, TURN
    lean = acos((stretch.reach[0] - stretch.reach[1]) / stretch.length)
    return (_heading(stretch) - lean, 2 * lean) if side else (_heading(stretch) + lean, TURN - 2 * lean)


def _wedge(stretch: Stretch, after: Stretch) -> tuple[float, float]:
    """The wedge of a disc on the outer side of a turn."""
    turn = remainder(_heading(after) - _heading(stretch), TURN)
    if abs(turn) < STRAIGHT_ON:
        return 0.0, 0.0
    if abs(turn) > pi - STRAIGHT_ON:
        return _half(stretch, 1)
    return (_heading(stretch) - pi / 2 if turn > 0 else _heading(after) + pi / 2), abs(turn)


def _straights(rows: Sequence[tuple]) -> Straights:
    table = np.array(rows, np.float64).reshape(len(rows), 11)
    return Straights(table[:, 0:2], table[:, 2:4], table[:, 4:6], table[:, 6].astype(np.int64),
                     table[:, 7:9], table[:, 9:11])


def _rounds(stretches: Sequence[Stretch]) -> Rounds:
    table = np.array([(*s.centre, s.radius, s.angle, s.sweep, s.reach[0], s.row) for s in stretches
                      if s.centre is not None], np.float64).reshape(len(stretches), 7)
    radius, angle, sweep, reach = table[:, 2:6].T
    return Rounds(table[:, 0:2], radius, angle, sweep, reach, table[:, 6].astype(np.int64))


def meet(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return abs(a[0] - b[0]) <= MEETING and abs(a[1] - b[1]) <= MEETING
