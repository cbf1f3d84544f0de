"""Passes: the parts of a stage's moves that leave the board at or below a height, seen from above.

The law: a pass is a straight or round stretch of the path and how far the cutter reaches to its sides at
that height. Consecutive straight moves in one line are one pass. A cutter with a core finishes all that
its path sweeps but what its core never leaves. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import acos, atan2, hypot, pi, remainder

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.motion import Motion
from .cutters import profile_of
from .footprints import TURN, Passes, Rounds, Straights, disc_outline
from .plan import common, joined, without
from .stretches import Reach, Stretch, stretches_of

MEETING = 1e-9  # mm: path ends that lie closer are one point
IN_LINE = 1e-7  # mm: farthest that a joined move's end lies beside the line of the moves before it
STRAIGHT_ON = 1e-7  # rad: a bend that is none, and a turn that is a reversal
CORE_TURN = np.pi / 180  # step along an arc when asking what a core never left

Chain = list[Stretch]


def passes_below(motion: Motion, cutters: NDArray[np.object_], highest: float) -> Passes:
    """The passes of a stage that leave the board at or below Z `highest`.

    cutters: (n,) Cutter of each move or None; moves without a cutter or a place are left out.
    """
    chains: list[Chain] = []
    stamps: list[tuple[BaseGeometry, int]] = []
    for core, chain in _chains(motion, cutters, highest):
        left = _never_left_by(core, chain)
        if left is None:
            chains.append(chain)
        else:
            swept = passes_of([chain])
            whole = joined(swept.outlines(np.arange(len(swept))))
            stamps.append((without(whole, left), chain[-1].row))
    whole = passes_of(chains)
    return Passes(whole.straights, whole.rounds, tuple(stamps))


def _chains(motion: Motion, cutters: NDArray[np.object_], highest: float) -> Iterator[tuple[float, Chain]]:
    """Unbroken paths of one cutter below a height, with the radius of its core (0: none)."""
    reaches: dict[int, Reach] = {}
    feeds = motion.is_feed.tolist()
    chain: Chain = []
    key = (-1, 0.0)
    for row in _low_rows(motion, cutters, highest):
        cutter = cutters[row]
        if id(cutter) not in reaches:
            reaches[id(cutter)] = Reach(profile_of(cutter), highest)
        reach = reaches[id(cutter)]
        core = reach.profile.core if feeds[row] else 0.0  # for rapids it is a full disc
        for stretch in stretches_of(motion, row, reach):
            if chain and not (key == (id(cutter), core) and _meet(chain[-1].b, stretch.a)):
                yield key[1], chain
                chain = []
            key = id(cutter), core
            chain.append(stretch)
    if chain:
        yield key[1], chain


def _low_rows(motion: Motion, cutters: NDArray[np.object_], highest: float) -> list[int]:
    """Rows that may reach down to a height; a rapid straight up touches nothing."""
    lowest = np.fmin(motion.start[:, 2], motion.end[:, 2])
    vertical_arc = np.zeros(len(motion), bool)
    curved = motion.arc >= 0
    vertical_arc[curved] = motion.arcs.plane[motion.arc[curved]] != 17
    lift = (motion.start[:, :2] == motion.end[:, :2]).all(axis=1) & (motion.end[:, 2] >= motion.start[:, 2])
    lift &= ~motion.is_feed
    known = np.array([cutter is not None for cutter in cutters], bool)
    return np.flatnonzero(motion.placed & known & ~lift & ((lowest <= highest) | vertical_arc)).tolist()


def _meet(a: tuple[float, float], b: tuple[float, float]) -> bool:
    return abs(a[0] - b[0]) <= MEETING and abs(a[1] - b[1]) <= MEETING


def _never_left_by(core: float, chain: Chain) -> BaseGeometry | None:
    """What the core of a cutter covered all along a path: its discs' common part, None when empty.

    A place is swept by the ring exactly when the path comes as near as the rim and goes as far as the
    core's edge: distance is continuous along an unbroken path.
    """
    if core <= 0:
        return None
    spots = np.concatenate([_spots(stretch) for stretch in chain])
    if np.hypot(*(spots.max(axis=0) - spots.min(axis=0))) >= 2 * core * np.sqrt(2):
        return None
    left = disc_outline(spots[0], core, None)
    for spot in np.unique(spots[1:], axis=0):
        left = common(left, disc_outline(spot, core, None))
    return None if left.is_empty else left


def _spots(stretch: Stretch) -> NDArray[np.float64]:
    """Places of the path that are farthest from anywhere: ends, and points along an arc."""
    if stretch.centre is None:
        return np.array([stretch.a, stretch.b])
    angle = stretch.angle + np.linspace(0.0, stretch.sweep, 2 + int(stretch.sweep / CORE_TURN))
    return np.array(stretch.centre) + stretch.radius * np.column_stack((np.cos(angle), np.sin(angle)))


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
            and first.a != first.b and second.a != second.b and _meet(first.b, second.a))


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
