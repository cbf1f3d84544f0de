"""One piece of a leaning cutter along a chord past a body: how far it is from it, or how far it has to be
raised.

The law: the least of a function with one valley, found to 1e-5 mm: along the chord, down the lean as far as
both meet, around the rim, and up it where it is rounded or a flank. Lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .swarm import Bodies
from .valleys import last_where, least

Floats = NDArray[np.float64]

ALONG, AROUND, UP, DOWN = (17, 9), (9, 6), (9, 4), 30  # points and rounds of each search; halvings of one
EDGE = 1e-9  # mm: a side touched by less is a contact
SIGHTS = 16  # places around a rim from the best of which the nearest one is sought


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
