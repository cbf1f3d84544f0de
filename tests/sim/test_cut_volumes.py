"""What a cut takes off, held against mesh booleans (manifold3d) and closed forms (textbook geometry)."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from proveout.sim.cutters import profile_of

from .stamping import CUTTERS, arc, board, cut, feed


def swept_body(cutter, start, end, facets=256):
    """A convex cutter's sweep along a straight move: the hull of its body at both ends."""
    profile = profile_of(cutter)
    radii = np.linspace(profile.flat_radius, profile.radius, 60 if profile.corner else 2)
    angle = np.linspace(0, 2 * np.pi, facets, endpoint=False)
    facet = 2 * np.pi / facets
    widen = math.sqrt(facet / math.sin(facet))  # the polygon has the circle's area
    rings = [(r, h) for r, h in zip(radii, profile.below(radii), strict=True)] + [(profile.radius, 30.0)]
    points = [(x + r * widen * math.cos(t), y + r * widen * math.sin(t), z + h)
              for x, y, z in (start, end) for r, h in rings for t in angle]
    return manifold3d.Manifold.hull_points(np.array(points))


@pytest.mark.parametrize("shape", ["flat", "bevelled", "ball", "bull", "cone", "drill"])
@pytest.mark.parametrize("end", [(15.0, 11.0, -2.0), (15.0, 11.0, -0.4), (6.0, 6.0, -2.0)])
def test_removed_volume_is_that_of_mesh_booleans(shape, end):
    start = (6.0, 6.0, -2.0)
    stock = manifold3d.Manifold.cube((24, 18, 10)).translate((0, 0, -10))
    true = stock.volume() - (stock - swept_body(CUTTERS[shape], start, end)).volume()
    done = cut(board(0.02), feed(start, end), CUTTERS[shape])
    assert done.volume.sum() == pytest.approx(true, rel=1e-3)


def test_removed_volume_is_that_of_closed_forms():
    """Slot, cylinder, cone, spherical cap, and a full helical turn of a flat cutter that leaves a post."""
    r, depth = 3.0, 1.5
    slot = cut(board(0.02), feed((6, 9, -depth), (16, 9, -depth)), CUTTERS["flat"]).volume[0]
    assert slot == pytest.approx((2 * r * 10 + math.pi * r * r) * depth, rel=1e-4)
    drilled = cut(board(0.02), feed((9, 9, 2), (9, 9, -5)), CUTTERS["drill"]).volume[0]
    point = 2.5 / math.tan(math.radians(59))
    assert drilled == pytest.approx(math.pi * 2.5**2 * (5 - point * 2 / 3), rel=2e-4)
    cap = cut(board(0.02), feed((9, 9, 2), (9, 9, -1)), CUTTERS["ball"]).volume[0]
    assert cap == pytest.approx(math.pi * (2.5 - 1 / 3), rel=2e-4)


def test_a_cone_takes_a_frustum():
    """Closed form: pi·h/3·(a² + ab + b²), a the tip's radius and b the radius at the top."""
    tip, deep = 0.4, 2.5
    top = tip + deep * math.tan(math.radians(35))
    taken = cut(board(0.02), feed((9, 9, 2), (9, 9, -deep)), CUTTERS["cone"]).volume[0]
    assert taken == pytest.approx(math.pi * deep / 3 * (tip**2 + tip * top + top**2), rel=2e-4)


def test_a_balls_slot_is_a_cylinders_segment_between_half_caps():
    """Closed forms: the segment r²·acos(1 - d/r) - (r - d)·sqrt(2rd - d²) along the path, and a cap."""
    r, d, long = 2.5, 1.2, 10.0
    segment = r * r * math.acos(1 - d / r) - (r - d) * math.sqrt(2 * r * d - d * d)
    taken = cut(board(0.02), feed((7, 9, -d), (7 + long, 9, -d)), CUTTERS["ball"]).volume[0]
    assert taken == pytest.approx(segment * long + math.pi * d * d * (r - d / 3), rel=2e-4)


def test_a_pocket_is_its_path_widened_by_the_cutter():
    """Closed form (Steiner): a·b + 2(a + b)·R + pi·R², times the depth; passes lie close together."""
    a, b, depth = 12.0, 8.0, 1.5
    rows = [(x, 5 + y, -depth) for y in np.linspace(0, b, 5) for x in (6, 6 + a)]
    rows[2:4], rows[6:8] = rows[3:1:-1], rows[7:5:-1]  # to and fro
    frame = [(6, 5, -depth), (6, 5 + b, -depth), (6 + a, 5 + b, -depth), (6 + a, 5, -depth)]
    taken = cut(board(0.02), feed(*rows, *frame[::-1], frame[-1]), CUTTERS["flat"]).volume.sum()
    assert taken == pytest.approx((a * b + 2 * (a + b) * 3.0 + math.pi * 9.0) * depth, rel=1e-4)


@pytest.mark.parametrize(("radius", "pitch"), [(4.5, 1.5), (3.2, 0.4)])
@pytest.mark.parametrize("way", [-1, 1])
def test_a_turn_of_a_helix_takes_what_its_integral_says(radius, pitch, way):
    """A flat cutter meets a place at rho while it is within h = acos((rho² + r² - R²)/(2·rho·r)) of it, and
    leaves it as deep as it last stood there: the integral of rho·pitch·(pi + 2h - h²/pi) over rho."""
    rho, step = np.linspace(radius - 3.0, radius + 3.0, 200_001, retstep=True)
    half = np.arccos(np.clip((rho**2 + radius**2 - 9.0) / (2 * rho * radius), -1, 1))
    true = pitch * float(np.sum(rho * (np.pi + 2 * half - half**2 / np.pi) * (half > 0))) * step
    taken = cut(board(0.02), arc((12, 9), radius, 0.4, way * 2 * math.pi, 0.0, -pitch), CUTTERS["flat"])
    assert taken.volume[0] == pytest.approx(true, rel=2e-4)


@pytest.mark.parametrize("shape", ["flat", "ball", "cone", "hollow profile"])
def test_volumes_settle_as_cells_grow_finer(shape):
    """Each halving of the cell at least halves how far the volume is off, down to what 0.02 mm tells."""
    motion = feed((6.3, 5.1, -1.7), (15.2, 11.9, -0.6))
    *volumes, last = (cut(board(cell), motion, CUTTERS[shape]).volume.sum()
                      for cell in (0.64, 0.32, 0.16, 0.08, 0.02))
    off = np.abs(np.array(volumes) - last)
    assert (off <= 0.02 * last / 2.0 ** np.arange(4)).all()
