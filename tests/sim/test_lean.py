"""Strikes and gaps of a cutter that leans, against a disc that is really turned, and whole jobs by hand.

The law: a value is attained (no false stop), and no sampled point of the turned disc comes nearer (no false
clear), to 1e-4 mm.
"""

from __future__ import annotations

from math import cos, hypot, pi, sin, sqrt

import numpy as np
import pytest
from proveout.parser.job import Corner, Cutter
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.clearance import clearances
from proveout.sim.cover import lowest_over
from proveout.sim.cutters import profile_of
from proveout.sim.evidence import Phase
from proveout.sim.solids import ClampSolid, Footprint, Solids

R = 12.5
FLAT = Cutter(number=1, shape="flat", diameter=2 * R)
SHAPED = [Cutter(number=2, shape="facing", diameter=2 * R, corner=Corner(radius=1.5)),
          Cutter(number=3, shape="facing", diameter=2 * R, corner=Corner(chamfer=2.0)),
          Cutter(number=4, shape="ball", diameter=12.0),
          Cutter(number=5, shape="cone", diameter=12.0, angle=90)]
RIGHT = 1e-4


class Leaning:
    """A cutter's lower surface at part t of its path, turned (a flat one) or sheared, over a body's top."""

    def __init__(self, cutter, tilt, path, body):
        self.profile, self.tilt, self.path, self.body = profile_of(cutter), tilt, path, body
        a, b = tilt
        normal = np.array([-a, -b, 1.0]) / sqrt(1 + a * a + b * b)
        first = np.cross([0.0, 1.0, 0.0], normal)
        self.first = first / np.linalg.norm(first)
        self.second = np.cross(normal, self.first)
        self.turned_lift = self.profile.radius * hypot(a, b) / sqrt(1 + a * a + b * b)

    def places(self, t, turn, rho):
        """Distance in plan from the body, and height over its top."""
        at = self.path(t)
        if self.profile.flat:
            out = (rho * np.cos(turn))[..., None] * self.first + (rho * np.sin(turn))[..., None] * self.second
            at = at + out + [0, 0, self.turned_lift]
        else:
            dx, dy = rho * np.cos(turn), rho * np.sin(turn)
            rise = self.profile.lift(hypot(*self.tilt)) + self.tilt[0] * dx + self.tilt[1] * dy
            at = at + np.stack((dx, dy, rise + self.profile.below(np.minimum(rho, self.profile.radius))), -1)
        print_ = self.body.footprint
        x, y = at[..., 0] - print_.at[0], at[..., 1] - print_.at[1]
        c, s = cos(print_.turn), sin(print_.turn)
        qx = np.maximum(np.abs(x * c + y * s) - print_.half[0], 0)
        qy = np.maximum(np.abs(y * c - x * s) - print_.half[1], 0)
        return np.maximum(np.hypot(qx, qy) - print_.round, 0), at[..., 2] - self.body.top

    def value(self, how, t, turn, rho):
        away, above = self.places(t, turn, rho)
        if how == "gap":
            return np.hypot(away, np.maximum(above, 0))
        return np.where(away <= 1e-12, above, np.inf)

    def least(self, how):
        """Brute force: a fine grid over path, rim and radius, then ever finer ones about its best places."""
        most = self.profile.radius
        spans = [np.linspace(0, 1, 81), np.linspace(0, 2 * pi, 73), np.linspace(0, most, 15)]
        grid = np.meshgrid(*spans, indexing="ij")
        values, best = self.value(how, *grid), np.inf
        for k in np.argsort(values, axis=None)[:400:40]:
            middle, reach = np.array([each.flat[k] for each in grid]), np.array([s[1] for s in spans]) * 1.5
            found = values.flat[k]
            for _ in range(18 if np.isfinite(found) else 0):
                about = (m + r * np.linspace(-1, 1, 11) for m, r in zip(middle, reach, strict=True))
                t, turn, rho = np.meshgrid(*about, indexing="ij")
                fine = np.clip(t, 0, 1), turn, np.clip(rho, 0, most)
                here = self.value(how, *fine)
                if here.min() <= found:
                    found, j = here.min(), here.argmin()
                    middle = np.array([each.flat[j] for each in fine])
                reach = reach * 0.55
            best = min(best, found)
        return best


def random_body(rng):
    at, top = tuple(rng.uniform(-5, 5, 2).tolist()), float(rng.uniform(-1, 1))
    half = tuple(rng.uniform(1, 10, 2).tolist())
    prints = (Footprint(at, round=float(rng.uniform(2, 8))), Footprint(at, half),
              Footprint(at, half, float(rng.uniform(-3, 3))))
    return ClampSolid("body", prints[rng.integers(3)], top, top - 30)


def random_move(rng, arc):
    """(motion, path) of one move near the origin."""
    build, z = MotionBuilder(), 0.3
    if arc:
        centre, radius = rng.uniform(-20, 20, 2), float(rng.uniform(5, 40))
        first, sweep = float(rng.uniform(-pi, pi)), float(rng.uniform(1, 6) * rng.choice((-1, 1)))
        rise = float(rng.choice((0.0, 0.5)))

        def path(t):
            return np.stack((centre[0] + radius * np.cos(first + sweep * t),
                             centre[1] + radius * np.sin(first + sweep * t), z + rise * t), -1)
        ends = path(np.array([0.0, 1.0]))
        build.arc(1, ends[0], ends[1], plane=17, centre=centre, sweep=sweep, feed=500)
        return build.motion(), path
    start, end = np.append(rng.uniform(-40, 40, 2), z), np.append(rng.uniform(-40, 40, 2), z)
    end[2] += float(rng.choice((0.0, 1.0, -0.5)))
    build.move(Move.FEED, 1, start, end, feed=500)
    return build.motion(), lambda t: start + t[..., None] * (end - start)


@pytest.mark.parametrize("seed", range(24))
def test_a_turned_disc_past_a_body(seed):
    """Every third a flat cutter along an arc, every fourth a shaped one; leans up to 0.4 mm over 200."""
    rng = np.random.default_rng(seed)
    cutter = SHAPED[seed // 4 % 4] if seed % 4 == 3 else FLAT
    tilt, body = tuple(rng.uniform(-0.002, 0.002, 2).tolist()), random_body(rng)
    motion, path = random_move(rng, seed % 3 == 0)
    cutters, phase = np.array([cutter], object), Phase(0, 1, Solids((), (body,)))
    got = clearances(motion, cutters, (phase,), tilt=tilt).closest[0]
    brute = Leaning(cutter, tilt, path, body)
    over = brute.least("over")
    true = over if over < 0 else min(over, brute.least("gap"))
    assert got.gap <= true + RIGHT, "a sampled point lies nearer: a false clear"
    assert got.gap >= true - 5 * RIGHT, "what is found is not attained: a false stop"
    upright = clearances(motion, cutters, (phase,)).closest[0].gap
    assert abs(got.gap - upright) <= 2 * cutter.diameter * hypot(*tilt)


@pytest.mark.parametrize(("y", "tilt", "left"), [
    (0, 0.002, 0.5 + 0.025 - 7 * 0.002), (0, 0.0, 0.5), (9, 0.002, 0.5 + 0.025 + 2 * 0.002),
    (-9, 0.002, 0.5)])
def test_the_cover_over_a_head_by_hand(y, tilt, left):
    """A head of 14 under a pass along X whose plane rises by 0.002 to +Y: the axis stands R·tan(b) over the
    tip, and the cutter is lowest over the head's side toward -Y, or at its own rim."""
    build = MotionBuilder()
    build.move(Move.FEED, 1, (-50, 0, 0.5), (50, 0, 0.5), feed=500)
    found = lowest_over(build.motion(), np.array([FLAT], object), [((0.0, float(y)), 7.0)], np.ones(1, bool),
                        (0.0, tilt))
    assert found[0] == pytest.approx(left, abs=1e-4)


HEAD = ('[[fasteners]]\nname = "screws"\nhead = {{ diameter = 14, height = 4 }}\nseat = {seat}\n'
        "at = [[100, 50]]\nrecess = {{ diameter = 17, depth = 6 }}\n")
PASS = "G0 X-20 Y{y}\nG0 Z2\nG1 Z-0.4 F2000\nG1 X220\n"


@pytest.mark.parametrize(("y", "strikes"), [(41, True), (59, False)])
def test_the_low_side_of_a_leaning_cutter_meets_a_head_that_its_high_side_clears(found, y, strikes):
    """A head's top at Z-0.39, a pass at Z-0.4 beside it, the plane lower by 0.4 over 200 at +Y. The rim of a
    pass in front of it is down at -0.4 over the head; of one behind it the high side is over the head."""
    said = found("head-strike", PASS.format(y=y), machine="tram = { swing = 200, y = 0.4 }",
                 more=HEAD.format(seat=-4.39))
    assert bool(said) == strikes
    if strikes:
        assert said[0].value == pytest.approx(-0.01, abs=1e-4)


def test_many_moves_at_once_are_as_one_by_one():
    """The least over 60 moves past 5 bodies is the least of each move alone; strikes and contacts as well."""
    rng, tilt = np.random.default_rng(3), (0.0012, -0.0009)
    bodies = [ClampSolid(f"body {k}", Footprint(tuple(rng.uniform(-40, 40, 2).tolist()), round=5.0),
                         float(rng.uniform(-0.6, 0.2)), -30) for k in range(5)]
    build, at = MotionBuilder(), np.array([0.0, 0.0, 0.0])
    for line in range(1, 61):
        to = np.append(rng.uniform(-45, 45, 2), 0.0)
        build.move(Move.FEED, line, at, to, feed=500)
        at = to
    motion, cutters = build.motion(), np.array([FLAT] * 60, object)
    together = clearances(motion, cutters, (Phase(0, 60, Solids((), tuple(bodies))),), tilt=tilt)
    alone = [clearances(motion, cutters, (Phase(row, row + 1, Solids((), tuple(bodies))),), tilt=tilt)
             for row in range(60)]
    for body in bodies:
        single = [a.gap for one in alone for a in one.closest if a.about == body.about]
        (found,) = [a.gap for a in together.closest if a.about == body.about]
        assert found == pytest.approx(min(single), abs=2e-5)
        struck, each = ({a.move for one in some for a in one.contacts if a.about == body.about and a.strikes}
                        for some in ([together], alone))
        assert struck == each
