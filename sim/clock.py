"""How long each move takes: feeds, rapids, dwells, and what starting and stopping cost.

The law: time follows from geometry and rates alone. Every move keeps to its rate, no axis exceeds its own,
and with accelerations given no corner is taken faster than the control's rounding allows. What has no
place or no rate takes no time here and is named by `untimed`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..parser.motion import PLANE_AXES, Event, Floats, Happening, Motion
from ..parser.reading import Unchecked

Rates = float | Sequence[float]  # one number for every axis, or one for each of X, Y, Z

ROUNDING = 0.01  # mm: how far a control may round a corner; common practice, no published source
STANDING = 1e-9  # mm: a shorter move is none
WAITS = (Happening.STOP, Happening.OPTIONAL_STOP, Happening.CUTTER)
MOST = 8  # lines of such that are named


class Pace(NamedTuple):
    """How k moves that take time go: `rows` (k,) of the motion, `length` mm, the `speed` asked for and what
    is passed at the two ends, `entry` and `leaving`, mm/s; `push` mm/s² along the path (inf: at once)."""

    rows: NDArray[np.intp]
    length: Floats
    speed: Floats
    push: Floats
    entry: Floats
    leaving: Floats

    @property
    def peak(self) -> Floats:
        """(k,) the greatest speed that each move reaches, mm/s."""
        return np.minimum(self.speed, np.sqrt((2 * self.push * self.length
                                               + self.entry**2 + self.leaving**2) / 2))


class Courses(NamedTuple):
    """The direction of each path where it starts and ends, and how much of it each axis bears at most.

    start, end, share: (n, 3); start and end are unit vectors; 0 < share <= 1 for an axis that moves.
    """

    start: Floats
    end: Floats
    share: Floats


def seconds(motion: Motion, rapid: Rates | None = None, acceleration: Rates | None = None,
            *, rounding: float = ROUNDING) -> Floats:
    """(n,) seconds of each move; dwells are `dwell_seconds`, stops `attended`.

    rapid: mm/min, acceleration: mm/s², each for every axis or for X, Y, Z. Without `rapid` rapids take no
    time, without `acceleration` moves start and stop at once. `rounding` (mm) is the corner allowance.
    Moves without a place or a feed take 0 s.
    """
    going, spent = pace(motion, rapid, acceleration, rounding=rounding), np.zeros(len(motion))
    spent[going.rows] = ramped(*going[1:])
    return spent


def pace(motion: Motion, rapid: Rates | None = None, acceleration: Rates | None = None,
         *, rounding: float = ROUNDING, override: float = 1.0, max_feed: float = np.inf) -> Pace:
    """How the moves go that have a place and a rate; arguments as in `seconds`. `override`: what the
    operator's knob makes of every feed, 1 as programmed; `max_feed` (mm/min): then no feed is faster. Rapids
    keep their rate."""
    length, speed = motion.length(), speeds(motion, rapid)
    speed[motion.is_feed] = np.minimum(speed[motion.is_feed] * override, max_feed / 60.0)
    rows = np.flatnonzero(np.isfinite(length) & (length > STANDING) & (speed > 0))
    if acceleration is None:
        return Pace(rows, length[rows], speed[rows], np.full(len(rows), np.inf), speed[rows], speed[rows])
    course = courses(motion, rows)
    push = along(course.share, acceleration)
    corner = corner_speeds(motion, rows, course, push, rounding)
    passing = passing_speeds(length[rows], speed[rows], push, corner)
    return Pace(rows, length[rows], speed[rows], push, passing[:-1], passing[1:])


def speeds(motion: Motion, rapid: Rates | None) -> Floats:
    """(n,) mm/s along the path that the program asks for; NaN where it is not known.

    A rapid goes straight and the slowest axis decides: no axis goes faster than its own rate.
    """
    speed = motion.feed / 60.0
    rows = np.flatnonzero(~motion.is_feed)
    speed[rows] = np.nan
    if rapid is not None:
        speed[rows] = along(courses(motion, rows).share, rapid) / 60.0
    return speed


def along(share: Floats, axes: Rates) -> Floats:
    """(n,) the greatest rate along each path at which no axis exceeds its own; NaN where nothing moves."""
    limit = np.broadcast_to(np.asarray(axes, float), (3,))
    with np.errstate(divide="ignore", invalid="ignore"):
        return 1.0 / np.max(share / limit, axis=1)


def courses(motion: Motion, rows: NDArray[np.intp]) -> Courses:
    """The courses of the given moves. On an arc either axis of its plane bears the whole of it somewhere."""
    way = motion.end[rows] - motion.start[rows]
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = way / np.linalg.norm(way, axis=1, keepdims=True)
    course = Courses(unit, unit.copy(), np.abs(unit))
    round_ = np.flatnonzero(motion.arc[rows] >= 0)
    for plane, axes in PLANE_AXES.items():
        chosen = round_[motion.arcs.plane[motion.arc[rows[round_]]] == plane]
        _bend(course, motion, rows, chosen, axes)
    return course


def _bend(course: Courses, motion: Motion, rows: NDArray[np.intp], chosen: NDArray[np.intp],
          axes: tuple[int, int, int]) -> None:
    """Courses of the arcs of one plane: across the radius, rising evenly."""
    moves = rows[chosen]
    centre, sweep = motion.arcs.centre[motion.arc[moves]], motion.arcs.sweep[motion.arc[moves]]
    plane, third = list(axes[:2]), axes[2]
    rise = (motion.end[moves, third] - motion.start[moves, third]) / np.abs(sweep)
    for tangents, points in ((course.start, motion.start), (course.end, motion.end)):
        arm = points[moves][:, plane] - centre
        tangent = np.zeros((len(moves), 3))
        tangent[:, axes[0]] = -np.sign(sweep) * arm[:, 1]
        tangent[:, axes[1]] = np.sign(sweep) * arm[:, 0]
        tangent[:, third] = rise
        tangents[chosen] = tangent / np.linalg.norm(tangent, axis=1, keepdims=True)
    steep = np.abs(course.start[chosen, third])
    for axis in plane:
        course.share[chosen, axis] = np.sqrt(np.maximum(0.0, 1 - steep**2))
    course.share[chosen, third] = steep


def corner_speeds(motion: Motion, rows: NDArray[np.intp], course: Courses, push: Floats,
                  rounding: float) -> Floats:
    """(k + 1,) mm/s at which each corner before, between and after k moves may be passed; 0: it stops.

    v = sqrt(a·d·s/(1 - s)), s the sine of half the angle between the line that comes in, reversed, and the
    one that goes out, d the rounding (junction-deviation model: formulas of open motion controllers).
    Whatever happens between two moves, or a gap in the path, makes the machine stand still.
    """
    corner = np.zeros(len(rows) + 1)
    straightness = np.einsum("ij,ij->i", course.end[:-1], course.start[1:])
    half = np.sqrt(np.clip((1 + straightness) / 2, 0.0, 1.0))
    straight = 1 - half < 1e-12
    with np.errstate(divide="ignore"):
        slow = np.sqrt(np.minimum(push[:-1], push[1:]) * rounding * half / np.where(straight, 1.0, 1 - half))
    corner[1:-1] = np.where(straight, np.inf, slow)
    corner[1:-1][np.linalg.norm(motion.end[rows[:-1]] - motion.start[rows[1:]], axis=1) > 1e-6] = 0.0
    interrupted = [np.searchsorted(rows, event.before) for event in motion.events]
    corner[np.array(interrupted, int)] = 0.0
    return corner


def passing_speeds(length: Floats, speed: Floats, push: Floats, corner: Floats) -> Floats:
    """(k + 1,) mm/s really reached at each corner: what braking and speeding up on the way allow.

    v² may change by at most 2·a·length over a move. The greatest v² everywhere is the least of
    corner² + |S - S'| over all corners, S summing 2·a·length: two running minima.
    """
    ends = np.concatenate(([np.inf], speed, [np.inf]))
    cap = np.minimum(corner, np.minimum(ends[:-1], ends[1:])) ** 2
    reach = np.concatenate(([0.0], np.cumsum(2 * push * length)))
    forward = np.minimum.accumulate(cap - reach) + reach
    backward = np.minimum.accumulate((cap + reach)[::-1])[::-1] - reach
    return np.sqrt(np.maximum(0.0, np.minimum(cap, np.minimum(forward, backward))))


def ramped(length: Floats, speed: Floats, push: Floats, entry: Floats, leaving: Floats) -> Floats:
    """Seconds of moves: `length` mm at `speed` mm/s, acceleration `push`, from `entry` to `leaving` mm/s.

    Trapezoid, or triangle where the speed is never reached (textbook kinematics). The two speeds must be
    within reach of each other over the length; then the result is exact.
    """
    peak = np.minimum(speed, np.sqrt((2 * push * length + entry**2 + leaving**2) / 2))
    ramps = (2 * peak**2 - entry**2 - leaving**2) / (2 * push)
    return (2 * peak - entry - leaving) / push + np.maximum(0.0, length - ramps) / peak


def seconds_below(going: Pace, floor: Floats) -> Floats:
    """(k, 3) s of each move slower than `floor` (k,) mm/s: speeding up at its start, at the speed it keeps,
    slowing down at its end. Formulas of the same trapezoid as in `ramped`."""
    peak = going.peak
    least = np.minimum(floor, peak)
    up, down = (np.maximum(0.0, least - end) / going.push for end in (going.entry, going.leaving))
    ramps = (2 * peak**2 - going.entry**2 - going.leaving**2) / (2 * going.push)
    level = np.where(peak < floor, np.maximum(0.0, going.length - ramps) / peak, 0.0)
    return np.column_stack((up, level, down))


def dwell_seconds(motion: Motion) -> float:
    """Seconds that the program waits by itself."""
    return float(sum(event.value for event in motion.events if event.kind is Happening.DWELL))


def attended(motion: Motion) -> tuple[Event, ...]:
    """The stops and cutter changes: how long they last is the operator's affair."""
    return tuple(event for event in motion.events if event.kind in WAITS
                 and (event.kind is not Happening.OPTIONAL_STOP or event.value))


def untimed(motion: Motion, rapid: Rates | None, acceleration: Rates | None = None) -> tuple[Unchecked, ...]:
    """What the time leaves out, and why."""
    said = []
    if acceleration is None and len(motion):
        said.append(Unchecked("time of speeding up and slowing down", "machine.acceleration is not given"))
    if rapid is None and (~motion.is_feed).any():
        said.append(Unchecked("time of rapids", "machine.rapid is not given"))
    lost = int((motion.is_feed & ~(np.isfinite(motion.length()) & (motion.feed > 0))).sum())
    if lost:
        said.append(Unchecked("time of feed moves", f"{lost} have no known place or feed"))
    if waits := attended(motion):
        lines = [str(event.line) for event in waits[:MOST]] + ["…"] * (len(waits) > MOST)
        said.append(Unchecked("time at stops and cutter changes",
                              f"{len(waits)} wait for the operator: {'line' if len(waits) == 1 else 'lines'} "
                              f"{', '.join(lines)}"))
    return tuple(said)
