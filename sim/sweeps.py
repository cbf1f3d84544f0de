"""Moves to sweeps: what the compiled loops take, as plain arrays.

The law: a sweep is a straight piece, an arc in plan (level, or a flat cutter's helix), or one of the chords
that any other arc becomes; program order is kept. Chords are bowed as their arc is; those of a cutter with a
core, or made of rings, are straight and short. A rapid is looked at first, wider by half a cell's diagonal,
and then cuts what stands clearly above it; straight up it does neither.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import PLANE_AXES, Motion, Move
from .cutters import Profile, profile_of
from .kernels import sweep as k
from .paths import RapidPath, dog_leg
from .tram import Tilt

CHORD = 1e-5  # mm between a straight chord and its arc
BOWED_CHORD = 2.5e-4  # the same where the cut follows the arc: a chord shows at a footprint's edge alone
ROUND_ENOUGH = 1e-3  # mm by which an arc's two radii may differ and it still is a true arc
SAME = 1e-9  # mm within which a path has no length in plan
AXIS = 1e-6  # mm within which two places are one axis of drilling

Floats = NDArray[np.float64]
LEVEL: Tilt = (0.0, 0.0)
Part = tuple[Floats, NDArray[np.int32]]  # numbers and orders of some sweeps


@dataclass(frozen=True)
class Look:
    """A level disc that rides with the cutter and cuts nothing: how far does it stand below the board?

    rows: the moves it is asked for · over: its height over the tip, mm · radius; core: within it nothing is
    asked · after: the move's own cut comes first, and the question is asked at the move's end alone.
    """

    name: str
    rows: NDArray[np.intp]
    over: float
    radius: float
    core: float = 0.0
    after: bool = False


@dataclass(frozen=True)
class Sweeps:
    """m sweeps: numbers (m, SWEEP_NUMBERS), orders (m, ORDER_NUMBERS), and the cutters they are made with:
    rounds (r, ROUND_NUMBERS) and pieces (p, 4). Columns are named in the compiled loops' file. The rounds
    from `first_look` on are those of the looks."""

    numbers: Floats
    orders: NDArray[np.int32]
    rounds: Floats
    pieces: Floats
    first_look: int = 1 << 30


def sweeps_of(motion: Motion, cutters: Sequence[Cutter | None], cell: float,
              tilt: Tilt = (0.0, 0.0), rapid: RapidPath | None = None, looks: Sequence[Look] = (),
              straight: float | None = None) -> Sweeps:
    """The sweeps of a stage's moves; moves with no known place or cutter are left out. A rapid takes every
    way that the control may choose (straight, where `rapid` is left out). `straight`: no chord is bowed, and
    all lie within so much of their arc, for those who follow no bow."""
    rack = _Rack(cell * hypot(1, 1) / 2, tilt)
    which = rack.number(cutters)
    ways = rapid or RapidPath()
    rapids, kept = motion.kind == Move.RAPID, motion.placed & (which >= 0)
    kept &= ~(rapids & _straight_up(motion))
    arcs = kept & (motion.arc >= 0)
    true = arcs & _true_arc(motion, rack.flat(which), tilt)
    looked = kept & rapids & ~_retraced(motion, which, kept)
    parts = [*_looked(motion, looks, False, ways),
             _straight(motion, np.flatnonzero(kept & ~arcs & ~rapids), k.CUT, tilt),
             *_rapids(motion, np.flatnonzero(looked), k.LOOK, tilt, ways),
             *_rapids(motion, np.flatnonzero(kept & rapids), k.SCRAPE, tilt, ways),
             _arcs_in_plan(motion, np.flatnonzero(true)),
             *_chords(motion, np.flatnonzero(arcs & ~true), tilt, rack.whole(which), straight),
             *_looked(motion, looks, True, ways)]
    numbers = np.concatenate([numbers for numbers, _ in parts])
    orders = np.concatenate([orders for _, orders in parts])
    order = np.argsort(orders[:, k.MOVE], kind="stable")  # a rapid's look stands before its scrape
    numbers, orders = np.ascontiguousarray(numbers[order]), np.ascontiguousarray(orders[order])
    rounds, mine = rack.rounds(), orders[:, k.ROUND] < 0
    own = which[orders[:, k.MOVE]] * 3 + _VARIANT[orders[:, k.ACT]]
    orders[:, k.ROUND] = np.where(mine, len(rounds) - 1 - orders[:, k.ROUND], own)
    table = np.concatenate((rounds, _discs(looks)))
    return Sweeps(numbers, orders, table, rack.pieces(), len(rounds))


def _discs(looks: Sequence[Look]) -> Floats:
    """Looks as rows of cutters: flat, with nothing asked within the core."""
    table = np.zeros((len(looks), k.ROUND_NUMBERS))
    for row, look in zip(table, looks, strict=True):
        row[[k.R, k.C, k.A]] = look.radius, look.core, look.radius
    return table


def _looked(motion: Motion, looks: Sequence[Look], after: bool, ways: RapidPath) -> Iterator[Part]:
    """The sweeps of the looks that come before, or after, a move's own cut; their round is -1 - number."""
    for number, look in enumerate(looks):
        for numbers, orders in _look(motion, look, ways) if look.after is after else ():
            numbers[:, [k.SZ, k.LOW]] += look.over
            orders[:, k.ROUND] = -1 - number
            yield numbers, orders


def _look(motion: Motion, look: Look, ways: RapidPath) -> Iterator[Part]:
    rows = look.rows
    if look.after:
        yield _between(motion.end[rows], motion.end[rows], rows, k.LOOK, LEVEL)
        return
    arcs, rapids = motion.arc[rows] >= 0, motion.kind[rows] == Move.RAPID
    true = _true_arc(motion, np.ones(len(motion), np.bool_), LEVEL)[rows]
    yield _straight(motion, rows[~arcs & ~rapids], k.LOOK, LEVEL)
    yield from _rapids(motion, rows[rapids], k.LOOK, LEVEL, ways)
    yield _arcs_in_plan(motion, rows[true], k.LOOK)
    yield _chords_within(motion, rows[arcs & ~true], LEVEL, BOWED_CHORD, k.LOOK)


# --- cutters ------------------------------------------------------------------------------------
_VARIANT = np.zeros(4, np.int32)  # of the three rows that each cutter has: as it cuts, full, full and grown
_VARIANT[k.SCRAPE], _VARIANT[k.LOOK] = 1, 2


class _Rack:
    """The profiles in use as rows: three for each, see _VARIANT."""

    def __init__(self, grow: float, tilt: Tilt) -> None:
        self.grow, self.tilt = grow, tilt
        self._profiles: list[Profile] = []
        self._lifts: list[float] = []

    def number(self, cutters: Sequence[Cutter | None]) -> NDArray[np.int32]:
        """(n,) which profile each move is made with, -1: none known."""
        known: dict[int, int] = {}
        which = np.empty(len(cutters), np.int32)
        for row, cutter in enumerate(cutters):
            if id(cutter) not in known:
                known[id(cutter)] = -1 if cutter is None else self._put(profile_of(cutter))
            which[row] = known[id(cutter)]
        return which

    def flat(self, which: NDArray[np.int32]) -> NDArray[np.bool_]:
        """(n,) moves made with a flat-bottomed cutter."""
        return np.array([p.flat for p in self._profiles] + [False])[which]  # -1, none known, is the last

    def whole(self, which: NDArray[np.int32]) -> NDArray[np.bool_]:
        """(n,) moves made with a cutter that cuts to its middle and is not made of rings."""
        return np.array([not p.core and not len(p.rings) for p in self._profiles] + [False])[which]

    def _put(self, profile: Profile) -> int:
        self._profiles.append(profile)
        self._lifts.append(profile.lift(hypot(*self.tilt)))
        return len(self._profiles) - 1

    def _variants(self) -> list[Profile]:
        return [kind for p in self._profiles for kind in (p, p.full(), p.full().grown(self.grow))]

    def rounds(self) -> Floats:
        table, first = np.zeros((max(1, len(self._profiles) * 3), k.ROUND_NUMBERS)), 0
        for index, (row, p) in enumerate(zip(table, self._variants(), strict=False)):
            row[:] = (p.radius, p.core, p.flat_radius, p.corner, p.slope, *self.tilt,
                      self._lifts[index // 3], first, first + len(p.rings))
            first += len(p.rings)
        return table

    def pieces(self) -> Floats:
        return np.array([ring for p in self._variants() for ring in p.rings], np.float64).reshape(-1, 4)


# --- paths --------------------------------------------------------------------------------------
def _straight_up(motion: Motion) -> NDArray[np.bool_]:
    step = motion.end - motion.start
    return (np.hypot(step[:, 0], step[:, 1]) <= SAME) & (step[:, 2] >= 0)


def _retraced(motion: Motion, which: NDArray[np.int32], kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(n,) rapids straight down an axis where the same cutter has been at least as deep in this stage."""
    step = motion.end - motion.start
    down = kept & (motion.kind == Move.RAPID) & (np.hypot(step[:, 0], step[:, 1]) <= AXIS) & (step[:, 2] < 0)
    free = np.zeros(len(motion), np.bool_)
    if not down.any():
        return free
    places = np.rint(np.where(kept[:, None], motion.end[:, :2], 0) / AXIS)
    axis = np.column_stack([which, places]).astype(np.int64)
    wanted = {tuple(key) for key in axis[down].tolist()}
    deepest: dict[tuple[int, ...], float] = {}
    for row in np.flatnonzero(kept):
        key = tuple(axis[row].tolist())
        if key in wanted:
            low = float(motion.end[row, 2])
            free[row] = down[row] and low >= deepest.get(key, np.inf) - AXIS
            deepest[key] = min(low, deepest.get(key, np.inf))
    return free


def _blank(rows: NDArray[np.intp], path: int | NDArray, act: int) -> Part:
    numbers = np.zeros((len(rows), k.SWEEP_NUMBERS))
    orders = np.zeros((len(rows), k.ORDER_NUMBERS), np.int32)
    orders[:, k.MOVE], orders[:, k.PATH], orders[:, k.ACT] = rows, path, act
    return numbers, orders


def _straight(motion: Motion, rows: NDArray[np.intp], act: int, tilt: Tilt) -> Part:
    return _between(motion.start[rows], motion.end[rows], rows, act, tilt)


def _rapids(motion: Motion, rows: NDArray[np.intp], act: int, tilt: Tilt, ways: RapidPath) -> Iterator[Part]:
    """The straight way of each rapid, the legs of its way axis by axis, or both."""
    if ways.path != "per_axis":
        yield _straight(motion, rows, act, tilt)
    if ways.path != "linear":
        corners = dog_leg(motion.start[rows], motion.end[rows], ways.speed)
        start, end = corners[:, :-1].reshape(-1, 3), corners[:, 1:].reshape(-1, 3)
        goes = (start != end).any(axis=1)
        if ways.path == "unknown":  # a way without a bend is the straight one
            goes &= np.repeat((goes.reshape(-1, 3).sum(axis=1) > 1), 3)
        yield _between(start[goes], end[goes], np.repeat(rows, 3)[goes], act, tilt)


def _between(start: Floats, end: Floats, rows: NDArray[np.intp], act: int, tilt: Tilt) -> Part:
    """Straight sweeps from start to end (m, 3), turned so that they climb away from the cutter's plane;
    straight up and down are no length at the lower end."""
    numbers, orders = _blank(rows, k.STRAIGHT, act)
    step = end - start
    sheer = np.hypot(step[:, 0], step[:, 1]) <= SAME
    falls = (step[:, 2] - np.where(sheer, 0.0, step[:, :2] @ tilt) < 0)[:, None]
    start, end = np.where(falls, end, start), np.where(falls, start, end)
    step = end - start
    length = np.hypot(step[:, 0], step[:, 1])
    length[sheer] = 0.0
    unit = np.divide(1.0, length, out=np.zeros_like(length), where=length > 0)
    numbers[:, [k.SX, k.SY, k.SZ]] = start
    numbers[:, [k.EX, k.EY]] = np.where(length[:, None] > 0, end[:, :2], start[:, :2])
    numbers[:, [k.DX, k.DY]] = np.where(sheer[:, None], (1.0, 0.0), step[:, :2] * unit[:, None])
    numbers[:, k.L], numbers[:, k.M] = length, step[:, 2] * unit
    numbers[:, k.LOW] = np.minimum(start[:, 2], end[:, 2])
    return numbers, orders


# --- arcs ---------------------------------------------------------------------------------------
def _axes(motion: Motion, arc: NDArray[np.int32]) -> NDArray[np.intp]:
    """(m, 3) first, second and third axis of arcs."""
    return np.array([PLANE_AXES[int(plane)] for plane in motion.arcs.plane[arc]], np.intp).reshape(-1, 3)


def _radii(motion: Motion, rows: NDArray[np.intp]) -> tuple[Floats, Floats, NDArray[np.int32]]:
    """Vectors from the centre to start and end (m, 2) in their plane, and the arc rows."""
    arc = motion.arc[rows]
    axes = _axes(motion, arc)[:, :2]
    here = np.arange(len(rows))[:, None]
    centre = motion.arcs.centre[arc]
    return motion.start[rows][here, axes] - centre, motion.end[rows][here, axes] - centre, arc


def _true_arc(motion: Motion, flat: NDArray[np.bool_], tilt: Tilt) -> NDArray[np.bool_]:
    """(n,) arcs that stay arcs: in plan, of one radius, level or flat, under an upright spindle."""
    true = np.zeros(len(motion), np.bool_)
    rows = np.flatnonzero(motion.arc >= 0)
    if any(tilt) or not len(rows):
        return true
    start, end, arc = _radii(motion, rows)
    even = np.abs(np.hypot(*start.T) - np.hypot(*end.T)) <= ROUND_ENOUGH
    level = motion.start[rows, 2] == motion.end[rows, 2]
    true[rows] = even & (motion.arcs.plane[arc] == 17) & (level | flat[rows])
    return true


def _arcs_in_plan(motion: Motion, rows: NDArray[np.intp], act: int = k.CUT) -> Part:
    """Arcs, turned so that they run counter-clockwise."""
    start, end, arc = _radii(motion, rows)
    turn = motion.arcs.sweep[arc]
    path = np.select([np.abs(turn) >= 2 * np.pi - 1e-12, np.abs(turn) > np.pi], [k.FULL, k.WIDE], k.NARROW)
    numbers, orders = _blank(rows, path, act)
    back = (turn < 0)[:, None]
    first, second = motion.start[rows], motion.end[rows]
    numbers[:, [k.SX, k.SY]] = np.where(back, second[:, :2], first[:, :2])
    numbers[:, [k.EX, k.EY]] = np.where(back, first[:, :2], second[:, :2])
    numbers[:, k.SZ] = np.where(back[:, 0], second[:, 2], first[:, 2])
    numbers[:, k.LOW] = np.minimum(first[:, 2], second[:, 2])
    numbers[:, k.L] = np.abs(turn)
    numbers[:, k.M] = (second[:, 2] - first[:, 2]) / turn
    numbers[:, [k.CX, k.CY]] = motion.arcs.centre[arc]
    numbers[:, k.AR] = (np.hypot(*start.T) + np.hypot(*end.T)) / 2
    return numbers, orders


def _chords(motion: Motion, rows: NDArray[np.intp], tilt: Tilt, whole: NDArray[np.bool_],
            straight: float | None) -> Iterator[Part]:
    """Any other arc as chords: helices, other planes, spirals, tilted spindles. whole (n,): moves made with
    a cutter whose chords may be bowed; straight: as in sweeps_of."""
    if straight is not None:
        yield _chords_within(motion, rows, tilt, straight, k.CHORD)
        return
    yield _chords_within(motion, rows[whole[rows]], tilt, BOWED_CHORD, k.CHORD, bowed=True)
    yield _chords_within(motion, rows[~whole[rows]], tilt, CHORD, k.CHORD)


def _chords_within(motion: Motion, rows: NDArray[np.intp], tilt: Tilt, within: float, act: int,
                   bowed: bool = False) -> Part:
    """Arcs as chords that lie no farther off than `within`."""
    start, end, arc = _radii(motion, rows)
    r0, r1, turn = np.hypot(*start.T), np.hypot(*end.T), motion.arcs.sweep[arc]
    angle = 2 * np.arccos(np.maximum(1 - within / np.maximum(np.maximum(r0, r1), 2 * within), 0.0))
    count = np.maximum(1, np.ceil(np.abs(turn) / angle)).astype(np.int64)
    which = np.repeat(np.arange(len(rows)), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    first, middle, last = (_on_arc(motion, rows, arc, start, end, which, (step + more) / count[which])
                           for more in (0, 0.5, 1))
    numbers, orders = _between(first, last, rows[which], act, tilt)
    if bowed:
        bow = middle - (first + last) / 2
        numbers[:, [k.BX, k.BY, k.BZ]] = bow
        numbers[:, k.LOW] += np.minimum(bow[:, 2], 0.0)
    return numbers, orders


def _on_arc(motion: Motion, rows: NDArray[np.intp], arc: NDArray[np.int32], start: Floats, end: Floats,
            which: NDArray[np.intp], part: Floats) -> Floats:
    """Places (m, 3) on arcs `which`, at `part` of their turn; their ends exactly."""
    r0, r1 = np.hypot(*start.T)[which], np.hypot(*end.T)[which]
    at = np.arctan2(start[:, 1], start[:, 0])[which] + motion.arcs.sweep[arc][which] * part
    radius = r0 + (r1 - r0) * part
    axes = _axes(motion, arc)[which]
    place, here, centre = np.empty((len(which), 3)), np.arange(len(which)), motion.arcs.centre[arc][which]
    place[here, axes[:, 0]] = centre[:, 0] + radius * np.cos(at)
    place[here, axes[:, 1]] = centre[:, 1] + radius * np.sin(at)
    first, last = motion.start[rows][which], motion.end[rows][which]
    third = axes[:, 2]
    place[here, third] = first[here, third] + (last[here, third] - first[here, third]) * part
    place[part == 0], place[part == 1] = first[part == 0], last[part == 1]
    return place
