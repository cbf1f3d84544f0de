"""Clearances against the brute-force oracle of brute.py, hand calculations, and manifold3d.

The law: what is found is attained at the place that is named (no false stop), and no sample of the path
comes nearer (no false clear).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from proveout.sim.clearance import STRIKE, clearances
from proveout.sim.evidence import Phase
from proveout.sim.solids import ClampSolid, Footprint, HeadSolid, Solids

from .brute import ACROSS, BODIES, TILE, Cases, Shape, least, pool, random_cases

CLOSE = 2e-5  # mm: arcs are bounded this closely
RIGHT = 1e-4  # mm: gaps are right to this
SLACK = 1e-7  # mm: places on tiles 30 m away are no better than this, and an overlap jumps at a side
TOGETHER = ACROSS * ACROSS


@dataclass
class Outlines:
    """n bodies in plan: half sizes, a turn, a rounding, a place, a top."""

    kind: np.ndarray
    at: np.ndarray
    half: np.ndarray
    turn: np.ndarray
    round: np.ndarray
    top: np.ndarray

    def away(self, points: np.ndarray) -> np.ndarray:
        """(n, m) distance in plan of places (n, m, 3) from each body's outline."""
        c, s = np.cos(self.turn)[:, None], np.sin(self.turn)[:, None]
        x, y = points[..., 0] - self.at[:, 0, None], points[..., 1] - self.at[:, 1, None]
        inside = np.abs(np.stack((c * x + s * y, c * y - s * x), -1)) - self.half[:, None]
        return np.maximum(np.linalg.norm(np.maximum(inside, 0), axis=-1) - self.round[:, None], 0)

    def solid(self, k: int, shift: np.ndarray, about: str):
        print_ = Footprint(tuple((self.at[k] + shift).tolist()), tuple(self.half[k].tolist()),
                           float(self.turn[k]), float(self.round[k]))
        top = float(self.top[k])
        if self.kind[k] == 0:
            return HeadSolid(about, "screws", k, print_.at, print_.round, top, top - 4)
        return ClampSolid(about, print_, top, top - 30)


def random_outlines(rng: np.random.Generator, n: int) -> Outlines:
    kind = rng.integers(0, len(BODIES), n)
    disc, bar = kind == 0, kind == 2
    half = np.where(disc[:, None], 0, rng.uniform(1, 25, (n, 2)))
    return Outlines(kind, rng.uniform(-60, 60, (n, 2)), half,
                    np.where(bar, rng.uniform(-np.pi, np.pi, n), 0), np.where(disc, rng.uniform(1, 12, n), 0),
                    rng.uniform(-10, 10, n))


class Oracle:
    """v of n cases by brute force."""

    def __init__(self, cases: Cases, bodies: Outlines, shapes: list[Shape]) -> None:
        self.cases, self.bodies, self.shapes = cases, bodies, shapes
        self.reach = np.array([s.reach for s in shapes])[cases.cutter]

    def by_shape(self, name: str, d: np.ndarray, s: np.ndarray) -> np.ndarray:
        found = np.empty(d.shape)
        for k, shape in enumerate(self.shapes):
            some = self.cases.cutter == k
            over = name == "over"
            found[some] = s[some] + shape.height(d[some]) if over else shape.value(d[some], s[some])
        return found

    def value(self, u: np.ndarray) -> np.ndarray:
        p = self.cases.at(u)
        return self.by_shape("value", self.bodies.away(p), p[..., 2] - self.bodies.top[:, None])

    def over(self, u: np.ndarray) -> np.ndarray:
        """Height of the cutter's lower surface where it is over the body."""
        p = self.cases.at(u)
        return self.by_shape("over", self.bodies.away(p), p[..., 2])

    def beside(self, u: np.ndarray) -> np.ndarray:
        return self.bodies.away(self.cases.at(u))


def near_contact(rng: np.random.Generator, cases: Cases, bodies: Outlines, shapes: list[Shape]) -> np.ndarray:
    """Puts six of ten bodies within 0.05 mm of contact: half of those that the path passes over by their
    height, all others by moving them up to the path from far away. True for the six."""
    n = len(cases)
    oracle = Oracle(cases, bodies, shapes)
    low, _ = least(oracle.over, n)
    close, shift = rng.random(n) < 0.6, rng.uniform(-0.05, 0.05, n)
    over = close & np.isfinite(low) & (rng.random(n) < 0.5)
    bodies.top[over] = (low + shift)[over]
    aside = close & ~over
    bodies.at[aside] += np.array([0.0, 400.0])
    bodies.top[aside] = 100.0
    nearest, u = least(oracle.beside, n, rounds=5)
    towards = edge_towards(bodies, cases.at(u[:, None])[:, 0])
    bodies.at[aside] += (towards * (oracle.reach + shift - nearest)[:, None])[aside]
    return close


def edge_towards(bodies: Outlines, p: np.ndarray) -> np.ndarray:
    """(n, 2) unit vectors from places to the nearest points of the bodies."""
    c, s = np.cos(bodies.turn), np.sin(bodies.turn)
    x, y = p[:, 0] - bodies.at[:, 0], p[:, 1] - bodies.at[:, 1]
    local = np.stack((c * x + s * y, c * y - s * x), -1)
    nearest = np.clip(local, -bodies.half, bodies.half) - local
    back = np.stack((c * nearest[:, 0] - s * nearest[:, 1], s * nearest[:, 0] + c * nearest[:, 1]), -1)
    return back / np.maximum(np.linalg.norm(back, axis=1), 1e-12)[:, None]


def found_by_us(cases: Cases, bodies: Outlines, cutters: list) -> tuple[np.ndarray, np.ndarray]:
    """v and the place of it (n, 3), a tile for each case, all cases of a phase at once."""
    n = len(cases)
    tile = np.stack((np.arange(n) % ACROSS, np.arange(n) // ACROSS % ACROSS), -1) * TILE
    motion = shifted(cases, tile).motion()
    phases = []
    for first in range(0, n, TOGETHER):
        own = range(first, min(first + TOGETHER, n))
        solids = [bodies.solid(k, tile[k], str(k)) for k in own]
        phases.append(Phase(first, own.stop, Solids(tuple(s for s in solids if isinstance(s, HeadSolid)),
                                                    tuple(s for s in solids if isinstance(s, ClampSolid)))))
    got = clearances(motion, np.array([cutters[k] for k in cases.cutter], object), phases)
    v, at = np.full(n, np.nan), np.full((n, 3), np.nan)
    for approach in got.closest:
        v[int(approach.about)], at[int(approach.about)] = approach.gap, approach.at
    at[:, :2] -= tile
    return v, at


def shifted(cases: Cases, tile: np.ndarray) -> Cases:
    moved = cases.taken(np.arange(len(cases)))
    moved.start[:, :2] += tile
    moved.end[:, :2] += tile
    for plane, (a, b) in {17: (0, 1), 18: (None, 0), 19: (1, None)}.items():
        some = moved.plane == plane
        for column, axis in enumerate((a, b)):
            if axis is not None:
                moved.centre[some, column] += tile[some, axis]
    return moved


def held_against_brute_force(seed: int, n: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    cutters = pool(rng)
    shapes = [Shape.of(c) for c in cutters]
    cases, bodies = random_cases(rng, n, len(cutters)), random_outlines(rng, n)
    close = near_contact(rng, cases, bodies, shapes)
    v, at = found_by_us(cases, bodies, cutters)
    oracle = Oracle(cases, bodies, shapes)
    lowest, _ = least(oracle.value, n)
    assert np.isfinite(v).all()
    assert (v <= lowest + RIGHT).all(), "a sample of the path lies nearer: a false clear"
    assert (v[lowest < -STRIKE] < -STRIKE).all(), "a strike is missed"
    away = np.maximum(bodies.away(at[:, None]) - SLACK, 0)
    attained = oracle.by_shape("value", away, at[:, None, 2] - bodies.top[:, None])[:, 0]
    some = np.arange(0, n, 10)
    few = cases.taken(some)
    on_path = least(lambda u: np.linalg.norm(few.at(u) - at[some, None], axis=-1), len(some), rounds=5)[0]
    assert (on_path < 1e-5).all(), "the place named is not on the path"
    assert (attained < v + RIGHT).all(), "what is found is not attained there: a false stop"
    return np.array([n, close.sum(), (v < -STRIKE).sum()])


@pytest.mark.parametrize("seed", range(10))
def test_every_cutter_move_and_body_against_brute_force(seed):
    """100 000 moves past heads, posts, boxes and turned bars, a tenth of them for each seed."""
    cases, near, strikes = held_against_brute_force(seed, 10_000)
    assert near >= cases / 2
    assert 0.2 < strikes / cases < 0.8


def test_many_moves_and_bodies_at_once_are_as_one_by_one():
    """Bounds over bounds leave nothing out: closest and contacts of 1000 moves among 30 bodies, in any order,
    are those of every pair alone."""
    rng = np.random.default_rng(5)
    cutters = pool(rng)
    cases, bodies = random_cases(rng, 1000, len(cutters)), random_outlines(rng, 30)
    moved = shifted(cases, rng.uniform(-150, 150, (1000, 2)))
    motion, own = moved.motion(), np.array([cutters[k] for k in cases.cutter], object)
    solids = [bodies.solid(k, rng.uniform(-150, 150, 2), str(k)) for k in range(30)]
    standing = [Solids((s,), ()) if isinstance(s, HeadSolid) else Solids((), (s,)) for s in solids]
    together = Solids(tuple(h for one in standing for h in one.heads),
                      tuple(c for one in standing for c in one.clamps))
    got = clearances(motion, own, (Phase(0, 1000, together),))
    pairs: dict[str, list[tuple[float, int]]] = {s.about: [] for s in solids}
    for row in range(0, 1000, 10):
        phases = tuple(Phase(row + k, row + k + 1, together) for k in range(10))
        for approach in clearances(motion, own, phases).closest:
            pairs[approach.about].append((approach.gap, approach.move))
    for approach in got.closest:
        assert approach.gap == pytest.approx(min(pairs[approach.about])[0], abs=CLOSE)
    for solid in solids:
        near = {a.move for a in got.contacts if a.about == solid.about}
        alone, limit = pairs[solid.about], solid.near
        assert {move for gap, move in alone if gap < limit - CLOSE} <= near
        assert near <= {move for gap, move in alone if gap < limit + CLOSE}
