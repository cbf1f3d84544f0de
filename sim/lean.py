"""How near a cutter that leans comes to a body: the few pairs that may matter, each worked out.

The law: a leaning cutter is its upright shape sheared by the slopes of the spindle's plane and raised so
that its lowest point is the tip. Upright searches, with bodies raised by as much as a lean can lower a
cutter, find every pair that may be the nearest of its body or under its limit. Those whose value matters are
worked out to 1e-5 mm; of others the bound is told, too near by what a lean does at most. Along a path the
answer is convex, and so it is around the rim. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .paths import Paths
from .swarm import Bodies, Swarm
from .swarm import query as upright

Floats = NDArray[np.float64]

ALONG, AROUND, UP, DOWN = (17, 9), (9, 6), (9, 4), 30  # points and rounds of each search; halvings of one
COARSE, FINER = 2e-3, 16  # mm from an arc to its coarse chords; fine ones to each, 256 times nearer
CLOSE = 1e-5  # mm: how much nearer a pair has to be worth looking at
NOTHING_NEAR = -1e9  # mm: a limit that no overlap passes (-inf asks for no distance, only whether it strikes)
FEW = 8  # pairs of each body that are looked at first, the likeliest; then twice as many
EDGE = 1e-9  # mm: a side touched by less is a contact
SIGHTS = 16  # places around a rim from the best of which the nearest one is sought
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


@dataclass(frozen=True)
class Reaches:
    """m times a piece of a cutter along a chord past a body, in the body's own frame: its middle at the
    origin, its sides along the axes, its top at 0. x0 … s1: the axis' foot at both ends · hx, hy, r: the body
    · gx, gy: the lean · r0, h0, r1, h1, c: the piece, full within r0, its rounded rim."""

    x0: Floats
    y0: Floats
    s0: Floats
    x1: Floats
    y1: Floats
    s1: Floats
    hx: Floats
    hy: Floats
    r: Floats
    gx: Floats
    gy: Floats
    r0: Floats
    h0: Floats
    r1: Floats
    h1: Floats
    c: Floats

    @staticmethod
    def of(first: Floats, last: Floats, body: Floats, shapes: Bodies, cutter: NDArray,
           piece: NDArray, side: float, down: float) -> Reaches:
        """From the board frame, row by row; pieces `side` wider and `down` lower."""
        cos, sin = body[:, 2], body[:, 3]
        ends = []
        for place in (first, last):
            x, y = (place[:, :2] - body[:, :2]).T
            ends += [x * cos + y * sin, y * cos - x * sin,
                     place[:, 2] + shapes.lift[cutter] - body[:, 7] - down]
        gx, gy = shapes.tilt
        columns: list[Floats] = [*ends, *body[:, 4:7].T, gx * cos + gy * sin, gy * cos - gx * sin,
                                 *(shapes.pieces[piece] + [side, 0, side, 0]).T, shapes.rounds[cutter]]
        return Reaches(*columns)

    def only(self, some: NDArray) -> Reaches:
        return Reaches(*(getattr(self, each.name)[some] for each in fields(self)))

    @cached_property
    def lean(self) -> Floats:
        return np.hypot(self.gx, self.gy)

    @property
    def radius(self) -> Floats:
        return self.r1 + self.c

    @cached_property
    def rounded(self) -> bool:
        """Whether some body is round, or rounded."""
        return bool((self.r > 0).any())

    @cached_property
    def boxed(self) -> bool:
        """Whether some body has sides."""
        return bool((self.hx > 0).any() or (self.hy > 0).any())

    @cached_property
    def flat(self) -> NDArray[np.bool_]:
        return (self.c == 0) & (self.r1 <= self.r0)

    def at(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        return (self.x0 + t * (self.x1 - self.x0), self.y0 + t * (self.y1 - self.y0),
                self.s0 + t * (self.s1 - self.s0))

    def away(self, x: Floats, y: Floats) -> Floats:
        """Distance of places from the body, in plan."""
        qx, qy = np.maximum(np.abs(x) - self.hx, 0.0), np.maximum(np.abs(y) - self.hy, 0.0)
        return np.maximum(0.0, np.sqrt(qx * qx + qy * qy) - self.r)

    def height(self, rho: Floats) -> Floats:
        """The piece's lower surface at a radius, upright."""
        past = np.clip(rho - self.r0, 0.0, np.where(self.c > 0, self.c, self.r1 - self.r0))
        wide = self.r1 > self.r0
        slope = np.where(wide, (self.h1 - self.h0) / np.where(wide, self.r1 - self.r0, 1.0), 0.0)
        rounded = self.c - np.sqrt(np.maximum(0.0, self.c**2 - past**2))
        return self.h0 + np.where(self.c > 0, rounded, slope * past)

    # --- over it: the raise ------------------------------------------------------------------------
    def value(self) -> tuple[Floats, Floats]:
        """The gap where it is positive, else minus the raise; and where along the chord."""
        v, t = self.over()
        free = np.flatnonzero(v >= 0)
        if len(free):
            v[free], t[free] = self.only(free).gap(v[free], t[free])
        return v, t

    def over(self) -> tuple[Floats, Floats]:
        """Least height over the body's top where the piece passes over it (inf: nowhere), and where."""
        v, t = np.full(len(self.x0), np.inf), np.zeros(len(self.x0))
        low, high, meets = self.within(self.radius - EDGE)
        for flat in (True, False):
            some = np.flatnonzero(meets & (self.flat == flat))
            if len(some):
                mine = self.only(some)
                v[some], t[some] = least(mine.over_at, low[some], high[some], ALONG)
        return v, t

    def within(self, radius: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """From where to where the axis lies no farther from the body than `radius`; whether anywhere."""
        def away(t: Floats) -> Floats:
            return self.away(*self.at(t)[:2])

        nearest, t = least(away, np.zeros_like(self.x0), np.ones_like(self.x0), ALONG)
        far = [last_where(lambda t: away(t) <= radius, t, np.full_like(t, end), 50) for end in (0.0, 1.0)]
        return far[0], far[1], nearest < radius

    def over_at(self, t: Floats) -> Floats:
        """Least height over the body with the axis at a place: down the lean as far as both meet."""
        x, y, s = self.at(t)
        lean = self.lean
        ux, uy = -self.gx / lean, -self.gy / lean
        kx, ky = np.clip(x, -self.hx, self.hx) - x, np.clip(y, -self.hy, self.hy) - y
        d = np.hypot(kx, ky)
        inside = (kx * ux + ky * uy) * np.maximum(0.0, 1 - self.r / np.where(d > 0, d, np.inf))

        def meeting(w: Floats) -> tuple[Floats, Floats]:
            half = np.sqrt(np.maximum(0.0, self.radius**2 - w * w))
            low, high = self.chord(x + w * ux, y + w * uy, -uy, ux)
            return np.maximum(low, -half), np.minimum(high, half)

        def meets(w: Floats) -> NDArray[np.bool_]:
            low, high = meeting(w)
            return low <= high

        top = last_where(meets, inside, self.radius, DOWN)
        if self.flat.all():
            return s + self.h0 - lean * top

        def above(w: Floats) -> Floats:
            low, high = meeting(w)
            across = np.where(low <= high, np.clip(0.0, low, high), 0.0)
            return self.height(np.hypot(w, across)) - lean * w

        bottom = last_where(meets, inside, -self.radius, DOWN)
        return s + least(above, bottom, top, ALONG)[0]

    def chord(self, x: Floats, y: Floats, nx: Floats, ny: Floats) -> tuple[Floats, Floats]:
        """The q from which to which (x, y) + q·(nx, ny) lies in the body's outline; from > to: nowhere."""
        low, high = np.full_like(x, np.inf), np.full_like(x, -np.inf)
        boxes = ((self.r, 0.0), (0.0, self.r)) if self.rounded else ((0.0, 0.0),)
        for wider, taller in boxes if self.boxed else ():
            a0, a1 = slab(x, nx, self.hx + wider)
            b0, b1 = slab(y, ny, self.hy + taller)
            a0, a1 = np.maximum(a0, b0), np.minimum(a1, b1)
            some = a0 <= a1
            low, high = np.where(some, np.minimum(low, a0), low), np.where(some, np.maximum(high, a1), high)
        corners = ((-1, -1), (-1, 1), (1, -1), (1, 1)) if self.boxed else ((0, 0),)
        for sx, sy in corners if self.rounded else ():
            dx, dy = x - sx * self.hx, y - sy * self.hy
            along = dx * nx + dy * ny
            rest = self.r**2 - (dx * dx + dy * dy - along**2)
            half = np.sqrt(np.maximum(rest, 0.0))
            low = np.where(rest >= 0, np.minimum(low, -along - half), low)
            high = np.where(rest >= 0, np.maximum(high, -along + half), high)
        return low, high

    # --- beside it: the gap ------------------------------------------------------------------------
    def gap(self, over: Floats, where: Floats) -> tuple[Floats, Floats]:
        """Least distance from the body, given the least height over it (inf: never) and where that is; and
        where it is. Beside the body the rim tells it: around and, where it is rounded or a flank, up it."""
        best, place = over / np.hypot(1.0, self.lean), where.copy()
        middle = np.where(np.isfinite(over), where, 1.0)
        for first, last in ((np.zeros_like(middle), middle), (middle, np.ones_like(middle))):
            for flat in (True, False):
                some = np.flatnonzero((first < last) & (self.flat == flat))
                if len(some):
                    v, t = least(self.only(some).beside_at, first[some], last[some], ALONG)
                    better = v < best[some]
                    best[some[better]], place[some[better]] = v[better], t[better]
        return best, place

    def beside_at(self, t: Floats) -> Floats:
        """Distance of the piece's rim from the body with the axis at a place."""
        x, y, s = self.at(t)

        def around(up: Floats) -> Floats:
            turned = up * np.pi / 2
            rho = self.r0 + np.where(self.c > 0, self.c * np.sin(turned), (self.r1 - self.r0) * up)
            rise = self.h0 + np.where(self.c > 0, self.c * (1 - np.cos(turned)), (self.h1 - self.h0) * up)

            def apart(turn: Floats) -> Floats:
                dx, dy = rho * np.cos(turn), rho * np.sin(turn)
                above = np.maximum(0.0, s + rise + self.gx * dx + self.gy * dy)
                return np.hypot(self.away(x + dx, y + dy), above)

            shape = np.shape(rho + x)
            sights: Floats = np.arange(SIGHTS, dtype=np.float64) * (2 * np.pi / SIGHTS)
            sights = sights.reshape(-1, *(1,) * len(shape))
            best = np.take(sights, apart(np.broadcast_to(sights, (SIGHTS, *shape))).argmin(axis=0))
            apart_by = 2 * np.pi / SIGHTS
            return least(apart, best - apart_by, best + apart_by, AROUND)[0]

        if self.flat.all():
            return around(np.zeros_like(x))
        return least(around, np.zeros_like(x), np.ones_like(x), UP)[0]


def slab(b: Floats, n: Floats, half: Floats) -> tuple[Floats, Floats]:
    """The q with |b + q·n| <= half."""
    still = np.abs(n) < 1e-12
    safe = np.where(still, 1.0, n)
    p, q = (-half - b) / safe, (half - b) / safe
    low, high = np.minimum(p, q), np.maximum(p, q)
    inside = np.abs(b) <= half
    return (np.where(still, np.where(inside, -np.inf, np.inf), low),
            np.where(still, np.where(inside, np.inf, -np.inf), high))


def least(f: Callable[[Floats], Floats], low: Floats, high: Floats, search: tuple[int, int]
          ) -> tuple[Floats, Floats]:
    """Least value between low and high of functions with one valley, and where: points evenly spread, then
    as many about the best of them, and so on. f takes one more axis, in front."""
    points, rounds = search
    part = np.linspace(0.0, 1.0, points).reshape(-1, *(1,) * np.ndim(low))
    best, where = np.full(np.shape(low), np.inf), np.array(low, float)
    for _ in range(rounds):
        places = low + part * (high - low)
        values = f(places)
        at = values.argmin(axis=0)[None]
        value, place = (np.take_along_axis(each, at, axis=0)[0] for each in (values, places))
        best, where = np.where(value < best, value, best), np.where(value < best, place, where)
        step = (high - low) / (points - 1)
        low, high = np.maximum(low, where - step), np.minimum(high, where + step)
    return best, where


def last_where(holds: Callable[[Floats], NDArray[np.bool_]], inside: Floats, outside: Floats,
               steps: int) -> Floats:
    """The last place, going from `inside`, where it holds, to `outside`, at which it still holds."""
    inside, outside = np.broadcast_arrays(inside, outside)
    whole, end = holds(outside), outside
    for _ in range(steps):
        middle = 0.5 * (inside + outside)
        here = holds(middle)
        inside, outside = np.where(here, middle, inside), np.where(here, outside, middle)
    return np.where(whole, end, inside)
