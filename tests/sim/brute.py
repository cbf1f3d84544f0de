"""A brute-force oracle for clearances: paths sampled ever closer about their best places, bodies as
NumPy formulas written from the definitions, no code of the kernels.

v of a place: the gap of the cutter there, or minus the height by which it would have to be raised.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from proveout.parser.job import Corner, Cutter
from proveout.parser.motion import MotionBuilder, Move

SIDE = 1e-9  # mm: a side touched by less is a contact
TILE, ACROSS = 1000.0, 32  # cases stand on their own tiles, so that none meets another's body
MOVES = ("level", "ramp", "plunge", "level arc", "helix", "arc G18", "arc G19", "spiral")
BODIES = ("disc", "box", "bar")


def pool(rng: np.random.Generator) -> list[Cutter]:
    """Three cutters of every shape."""
    cutters = []
    for _ in range(3):
        d = float(rng.uniform(3, 40))
        corner = Corner(radius=float(rng.uniform(0.1, 0.45)) * d)
        half = d / 2
        steps = sorted(rng.uniform(0, half, 2).tolist())
        rises = np.cumsum(rng.uniform(0.1, 4, 3)).tolist()
        profile = ((0.0, 0.0), (steps[0], rises[0]), (steps[1], rises[1] * 0.5), (half, rises[2]))
        angle, point = float(rng.uniform(30, 120)), float(rng.uniform(90, 140))
        given = {"flat": {}, "facing": {"core": d / 3}, "ball": {}, "bull": {"corner": corner},
                 "cone": {"tip": d / 5, "angle": angle}, "drill": {"angle": point},
                 "profile": {"profile": profile}}
        cutters += [Cutter(number=len(cutters) + k, shape=shape, diameter=d, edges=2, **rest)
                    for k, (shape, rest) in enumerate(given.items())]
    return cutters


def lower_edge(cutter: Cutter) -> tuple[np.ndarray, float]:
    """(k, 2) radius and height of a cutter's lower surface, straight between, and its rounded rim."""
    half = cutter.diameter / 2
    if cutter.shape == "ball":
        return np.array([[0.0, 0.0]]), half
    if cutter.shape == "bull":
        return np.array([[0.0, 0.0], [half - cutter.corner.radius, 0.0]]), cutter.corner.radius
    if cutter.shape in ("cone", "drill"):
        tip = (cutter.tip or 0.0) / 2
        return np.array([[tip, 0.0], [half, (half - tip) / np.tan(np.radians(cutter.angle / 2))]]), 0.0
    if cutter.shape == "profile":
        return np.array(cutter.profile), 0.0
    return np.array([[0.0, 0.0], [half, 0.0]]), 0.0


@dataclass
class Shape:
    """A lower edge made for formulas: corners that lead (no corner farther out lies lower), its rim."""

    edge: np.ndarray
    rim: float
    reach: float

    @staticmethod
    def of(cutter: Cutter) -> Shape:
        edge, rim = lower_edge(cutter)
        return Shape(edge, rim, cutter.diameter / 2)

    def height(self, d: np.ndarray) -> np.ndarray:
        """Least height at radius d or farther out; inf past the reach."""
        r, h = self.edge[:, 0], self.edge[:, 1]
        out = np.clip(d - r[-1], 0, self.rim)
        rounded = self.rim - np.sqrt(np.maximum(self.rim**2 - out**2, 0))
        here = np.interp(d, r, h) + rounded
        for k in range(len(r)):
            here = np.where(d <= r[k], np.minimum(here, h[k]), here)
        return np.where(d < self.reach - SIDE, here, np.inf)

    def gap(self, d: np.ndarray, s: np.ndarray) -> np.ndarray:
        """Distance of the cutter from all that lies beyond d and s or more under its tip; 0 if they meet."""
        r, h = self.edge[:, 0], self.edge[:, 1] + self.rim
        best = np.full(d.shape, np.inf)
        for k in range(len(r)):
            best = np.minimum(best, np.hypot(np.maximum(d - r[k], 0), np.maximum(s + h[k], 0)))
        for k in range(len(r) - 1):
            ex, ez = r[k + 1] - r[k], h[k + 1] - h[k]
            u = np.clip(((d - r[k]) * ex + (-s - h[k]) * ez) / (ex * ex + ez * ez), 0, 1)
            out, over = np.maximum(d - r[k] - u * ex, 0), np.maximum(s + h[k] + u * ez, 0)
            best = np.minimum(best, np.hypot(out, over))
        return np.maximum(best - self.rim, 0)

    def value(self, d: np.ndarray, s: np.ndarray) -> np.ndarray:
        """v against a body at distance d in plan whose top lies s under the tip."""
        gap = self.gap(d, s)
        need = -s - self.height(np.maximum(d, 0))
        return np.where(need > 0, -need, gap)


@dataclass
class Cases:
    """n random moves as columns, each of one cutter of the pool."""

    kind: np.ndarray
    cutter: np.ndarray
    start: np.ndarray
    end: np.ndarray
    plane: np.ndarray
    centre: np.ndarray
    sweep: np.ndarray

    def __len__(self) -> int:
        return len(self.kind)

    def at(self, u: np.ndarray) -> np.ndarray:
        """(n, m, 3) places at parts u (n, m), from what ArcTable says an arc is."""
        p = self.start[:, None] + u[..., None] * (self.end - self.start)[:, None]
        for plane, (a, b) in {17: (0, 1), 18: (2, 0), 19: (1, 2)}.items():
            some = np.flatnonzero(self.plane == plane)
            out = self.start[some][:, [a, b]] - self.centre[some]
            back = self.end[some][:, [a, b]] - self.centre[some]
            r0, r1 = np.hypot(*out.T)[:, None], np.hypot(*back.T)[:, None]
            angle = np.arctan2(out[:, 1], out[:, 0])[:, None] + self.sweep[some, None] * u[some]
            radius = r0 + (r1 - r0) * u[some]
            p[some, :, a] = self.centre[some, 0, None] + radius * np.cos(angle)
            p[some, :, b] = self.centre[some, 1, None] + radius * np.sin(angle)
        return p

    def taken(self, some: np.ndarray) -> Cases:
        return Cases(*(getattr(self, name)[some] for name in self.__dataclass_fields__))

    def motion(self, kinds: np.ndarray | None = None):
        """The same as a Motion, its rows in order; straight ones rapids where `kinds` says so."""
        build = MotionBuilder()
        for k in range(len(self)):
            if self.plane[k]:
                build.arc(k + 1, self.start[k], self.end[k], plane=int(self.plane[k]), centre=self.centre[k],
                          sweep=float(self.sweep[k]), feed=500)
            else:
                move = Move.FEED if kinds is None or not kinds[k] else Move.RAPID
                build.move(move, k + 1, self.start[k], self.end[k], feed=500)
        return build.motion()


def random_cases(rng: np.random.Generator, n: int, cutters: int) -> Cases:
    """Moves of every kind about the origin, up to 100 mm long."""
    kind = rng.integers(0, len(MOVES), n)
    start, end = rng.uniform(-40, 40, (n, 3)), rng.uniform(-40, 40, (n, 3))
    start[:, 2], end[:, 2] = rng.uniform(-8, 8, (2, n))
    end[kind == 0, 2] = start[kind == 0, 2]
    end[kind == 2, :2] = start[kind == 2, :2]
    plane, centre, sweep = np.zeros(n, int), np.zeros((n, 2)), np.zeros(n)
    for number, (a, b, c), of in ((17, (0, 1, 2), (3, 4, 7)), (18, (2, 0, 1), (5,)), (19, (1, 2, 0), (6,))):
        some = np.flatnonzero(np.isin(kind, of))
        plane[some] = number
        radius, angle = rng.uniform(1, 40, len(some)), rng.uniform(-np.pi, np.pi, len(some))
        sweep[some] = rng.choice((-1, 1), len(some)) * rng.uniform(0.05, 2 * np.pi, len(some))
        arm = radius[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))
        centre[some] = start[some][:, [a, b]] - arm
        grown = radius + np.where(kind[some] == 7, rng.uniform(-0.01, 0.01, len(some)), 0)
        last = angle + sweep[some]
        end[some, a] = centre[some, 0] + grown * np.cos(last)
        end[some, b] = centre[some, 1] + grown * np.sin(last)
        level = rng.random(len(some)) < (0.3 if number != 17 else 0)
        level |= kind[some] == 3
        end[some, c] = np.where(level, start[some, c], end[some, c])
    return Cases(kind, rng.integers(0, cutters, n), start, end, plane, centre, sweep)


def least(f, n: int, coarse: int = 97, fine: int = 33, rounds: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Least value of f(u) over 0..1 for n cases at once, and where: coarse samples, then ever closer ones
    about the three lowest of their local minima."""
    u = np.broadcast_to(np.linspace(0, 1, coarse), (n, coarse))
    v = f(u)
    padded = np.pad(v, ((0, 0), (1, 1)), constant_values=np.inf)
    local = (v <= padded[:, :-2]) & (v <= padded[:, 2:])
    starts = np.argsort(np.where(local, v, np.inf), axis=1, kind="stable")[:, :3]
    best, where = np.full(n, np.inf), np.zeros(n)
    for k in range(3):
        centre, width = u[0][starts[:, k]], 1 / (coarse - 1)
        for _ in range(rounds):
            some = np.clip(centre[:, None] + width * np.linspace(-1, 1, fine), 0, 1)
            values = f(some)
            at = values.argmin(axis=1)
            centre, value = some[np.arange(n), at], values[np.arange(n), at]
            better = value < best
            best, where = np.where(better, value, best), np.where(better, centre, where)
            width *= 2 / (fine - 1)
    return best, where
