"""How near a cutter that leans comes to a body: the few pairs that may matter, each worked out.

The law: a leaning cutter is its upright shape sheared by the slopes of the spindle's plane and raised so
that its lowest point is the tip. Upright searches, with bodies raised by as much as a lean can lower a
cutter, find every pair that may be the nearest of its body or under its limit. Those whose value matters are
worked out to 1e-5 mm; of others the bound is told, too near by what a lean does at most. Along a path the
answer is convex, and so it is around the rim (reaches.py). Lengths in mm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .paths import Paths
from .reaches import EDGE, Reaches
from .swarm import Bodies, Swarm
from .swarm import query as upright

Floats = NDArray[np.float64]

COARSE, FINER = 2e-3, 16  # mm from an arc to its coarse chords; fine ones to each, 256 times nearer
CLOSE = 1e-5  # mm: how much nearer a pair has to be worth looking at
NOTHING_NEAR = -1e9  # mm: a limit that no overlap passes (-inf asks for no distance, only whether it strikes)
FEW = 8  # pairs of each body that are looked at first, the likeliest; then twice as many
MOST = 400  # pieces along chords worked out at a time


def query(swarm: Swarm, shapes: Bodies, bodies: Floats, near: Floats, *,
          cover: bool = False) -> tuple[Floats, Floats]:
    """As `swarm.query`, by a cutter that leans as `shapes` says."""
    if not any(shapes.tilt) or not len(swarm.paths) or not len(bodies):
        return upright(swarm, shapes, bodies, near, cover=cover)
    down, up = shapes.sway()
    raised = bodies.copy()
    raised[:, 7] += down
    lowest = upright(swarm, shapes, raised, np.full(len(bodies), NOTHING_NEAR), cover=cover)[0]
    known = np.where(lowest[:, 1] >= 0, lowest[:, 0] + down + up + EDGE, -np.inf)
    pairs = upright(swarm, shapes, raised, np.maximum(near, known), cover=cover)[1]
    which = pairs[:, 0].astype(np.intp)
    some = over_a_limit(pairs, near[which], down + up)
    pairs[some] = leaning(swarm, shapes, bodies, pairs[some], cover)
    found = np.column_stack((np.full(len(bodies), np.inf), np.full(len(bodies), -1.0), np.zeros(len(bodies))))
    keep_least(found, pairs[some])
    left, batch = np.setdiff1d(np.flatnonzero(pairs[:, 2] <= known[which]), some), FEW
    while len(left):
        left = left[pairs[left, 2] < found[which[left], 0] - CLOSE]
        now = left[rank_in(which[left], pairs[left, 2]) < batch]
        pairs[now] = leaning(swarm, shapes, bodies, pairs[now], cover)
        keep_least(found, pairs[now])
        left, batch = np.setdiff1d(left, now), 2 * batch
    return found, pairs[pairs[:, 2] < near[which]]


def over_a_limit(pairs: Floats, near: Floats, sway: float) -> NDArray[np.intp]:
    """The pairs that the lean may bring over 0 or over their limit."""
    v = pairs[:, 2]
    return np.flatnonzero(((v < 0) & (v + sway >= 0)) | ((v < near) & (v + sway >= near)))


def keep_least(found: Floats, pairs: Floats) -> None:
    """Each body's least value so far, its path and the part of it."""
    for body, path, v, part in pairs:
        if v < found[int(body), 0]:
            found[int(body)] = v, path, part


def rank_in(group: NDArray[np.intp], value: Floats) -> NDArray[np.intp]:
    """Which one each is in its group, the least value first."""
    order = np.lexsort((value, group))
    first = np.searchsorted(group[order], group[order], side="left")
    rank = np.empty(len(group), np.intp)
    rank[order] = np.arange(len(group)) - first
    return rank


def leaning(swarm: Swarm, shapes: Bodies, bodies: Floats, pairs: Floats, cover: bool) -> Floats:
    """The same pairs (body, path, value, part) with the values of the leaning cutter."""
    found, path = pairs.copy(), pairs[:, 1].astype(np.intp)
    body, cutter = bodies[pairs[:, 0].astype(np.intp)], shapes.of[swarm.paths.row[path]]
    arcs = swarm.paths.arcs[swarm.paths.arc[path]]
    some = np.flatnonzero(arcs[:, 0] == 0)
    ends = swarm.paths.start[path[some]], swarm.paths.end[path[some]]
    found[some, 2:] = np.column_stack(along(shapes, *ends, body[some], cutter[some], cover))
    for number in np.flatnonzero(arcs[:, 0]):
        found[number, 2:] = along_arc(swarm, shapes, int(path[number]), body[number], pairs[number, 2], cover)
    return found


def along(shapes: Bodies, first: Floats, last: Floats, body: Floats, cutter: NDArray[np.int32], cover: bool,
          side: float = 0.0, down: float = 0.0) -> tuple[Floats, Floats]:
    """(k,) values of cutters, `side` wider and `down` lower, from first to last (k, 3) straight past a body
    each, and where."""
    count = np.diff(shapes.first)[cutter]
    chord = np.repeat(np.arange(len(first)), count)
    piece = np.arange(len(chord)) - np.repeat(np.cumsum(count) - count, count) + shapes.first[cutter][chord]
    v, t = np.empty(len(chord)), np.empty(len(chord))
    for some in np.split(np.arange(len(chord)), np.arange(MOST, len(chord), MOST)):
        mine = chord[some]
        reaches = Reaches.of(first[mine], last[mine], body[mine], shapes, cutter[mine], piece[some], side,
                             down)
        v[some], t[some] = reaches.over() if cover else reaches.value()
    order = np.lexsort((v, chord))
    best = order[np.unique(chord[order], return_index=True)[1]]
    return v[best], t[best]


def along_arc(swarm: Swarm, shapes: Bodies, path: int, body: Floats, known: float, cover: bool
              ) -> tuple[float, float]:
    """Value along an arc, and where. `known`: its value upright, the body raised by what a lean can lower.

    Coarse chords with wider cutters bound it; those that may still be the least are cut finely.
    """
    arc, row = swarm.paths.arcs[swarm.paths.arc[path]], int(swarm.paths.row[path])
    cutter, (down, up) = shapes.of[row], shapes.sway()
    coarse = chords_of(swarm, path, 1 + int(abs(arc[6]) * np.sqrt(max(arc[3], arc[4]) / (8 * COARSE))))
    side = COARSE + abs(arc[4] - arc[3]) / (len(coarse) - 1)
    raised = body.copy()
    raised[7] += down
    under = upright(Swarm.of_paths(straights(coarse, row), shapes), shapes, raised[None],
                    np.array([known + down + up + 2 * side]), cover=cover)[1]
    some = np.sort(under[:, 1].astype(np.intp))
    bound, _ = along(shapes, coarse[some], coarse[some + 1], np.repeat(body[None], len(some), 0),
                     np.full(len(some), cutter), cover, side, 0.0 if arc[0] == 17 else side)
    best, where, open_ = np.inf, 0.0, np.ones(len(some), np.bool_)
    while (open_ & (bound < best)).any():
        now = open_ & (bound < best) & (bound <= bound[open_].min() + 2 * side)
        open_ &= ~now
        fine = [chords_of(swarm, path, FINER, each / (len(coarse) - 1), (each + 1) / (len(coarse) - 1))
                for each in some[now]]
        first, last = (np.concatenate([each[cut] for each in fine]) for cut in (slice(-1), slice(1, None)))
        past, mine = np.repeat(body[None], len(first), 0), np.full(len(first), cutter)
        v, t = along(shapes, first, last, past, mine, cover)
        least_one = int(v.argmin())
        if v[least_one] < best:
            best = float(v[least_one])
            where = float(some[now][least_one // FINER] + (least_one % FINER + t[least_one]) / FINER)
    return best, where / (len(coarse) - 1)


def chords_of(swarm: Swarm, path: int, steps: int, first: float = 0.0, last: float = 1.0) -> Floats:
    """(steps + 1, 3) places evenly along a part of a path."""
    return swarm.paths.places(np.full(steps + 1, path), np.linspace(first, last, steps + 1))


def straights(place: Floats, row: int) -> Paths:
    """Straight paths from place to place (k + 1, 3), all of one move."""
    start, end = place[:-1], place[1:]
    none = np.zeros(len(start), np.int32)
    return Paths(start, end, none, np.full(len(start), row, np.int64), none.astype(np.uint8),
                 np.stack((np.minimum(start, end), np.maximum(start, end)), axis=1))
