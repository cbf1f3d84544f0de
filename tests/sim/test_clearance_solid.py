"""Swept cutters as real solids: manifold3d says whether they meet a head.

A sweep is built of convex hulls between neighbouring places of a many-sided cutter, so it differs from the
true one by its facets, and the head is put clearly nearer or farther than those.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
from proveout.parser.job import Cutter
from proveout.sim.clearance import clearances
from proveout.sim.evidence import Phase
from proveout.sim.solids import HeadSolid, Solids

from .brute import Cases, Shape, random_cases

SIDES = 128
FACET = 0.02  # mm: how far facets may lie from what they stand for
TALL = 200.0


def body(shape: Shape, step: int = 12) -> manifold3d.Manifold:
    """The cutter with its tip at the origin, filled upward."""
    edge = np.array(shape.edge)
    if shape.rim:
        angle = np.linspace(0, np.pi / 2, step)
        rim = np.column_stack((edge[-1, 0] + shape.rim * np.sin(angle), shape.rim * (1 - np.cos(angle))))
        edge = np.concatenate((edge[:-1], rim))
    ring = np.concatenate(([[0.0, edge[0, 1]]], edge, [[edge[-1, 0], TALL], [0.0, TALL]]))
    _, first = np.unique(ring.round(9), axis=0, return_index=True)
    return manifold3d.CrossSection([ring[np.sort(first)]]).revolve(SIDES)


def swept(cutter: manifold3d.Manifold, points: np.ndarray, head: HeadSolid, reach: float) -> list:
    """The hulls of a sweep between neighbouring points, as far as they may come near a head in plan."""
    near = reach + head.radius + 5
    return [manifold3d.Manifold.batch_hull([cutter.translate(p.tolist()) for p in pair])
            for pair in pairwise(points) if from_box(head.at, *pair) < near]


def from_box(at: tuple[float, float], a: np.ndarray, b: np.ndarray) -> float:
    """Distance in plan of a place from the box about two points."""
    return float(np.hypot(*(np.clip(at, np.minimum(a, b)[:2], np.maximum(a, b)[:2]) - at)))


def meet(sweep: list, head: manifold3d.Manifold) -> bool:
    return any((hull ^ head).volume() > 1e-9 for hull in sweep)


def head_as_solid(head: HeadSolid) -> manifold3d.Manifold:
    upright = manifold3d.Manifold.cylinder(TALL, head.radius, head.radius, SIDES)
    return upright.translate([*head.at, head.top - TALL])


SHAPES = [Cutter(number=1, shape="flat", diameter=12), Cutter(number=2, shape="ball", diameter=10),
          Cutter(number=3, shape="drill", diameter=9, angle=118),
          Cutter(number=4, shape="cone", diameter=14, tip=3, angle=60)]


@pytest.mark.parametrize("cutter", SHAPES, ids=lambda c: c.shape)
def test_solids_meet_where_an_overlap_is_found_and_only_there(cutter):
    """24 moves of every kind against a head that is met, lowered by the overlap it is free, and a little
    higher than that it is met."""
    rng = np.random.default_rng(7)
    cases = random_cases(rng, 24, 1)
    shape = Shape.of(cutter)
    solid = body(shape)
    for k in range(len(cases)):
        case = cases.taken(np.array([k]))
        head = head_under(rng, case)
        gap = found(case, cutter, head)
        assert gap < 0
        points = case.at(np.linspace(0, 1, 129 if case.plane[0] else 2)[None])[0]
        sweep = swept(solid, points, head, cutter.diameter / 2)
        for lower, meets in ((-gap - 2 * FACET, True), (-gap + 2 * FACET, False)):
            lowered = head_as_solid(replace(head, top=head.top - lower))
            assert meet(sweep, lowered) is meets, (k, gap, lower)


def head_under(rng: np.random.Generator, case: Cases) -> HeadSolid:
    """A head under the middle of a path, 3 mm into it."""
    x, y, z = case.at(np.array([[rng.uniform(0.3, 0.7)]]))[0, 0].tolist()
    return HeadSolid("s 1", "s", 1, (x, y), 4.0, z + 3.0, z - 1.0)


def found(case: Cases, cutter: Cutter, head: HeadSolid) -> float:
    got = clearances(case.motion(), np.array([cutter], object), (Phase(0, 1, Solids((head,))),))
    return got.closest[0].gap
