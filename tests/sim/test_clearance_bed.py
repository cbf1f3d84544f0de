"""The bed and its openings against brute force, and by hand: a drill in a chamfered mouth, a slot as
wide as the cutter, a blind hole.

The law: what may go below the bed's top is what fits its openings, and no more.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pytest
from proveout.sim.clearance import STRIKE
from proveout.sim.swarm import Bodies, Swarm, query_bed

from .brute import ACROSS, SIDE, Cases, Shape, least, pool, random_cases
from .test_clearance import RIGHT, SLACK, shifted

TILE = 1000.0
SAMPLES = np.linspace(0, 1, 33)


@dataclass
class Openings:
    """n cases with two openings each that do not meet: one about the path, one beside it (mm)."""

    at: np.ndarray
    half: np.ndarray
    round: np.ndarray
    chamfer: np.ndarray
    depth: np.ndarray

    def margin(self, k: int, points: np.ndarray) -> np.ndarray:
        x, y = (np.abs(points[..., i] - self.at[:, k, i, None]) for i in (0, 1))
        slot = np.minimum(self.half[:, k, 0, None] - x, self.half[:, k, 1, None] - y)
        return np.where(self.round[:, k, None], self.half[:, k, 0, None] - np.hypot(x, y), slot)

    def rows(self, tile: np.ndarray) -> np.ndarray:
        radius = np.where(self.round, self.half[..., 0], 0.0)
        columns = (self.at + tile[:, None], self.half, radius[..., None], self.chamfer[..., None],
                   self.depth[..., None])
        return np.concatenate(columns, axis=-1).reshape(-1, 7)


def random_openings(rng: np.random.Generator, cases: Cases, reach: np.ndarray) -> Openings:
    n = len(cases)
    middle = cases.at(np.full((n, 1), 0.5))[:, 0, :2]
    at = middle[:, None] + rng.normal(0, 0.5, (n, 2, 2))
    round_ = rng.random((n, 2)) < 0.6
    half = reach[:, None, None] * rng.uniform(0.4, 1.7, (n, 2, 2))
    half[round_, 1] = half[round_, 0]
    chamfer = np.where(round_ & (rng.random((n, 2)) < 0.5), rng.uniform(0.2, 3, (n, 2)), 0)
    at[:, 1, 0] += half[:, 0, 0] + half[:, 1, 0] + chamfer.sum(axis=1) + rng.uniform(0, 3, n)
    depth = np.where(rng.random((n, 2)) < 0.5, np.inf, rng.uniform(3, 15, (n, 2)))
    return Openings(at, half, round_, chamfer, depth)


class BedOracle:
    """v of n cases against a bed with its top at Z 0."""

    def __init__(self, cases: Cases, openings: Openings, shapes: list[Shape]) -> None:
        self.cases, self.openings, self.shapes = cases, openings, shapes

    def value(self, u: np.ndarray) -> np.ndarray:
        return self.at(self.cases.at(u))

    def at(self, p: np.ndarray, slack: float = 0.0) -> np.ndarray:
        s = p[..., 2]
        best = s.copy()
        for k in (0, 1):
            m = self.openings.margin(k, p) - slack
            for number, shape in enumerate(self.shapes):
                some = self.cases.cutter == number
                c, depth = self.openings.chamfer[some, k, None], self.openings.depth[some, k, None]
                value = within(shape, m[some], s[some], np.broadcast_to(c, s[some].shape), depth)
                best[some] = np.maximum(best[some], value)
        return best


def within(shape: Shape, m, s, c, depth) -> np.ndarray:
    """v in the plane of axis and nearest wall: the bed's profile against the cutter's."""
    need = need_within(shape, m, s, c, depth)
    return np.where(need > 0, -need, np.maximum(gap_within(shape, m, s, c, depth), 0))


def need_within(shape: Shape, m, s, c, depth) -> np.ndarray:
    """How far the cutter must be raised: the bed's height less the cutter's, at many radii, all corners."""
    reach = shape.reach - SIDE * 1.001
    radii = [np.full(m.shape, reach * t) for t in SAMPLES]
    radii += [np.minimum(np.maximum(x, 0), reach) for x in (m + SIDE, m + c, m + c / 2, *shape.edge[:, 0])
              for x in (np.broadcast_to(x, m.shape),)]
    leaning = shape.edge[-1, 0] + shape.rim * np.sqrt(0.5)  # where the rim leans as a mouth does
    radii.append(np.full(m.shape, min(leaning, reach)))
    need = -depth - s
    for x in radii:
        bed = np.where(x < m + SIDE / 2, -depth, np.where(x < m + c, x - m - c, 0))
        need = np.maximum(need, bed - s - shape.height(x))
    return need


def gap_within(shape: Shape, m, s, c, depth) -> np.ndarray:
    """Distance of the two profiles, corner to edge both ways."""
    far, deep = 1e4, np.minimum(depth, 1e4)
    bed = [(m + c + far, 0 * m), (m + c, 0 * m), (m, -c), (m, -deep + 0 * m), (m - far, -deep + 0 * m)]
    own = [(0 * m + r, s + h + shape.rim) for r, h in shape.edge]
    own.append((own[-1][0], s + far))
    best = np.full(m.shape, np.inf)
    for corners, edges in ((bed[1:4], own), (own[:-1], bed)):
        for corner in corners:
            for a, b in pairwise(edges):
                best = np.minimum(best, to_edge(corner, a, b))
    return best - shape.rim


def to_edge(p, a, b) -> np.ndarray:
    ex, ez = b[0] - a[0], b[1] - a[1]
    square = np.maximum(ex * ex + ez * ez, 1e-300)
    t = np.clip(((p[0] - a[0]) * ex + (p[1] - a[1]) * ez) / square, 0, 1)
    return np.hypot(p[0] - a[0] - t * ex, p[1] - a[1] - t * ez)


def found_by_us(cases: Cases, openings: Openings, cutters: list) -> tuple[np.ndarray, np.ndarray]:
    n = len(cases)
    tile = np.stack((np.arange(n) % ACROSS, np.arange(n) // ACROSS), -1) * TILE
    motion = shifted(cases, tile).motion()
    shapes = Bodies.of_cutters(np.array([cutters[k] for k in cases.cutter], object))
    swarm = Swarm.of_moves(motion, np.arange(n), shapes)
    _, all_ = query_bed(swarm, shapes, 0.0, openings.rows(tile), np.inf)
    v, at, path = np.empty(n), np.empty((n, 3)), all_[:, 0].astype(int)
    row = swarm.paths.row[path]
    v[row], at[row] = all_[:, 1], swarm.paths.places(path, all_[:, 2])
    at[:, :2] -= tile
    return v, at


@pytest.mark.parametrize("seed", range(3))
def test_bed_and_openings_against_brute_force(seed):
    """Half of the moves are put within 0.05 mm of contact with wall, mouth or floor."""
    n, rng = 2000, np.random.default_rng(100 + seed)
    cutters = pool(rng)
    shapes = [Shape.of(c) for c in cutters]
    cases = small_moves(rng, n, len(cutters))
    openings = random_openings(rng, cases, np.array([s.reach for s in shapes])[cases.cutter])
    oracle = BedOracle(cases, openings, shapes)
    lowest, _ = least(oracle.value, n, coarse=49, fine=17, rounds=3)
    lift = np.where(lowest < 0, rng.uniform(-0.05, 0.05, n) - lowest, 0)
    raise_cases(cases, lift)
    v, at = found_by_us(cases, openings, cutters)
    lowest, _ = least(oracle.value, n, coarse=65, fine=17, rounds=4)
    assert (v <= lowest + RIGHT).all(), "a false clear"
    assert (v[lowest < -STRIKE] < -STRIKE).all(), "a strike is missed"
    assert (oracle.at(at[:, None], SLACK)[:, 0] < v + RIGHT).all(), "a false stop"
    assert (lift != 0).mean() > 0.5
    assert 0.2 < (v < -STRIKE).mean() < 0.8


def small_moves(rng: np.random.Generator, n: int, cutters: int) -> Cases:
    """Moves of every kind, a few millimetres long, about the bed's top."""
    cases = random_cases(rng, n, cutters)
    size = rng.choice([0.02, 0.1, 0.5], n)
    for name in ("start", "end", "centre"):
        setattr(cases, name, getattr(cases, name) * size[:, None])
    raise_cases(cases, rng.uniform(-14, 1, n))
    return cases


def raise_cases(cases: Cases, lift: np.ndarray) -> None:
    cases.start[:, 2] += lift
    cases.end[:, 2] += lift
    for plane, column in ((18, 0), (19, 1)):
        some = cases.plane == plane
        cases.centre[some, column] += lift[some]
