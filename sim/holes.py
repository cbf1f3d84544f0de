"""Holes as a program drills them: descents on one axis, and full turns about one centre.

The law: a hole is found from the moves alone, exactly; pecks into it and turns about it are one hole, and
what was drilled inside a wider and deeper hole (a spot, a pilot) is part of that. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.job import Cutter
from ..parser.motion import Floats, Motion
from .cutters import Profile, profile_of
from .linked import groups
from .parts import Piece, piece_at
from .turns import bores

ONE_AXIS = 0.01  # mm: how far X and Y may wander in one hole
EXACT = 1e-6  # mm


@dataclass(frozen=True)
class FoundHole:
    """A drilled hole, mm, board frame.

    `at` its axis in plan · `bottom` Z where the full diameter ends · `tip` the lowest Z that the cutter
    reached · `line` the program's line that made the bottom · `moves` the rows of the motion that made
    it, in order · `entry` Z from which the cutter went down.
    """

    at: tuple[float, float]
    diameter: float
    bottom: float
    tip: float
    line: int
    moves: tuple[int, ...]
    entry: float

    def holds(self, other: FoundHole) -> bool:
        """Whether another hole lies wholly within this one."""
        apart = float(np.hypot(self.at[0] - other.at[0], self.at[1] - other.at[1]))
        return (apart + other.diameter / 2 <= self.diameter / 2 + ONE_AXIS
                and other.bottom >= self.bottom - EXACT)


def find_holes(motion: Motion, cutters: NDArray[np.object_], top: float) -> tuple[FoundHole, ...]:
    """The holes that a stage drills in a board whose top is at Z `top`, as the program comes to them.

    cutters: (n,) Cutter of each move or None; moves without a cutter or a place make no hole.
    """
    used = {id(cutter): cutter for cutter in cutters if cutter is not None}
    profiles = {mark: profile_of(cutter) for mark, cutter in used.items()}
    each = [profiles.get(id(cutter)) for cutter in cutters]
    raw = [*_descents(motion, each, top), *_turned(motion, each, top)]
    holes = _swallowed(_merged(raw))
    return tuple(sorted(holes, key=lambda hole: hole.moves[0]))


def holes_in(pieces: Sequence[Piece], motion: Motion, cutters: NDArray[np.object_]) -> tuple[FoundHole, ...]:
    """The holes that a stage drills in the pieces that lie on the machine: what ends in the air over a lower
    piece is none."""
    highest = max((piece.top for piece in pieces), default=0.0)
    found = find_holes(motion, cutters, highest)
    return tuple(hole for hole in found
                 if (under := piece_at(pieces, hole.at)) is None or hole.tip < under.top)


def _descents(motion: Motion, profiles: Sequence[Profile | None], top: float) -> Iterator[FoundHole]:
    """Each stay over one place that goes down at feed and comes up again, pecks and all."""
    for rows in _stays(motion, profiles):
        rows = _before_slot(motion, rows, top)
        profile = profiles[rows[0]] if rows else None
        if profile is None or _came_from_the_side(motion, rows[0], top):
            continue
        down = [row for row in rows if motion.is_feed[row] and motion.end[row, 2] < top - EXACT
                and motion.end[row, 2] < motion.start[row, 2]]
        if down:
            lowest = min(down, key=lambda row: motion.end[row, 2])
            yield _hole(motion, rows, lowest, profile, 2 * profile.radius, motion.end[lowest, 2],
                        motion.start[rows[0], :2])


def _stays(motion: Motion, profiles: Sequence[Profile | None]) -> Iterator[list[int]]:
    """Consecutive moves of one cutter that stay within `ONE_AXIS` of the place where they begin."""
    way = np.hypot(*(motion.end - motion.start)[:, :2].T)
    plumb = np.flatnonzero(motion.placed & (motion.arc < 0) & (way <= ONE_AXIS)).tolist()
    stay: list[int] = []
    for row in plumb:
        on = (stay and row == stay[-1] + 1 and profiles[row] is profiles[stay[0]]
              and np.hypot(*(motion.end[row, :2] - motion.start[stay[0], :2])) <= ONE_AXIS)
        if stay and not on:
            yield stay
            stay = []
        stay.append(row)
    if stay:
        yield stay


def _before_slot(motion: Motion, rows: list[int], top: float) -> list[int]:
    """The moves up to the last retract, when a feed move then leaves sideways below the surface."""
    after = rows[-1] + 1
    leaves = (after < len(motion) and motion.is_feed[after] and motion.placed[after]
              and motion.start[after, 2] < top - EXACT)
    if not leaves:
        return rows
    out = [number for number, row in enumerate(rows) if motion.end[row, 2] >= top]
    return rows[:out[-1] + 1] if out else []


def _came_from_the_side(motion: Motion, row: int, top: float) -> bool:
    """Whether a feed move brought the cutter here sideways below the surface."""
    return bool(row and motion.is_feed[row - 1] and motion.placed[row - 1]
                and motion.end[row - 1, 2] < top - EXACT)


def _turned(motion: Motion, profiles: Sequence[Profile | None], top: float) -> Iterator[FoundHole]:
    """Each path of full turns about one centre that goes below the surface."""
    for bore in bores(motion):
        profile = profiles[bore.rows[0]]
        if profile is not None and bore.floor < top - EXACT:
            lowest = min(bore.rows, key=lambda row: motion.end[row, 2])
            yield _hole(motion, bore.rows, lowest, profile, 2 * (bore.radius + profile.radius), bore.floor,
                        bore.centre)


def _hole(motion: Motion, rows: Sequence[int], lowest: int, profile: Profile, diameter: float, floor: float,
          at: Floats) -> FoundHole:
    """A hole whose cutter's tip went down to `floor` all over it."""
    return FoundHole((float(at[0]), float(at[1])), float(diameter), float(floor) + profile.tip_height,
                     float(motion.end[lowest, 2]), int(motion.line[lowest]), tuple(rows),
                     float(motion.start[list(rows), 2].max()))


def _merged(raw: list[FoundHole]) -> list[FoundHole]:
    """Holes of one diameter at one place as one."""
    if not raw:
        return []
    axes = shapely.points([hole.at for hole in raw])
    one, other = shapely.STRtree(axes).query(axes, "dwithin", ONE_AXIS)
    wide = np.array([hole.diameter for hole in raw])
    alike = abs(wide[one] - wide[other]) <= ONE_AXIS
    site = groups(len(raw), one[alike], other[alike])
    order = sorted(range(len(raw)), key=lambda number: (site[number], raw[number].moves[0]))
    alone = groupby(order, key=lambda number: site[number])
    return [_as_one([raw[number] for number in group]) for _, group in alone]


def _as_one(holes: list[FoundHole]) -> FoundHole:
    """Several cuts at one hole: the deepest counts."""
    deepest = min(holes, key=lambda hole: hole.bottom)
    return replace(deepest, tip=min(hole.tip for hole in holes), entry=max(hole.entry for hole in holes),
                   moves=tuple(sorted({row for hole in holes for row in hole.moves})))


def _swallowed(holes: list[FoundHole]) -> list[FoundHole]:
    """Holes that lie within another left out; their moves are the wider one's."""
    if len(holes) < 2:
        return holes
    sites = shapely.STRtree(shapely.points([hole.at for hole in holes]))
    wide = sorted(range(len(holes)), key=lambda number: -holes[number].diameter)
    gone: set[int] = set()
    for number in wide:
        near = sites.query(shapely.Point(holes[number].at), "dwithin", holes[number].diameter / 2)
        inner = [n for n in near.tolist() if n != number and n not in gone and holes[number].holds(holes[n])]
        if number not in gone and inner:
            gone |= set(inner)
            moves = {row for n in (number, *inner) for row in holes[n].moves}
            holes[number] = replace(holes[number], moves=tuple(sorted(moves)))
    return [hole for number, hole in enumerate(holes) if number not in gone]


def facing_moves(motion: Motion, cutters: NDArray[np.object_], found: Sequence[FoundHole]
                 ) -> NDArray[np.bool_]:
    """(n,) false for the moves that make a hole, and for those beside them that stay wholly within it
    (from one turn of a pocket to the next): what they take is the hole, not the face."""
    facing, box = np.ones(len(motion), np.bool_), motion.boxes()
    for hole in found:
        facing[list(hole.moves)] = False
        for row in hole.moves:
            for step in (-1, 1):
                beside = row + step
                while 0 <= beside < len(motion) and facing[beside] and _within(hole, box[beside],
                                                                               cutters[beside]):
                    facing[beside] = False
                    beside += step
    return facing


def _within(hole: FoundHole, box: Floats, cutter: Cutter | None) -> bool:
    """Whether a move with this box (2, 3) takes nothing outside a hole or under its floor."""
    if cutter is None or not np.isfinite(box).all() or box[0, 2] < hole.tip - EXACT:
        return False
    farthest = np.hypot(*np.abs(box[:, :2] - hole.at).max(axis=0))
    return bool(farthest + profile_of(cutter).radius <= hole.diameter / 2 + ONE_AXIS)
