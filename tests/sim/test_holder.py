"""What rides above the cutter, against paths sampled closely, sums of outlines by shapely and solids by
manifold3d; and for each body one job that just has a strike and one that just has none, worked by hand.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import manifold3d
import numpy as np
import pytest
import shapely
from proveout.parser.finding import Severity
from proveout.parser.job import Board, Cutter, Job, Machine, NosePart, Shoe, Stage, Tram
from proveout.parser.motion import MotionBuilder, Move
from proveout.sim.clearance import clearances
from proveout.sim.cut import cut_stage
from proveout.sim.evidence import Phase
from proveout.sim.holder import discs_of
from proveout.sim.looks import looks_of
from proveout.sim.shoe import layers_of, shoe_of
from proveout.sim.solids import (
    BedSolid,
    ClampSolid,
    Footprint,
    HeadSolid,
    ObstacleSolid,
    OpeningSolid,
    Solids,
)
from proveout.sim.surface import Surface
from proveout.sim.tram import slopes
from proveout.sim.underboard import under_board

NOSE = (NosePart(diameter=20, length=12), NosePart(diameter=50, length=60))
MILL = Cutter(number=1, shape="flat", diameter=6, stickout=30, flute_length=20, shank=6)
SHOE = Shoe(x=(-22, 30), y=(-40, 18), hard=-4, brush=-20, bend=5)


def motion_of(points: np.ndarray, kinds=None):
    builder = MotionBuilder()
    for row, (a, b) in enumerate(pairwise(points)):
        kind = Move.FEED if kinds is None else kinds[row]
        builder.move(kind, row + 1, a, b, feed=1000.0)
    return builder.motion()


def cutters_for(motion, cutter=MILL):
    used = np.empty(len(motion), object)
    used[:] = [cutter] * len(motion)
    return used


def above(points, solids: Solids, machine: Machine, cutter=MILL, **given):
    motion = motion_of(np.asarray(points, float))
    phase = Phase(0, len(motion), solids)
    return clearances(motion, cutters_for(motion, cutter), (phase,), machine=machine, **given).above


def test_the_parts_over_a_cutter_that_are_wider_than_it():
    """The nut begins 30 over the tip, the nose 12 over that; a shank of the cutter's width is no part."""
    machine = Machine(nose=NOSE)
    assert [(d.part, d.radius, d.over) for d in discs_of(MILL, machine)] == [
        ("nut", 10, 30), ("spindle nose", 25, 42)]
    assert [d.part for d in discs_of(replace(MILL, shank=6.35), Machine())] == ["shank"]
    assert discs_of(replace(MILL, stickout=None), machine) == ()
    assert [d.part for d in discs_of(replace(MILL, diameter=25), machine)] == ["spindle nose"]


def random_ways(rng, count: int):
    """Straight moves of every slope over places up to 60 apart."""
    return [(rng.uniform(-60, 60, 3) * (1, 1, 0.3), rng.uniform(-60, 60, 3) * (1, 1, rng.choice([0, 0.3])))
            for _ in range(count)]


def sampled(a, b, count=4001):
    return np.asarray(a) + np.linspace(0, 1, count)[:, None] * (np.asarray(b) - a)


def test_nut_and_nose_against_sampled_paths():
    """60 moves by a clamp that stands askew, a post and a head: how much too low each disc is."""
    rng, machine = np.random.default_rng(3), Machine(nose=NOSE)
    solids = Solids((HeadSolid("s 1", "s", 1, (30.0, -10.0), 7.0, 24.0, 20.0),), (
        ClampSolid("bar", Footprint((0, 0), (25, 6), 0.7), 40.0, -18.0),
        ClampSolid("post", Footprint((-30, 20), round=9.0), 33.0, -18.0)))
    for a, b in random_ways(rng, 60):
        found = {c.about: c.gap for c in above([a, b], solids, machine).contacts}
        p = sampled(a, b)
        for body in solids.tall:
            away = shapely.distance(shapely.points(p[:, :2]), spine(body)) - body.footprint.round
            low = [(p[:, 2] + disc.over - body.top)[away < disc.radius].min(initial=0)
                   for disc in discs_of(MILL, machine)]
            if min(low) < -0.01:
                assert found[body.about] == pytest.approx(min(low), abs=0.02)
            elif body.about in found:
                assert found[body.about] > -0.03


def spine(body) -> shapely.Geometry:
    """A post's axis, a bar's outline."""
    return shapely.Point(body.footprint.at) if body.footprint.round else body.footprint.shape


def outline(body) -> shapely.Geometry:
    """The body's outline, discs by 64 sides a quarter."""
    print_ = body.footprint
    return shapely.Point(print_.at).buffer(print_.round, quad_segs=64) if print_.round else print_.shape


@pytest.mark.parametrize("moves", [True, False])
def test_the_shoe_against_sums_of_outlines(moves):
    """Where the axis may not be is the body's outline summed with the shoe's, turned about: its corners are
    sums of corners, taken whole by a convex hull."""
    rng, machine = np.random.default_rng(5), Machine(shoe=Shoe(x=SHOE.x, y=SHOE.y, hard=-4, moves=moves))
    solids = Solids((), (ClampSolid("bar", Footprint((5, 5), (25, 6), 0.7), 26.0, -18.0),
                         ClampSolid("box", Footprint((-40, 20), (8, 12)), 30.0, -18.0),
                         ClampSolid("post", Footprint((45, -45), round=9.0), 22.0, -18.0)))
    struck, sums = 0, {body.about: forbidden(body) for body in solids.tall}
    shapely.prepare(list(sums.values()))
    for a, b in random_ways(rng, 80):
        found = {c.about: c.gap for c in above([a, b], solids, machine, zero=1.0).shoe}
        p = sampled(a, b)
        for body in solids.tall:
            inside = shapely.contains_xy(sums[body.about], p[:, 0], p[:, 1])
            heights = p[:, 2] if moves else np.ones(len(p))
            low = (heights + 26 - body.top)[inside].min(initial=0)
            struck += low < -0.01
            if low < -0.01:
                assert found[body.about] == pytest.approx(low, abs=0.02)
            elif body.about in found:
                assert found[body.about] > -0.03
    assert struck > 30


def forbidden(body) -> shapely.Geometry:
    corners = shapely.get_coordinates(outline(body))
    shoe = np.array([(x, y) for x in SHOE.x for y in SHOE.y])
    return shapely.MultiPoint((corners[:, None] - shoe[None]).reshape(-1, 2)).convex_hull


def test_solids_meet_where_a_strike_is_found_and_only_there():
    """Nut and nose swept along a straight move are a hull of both ends; manifold3d tells whether it meets a
    clamp, in 60 places, none of them nearer to contact than the facets are to their circles."""
    rng, machine, met = np.random.default_rng(11), Machine(nose=NOSE), 0
    for a, b in random_ways(rng, 60):
        top = float(rng.uniform(25, 50))
        solids = Solids(clamps=(ClampSolid("c", Footprint((0, 0), (12, 5)), top, -18.0),))
        clamp = manifold3d.Manifold.cube([24, 10, 218]).translate([-12, -5, top - 218])
        strikes = len(above([a, b], solids, machine).contacts) > 0
        volume = 0.0
        for disc in discs_of(MILL, machine):
            upright = manifold3d.Manifold.cylinder(200, disc.radius, disc.radius, 256)
            ends = [upright.translate([*p[:2], p[2] + disc.over]) for p in (a, b)]
            volume += (manifold3d.Manifold.batch_hull(ends) ^ clamp).volume()
        met += strikes
        assert strikes == (volume > 1e-9) or volume < 0.5
    assert 10 < met < 50


def test_the_board_as_it_then_is_against_stamping():
    """40 moves of an end mill, 6 wide, with the nut 4 above its tip: at every tenth of a millimetre the ring
    about the cutter is held against the board, then the cutter takes its disc away. No code of the sweeps."""
    rng = np.random.default_rng(2)
    machine, cutter = Machine(nose=(NosePart(diameter=16, length=20),)), replace(MILL, stickout=4, shank=None)
    places = [np.array([20.0, 15.0, 5.0])]
    for _ in range(40):
        z = rng.choice([places[-1][2], rng.uniform(-9, 2)])
        places.append(np.array([*rng.uniform((5, 5), (55, 35)), z]))
    motion = motion_of(np.array(places))
    surface = Surface.of_board(shapely.box(0, 0, 60, 40), 0.0, 0.5)
    heights, grow = surface.heights.copy().astype(float), 0.5 * np.sqrt(0.5)
    job = Job(board=Board(x=(0, 60), y=(0, 40)), cutters=(cutter,), machine=machine,
              stages=(Stage(name="a", program="a"),))
    used = cutters_for(motion, cutter)
    cut = cut_stage(surface, motion, used.tolist(), threads=1, looks=looks_of(job, motion, used, surface))
    x, y = np.meshgrid(surface.x, surface.y)
    got = np.max([look.depth for look in cut.looked], axis=0)
    seen = 0
    for row, (a, b) in enumerate(pairwise(places)):
        deep = 0.0
        for px, py, pz in sampled(a, b, max(2, int(np.linalg.norm(b - a) / 0.1))):
            away = np.hypot(x - px, y - py)
            ring = (away > 3 + 0.05) & (away < 8 + grow)
            deep = max(deep, float((heights[ring] - pz - 4).max(initial=0)))
            heights[away < 3] = np.minimum(heights[away < 3], pz)
        seen += deep > 0.3
        assert got[row] == pytest.approx(deep, abs=0.15 if a[2] != b[2] else 0.02) or deep < 0.02, row
    assert seen > 10


# --- whole jobs, in pairs ----------------------------------------------------------------------------

CUTTER = """
[[cutters]]
number = 1
name = "mill"
shape = "flat"
diameter = 6.0
edges = 2
{more}
"""
NUT = "nose = [ { diameter = 42, length = 25 } ]"
SHOE_TABLE = "shoe = { x = [-45, 45], y = [-60, 100], hard = -6, brush = -20, bend = 5 }"


def strikes(found, lines, stickout: float, machine=NUT, more="", cutter=""):
    cutters = CUTTER.format(more=f"stickout = {stickout}\n{cutter}")
    return found("holder-strike", lines, machine=machine, cutters=cutters, more=more)


HOLE = "G0 X100 Y50\nG1 Z-18 F300\nG0 Z20\n"
SLOT = "G0 X30 Y50\nG1 Z-6 F300\nG1 X150 F1000\nG0 Z20\n"


@pytest.mark.parametrize(("stickout", "struck"), [(17.95, True), (18.05, False)])
def test_the_nut_on_the_board_over_a_deep_hole(found, stickout, struck):
    said = strikes(found, HOLE, stickout)
    assert bool(said) is struck
    if struck:
        assert said[0].value == pytest.approx(-0.05, abs=1e-5)
        assert (said[0].severity, said[0].about) == (Severity.STOP, "the board")
        assert "Let the cutter stand out 2.05 mm farther (stickout 20 mm)" in said[0].advice()


def test_the_nut_may_go_where_the_board_is_gone(found):
    """A pocket 60 wide is cleared to -3; a hole in its middle then has 3 mm more room, at its edge not."""
    pocket = "G0 X70 Y20\nG1 Z-3 F300\n" + "".join(
        f"G1 Y{y}\nG1 X{x}\n" for y, x in zip(range(20, 82, 5), [130, 70] * 7, strict=False)) + "G0 Z20\n"
    assert strikes(found, pocket + HOLE, 16) == []
    assert strikes(found, pocket + HOLE.replace("X100", "X80"), 16)
    assert strikes(found, HOLE, 16)


@pytest.mark.parametrize(("shank", "flutes", "struck"), [(8, 5.9, True), (8, 6.1, False), (6, 3, False)])
def test_a_shank_rubs_only_where_it_is_wider_than_its_cutter(found, shank, flutes, struck):
    """A slot 6 deep."""
    said = strikes(found, SLOT, 30, machine="", cutter=f"shank = {shank}\nflute_length = {flutes}\n")
    assert bool(said) is struck
    if struck:
        assert "the shank meets the board" in said[0].message()


SCREW = '[[fasteners]]\nname = "s"\nhead = {{ diameter = 8, height = 4 }}\nat = [[{x}, {y}]]\nseat = {seat}\n'
BLOCK = '[[{what}]]\nname = "block"\nx = [80, 120]\ny = [{y}, 90]\nz = [-18, 25]\n'


@pytest.mark.parametrize("what", ["clamps", "obstacles"])
@pytest.mark.parametrize(("y", "struck"), [(70.99, True), (71.01, False)])
def test_the_nut_beside_a_clamp_or_an_obstacle(found, what, y, struck):
    """The axis runs at Y 50, the nut reaches 21 to its side and lies 24 above a tip at -6, 18: under 25."""
    said = strikes(found, SLOT, 24, more=BLOCK.format(what=what, y=y))
    assert bool(said) is struck
    if struck:
        assert said[0].value == pytest.approx(-7)


@pytest.mark.parametrize(("top", "struck"), [(18.01, True), (17.99, False)])
def test_the_nut_over_a_screw(found, top, struck):
    screw = SCREW.format(x=100, y=70, seat=top - 4)
    assert bool(strikes(found, SLOT, 24, more=screw)) is struck


@pytest.mark.parametrize(("deeper", "struck"), [(0.1, True), (-0.1, False)])
def test_the_nut_on_the_bed_beside_the_board(found, deeper, struck):
    """Off the board, at X 260, down to where the nut, 10 over the tip, is at the bed."""
    lines = f"G0 X260 Y50\nG1 Z{-28 - deeper} F300\nG0 Z20\n"
    opening = 'openings = [ { name = "slot", x = [250, 270], y = [0, 100], depth = 30 } ]'
    cutters = CUTTER.format(more="stickout = 10\n")
    said = found("holder-strike", lines, machine=NUT, cutters=cutters, bed=opening)
    assert [f.about for f in said] == (["bed"] if struck else [])


@pytest.mark.parametrize(("hard", "struck"), [(-6.0, False), (-6.1, True)])
def test_the_shoe_on_the_board(found, hard, struck):
    """Stickout 24, tip at -18: with hard = -6 the shoe's lower side is at 0, the board's top."""
    shoe = f"shoe = {{ x = [-45, 45], y = [-60, 100], hard = {hard} }}"
    said = strikes(found, HOLE, 24, machine=shoe)
    assert bool(said) is struck
    if struck:
        assert said[0].value == pytest.approx(-0.1, abs=1e-5)
        assert "dust shoe meets the board" in said[0].message()


@pytest.mark.parametrize(("x", "struck"), [(164, True), (166, False)])
def test_the_shoe_beside_the_board_meets_it_from_its_side_on(found, x, struck):
    """The board ends at X 120; the shoe reaches 45 to the left, and half a cell's diagonal is added."""
    lines = f"G0 X{x} Y50\nG1 Z-24.1 F300\nG0 Z20\n"
    shoe = "shoe = { x = [-45, 45], y = [-60, 100], hard = 0 }"
    cutters, outline = CUTTER.format(more="stickout = 24\n"), "x = [0, 120]\ny = [0, 100]"
    said = found("holder-strike", lines, machine=shoe, cutters=cutters, outline=outline)
    assert [f.about for f in said] == (["the board"] if struck else [])


def test_a_shoe_that_does_not_ride_stays_where_it_is(found):
    """With the tip at zero its lower side is 24 - 6 = 18 up: a block of 25 is struck, the board never."""
    shoe = "shoe = { x = [-45, 45], y = [-60, 60], hard = -6, moves = false }"
    assert strikes(found, HOLE, 24, machine=shoe) == []
    said = strikes(found, HOLE, 24, machine=shoe, more=BLOCK.format(what="clamps", y=71))
    assert [f.value for f in said] == [pytest.approx(-7)]


@pytest.mark.parametrize(("z", "bent"), [(-4.95, False), (-5.05, True)])
def test_brushes_may_bend_so_far(found, z, bent):
    """Stickout 20: brushes end at the tip's height and may bend by 5."""
    said = found("shoe-brush", f"G0 X100 Y50\nG1 Z{z} F300\nG0 Z20\n", machine=SHOE_TABLE,
                 cutters=CUTTER.format(more="stickout = 20\n"))
    assert bool(said) is bent
    if bent:
        assert (said[0].value, said[0].limit) == (pytest.approx(5.05), 5)
        assert said[0].severity is Severity.CAUTION


@pytest.mark.parametrize(("seat", "told"), [(-2, True), (-9, False)])
def test_brushes_over_a_screw_that_stands_out(found, seat, told):
    """A head 4 high on -2 stands 2 out of the board: brushes at 0.5 brush over it. Sunk it is not felt."""
    screw = SCREW.format(x=60, y=50, seat=seat)
    said = found("shoe-brush", "G0 X100 Y50\nG1 Z0.5 F300\nG0 Z20\n", machine=SHOE_TABLE, more=screw,
                 cutters=CUTTER.format(more="stickout = 20\n"))
    assert bool(said) is told


def test_another_reading_is_held_against_the_holder_too(judged):
    """With no dialect named a rapid may go axis by axis; straight or so, the nut meets a block that is told
    once."""
    lines = "G0 X30 Y50 Z60\nG0 X170 Y130 Z0\nG0 Z60\n"
    block = '[[clamps]]\nname = "block"\nx = [70, 100]\ny = [60, 80]\nz = [-18, 50]\n'
    cutters = CUTTER.format(more="stickout = 24\n")
    said = judged(lines, machine=NUT + "\nrapid = 5000", cutters=cutters, more=block, dialect="union")
    assert [f.about for f in said.findings if f.kind == "holder-strike"] == ["block"]


# --- heads of solids that only the bed and obstacles have ---------------------------------------------

def test_every_body_is_held_against_the_holder():
    solids = Solids((HeadSolid("s 1", "s", 1, (0.0, 0.0), 5.0, 40.0, 30.0),),
                    (ClampSolid("c", Footprint((0, 0), (5, 5)), 41.0, 0.0),), BedSolid(39.0),
                    (ObstacleSolid("o", Footprint((0, 0), (5, 5)), 42.0, 0.0),))
    found = above([(0, 0, 8), (1, 0, 8)], solids, Machine(nose=NOSE[:1]))
    assert {c.about: c.gap for c in found.contacts} == pytest.approx({"s 1": -2, "c": -3, "bed": -1, "o": -4})


def test_the_shoe_on_a_stepped_board_lies_between_two_rectangles():
    """A board in steps, holes at 12 places: how deep the shoe stands in it is at least the
    highest cell under its rectangle, at most that under it grown by half a cell's diagonal all round."""
    rng = np.random.default_rng(8)
    shoe, grow = (-22.0, 30.0, -40.0, 18.0), 0.5**0.5
    surface = Surface.of_board(shapely.box(0, 0, 200, 100), 0.0, 1.0)
    for x in range(0, 200, 20):
        surface.carve(shapely.box(x, 0, x + 20, 100), float(-rng.uniform(0, 6)))
    x, y = np.meshgrid(surface.x, surface.y)
    for ax, ay in rng.uniform((0, 0), (200, 100), (12, 2)):
        motion = motion_of(np.array([(ax, ay, 5.0), (ax, ay, -12.0)]))
        used, cut = cutters_for(motion), SimpleNamespace(before=surface.heights, first_id=0)
        job = SimpleNamespace(machine=Machine(shoe=Shoe(x=shoe[:2], y=shoe[2:], hard=-20.0)))
        evidence = SimpleNamespace(job=job, motion=motion, cutters=used, cut=cut, surface=surface, rapid=None,
                                   stage=SimpleNamespace(zero=(0, 0, 0)))
        [depth] = under_board(evidence, layers_of(job.machine.shoe)[0]).depth.tolist() or [0.0]
        dx, dy = x - ax, y - ay
        low, high = (surface.heights[(dx >= shoe[0] - g) & (dx <= shoe[1] + g) & (dy >= shoe[2] - g)
                                     & (dy <= shoe[3] + g)].max() + 2 for g in (0.0, grow))
        assert max(low, 0) - 0.011 <= depth <= max(high, 0) + 1e-5


def test_what_the_hard_part_strikes_the_brushes_are_not_told_of(judged):
    """The hard part, 14 over the tip, is 3 in the board; the brushes, at the tip, are bent by 17, untold."""
    cutters = CUTTER.format(more="stickout = 20\n")
    lines = "G0 X100 Y50\nG1 Z-17 F300\nG0 Z20\n"
    kinds = {f.kind for f in judged(lines, machine=SHOE_TABLE, cutters=cutters).findings}
    assert "holder-strike" in kinds
    assert "shoe-brush" not in kinds


# --- a spindle that leans -------------------------------------------------------------------------------

def turned(points: np.ndarray, tram: Tram) -> np.ndarray:
    """Points over the tip, turned about it as the spindle leans: the plane's normal becomes the axis
    (Rodrigues' formula)."""
    a, b = slopes(tram)
    normal = np.array([-a, -b, 1.0]) / np.sqrt(1 + a * a + b * b)
    axis = np.cross((0, 0, 1), normal)
    sine, cosine = np.linalg.norm(axis), normal[2]
    k = axis / sine
    return (points * cosine + np.cross(k, points) * sine
            + np.outer(points @ k, k) * (1 - cosine))


@pytest.mark.parametrize("tram", [Tram(swing=200, x=0.1, y=-0.06), Tram(swing=200, x=-2.0, y=3.0)])
def test_an_upright_disc_holds_the_leaning_part(tram):
    """Every part's rims turned about the tip lie in its disc, whose walls stand no farther from them than the
    lean of its two ends and whose floor lies no lower than the lowest of them."""
    machine, angles = Machine(nose=NOSE, tram=tram), np.linspace(0, 2 * np.pi, 721)
    lengths = {"shank": 10.0, "nut": 12.0, "spindle nose": 60.0}
    cutter = replace(MILL, shank=8.0)
    upright, slope = discs_of(cutter, Machine(nose=NOSE)), np.hypot(*slopes(tram))
    for disc, held in zip(upright, discs_of(cutter, machine), strict=True):
        rim = np.column_stack((disc.radius * np.cos(angles), disc.radius * np.sin(angles)))
        ends = [turned(np.column_stack((rim, np.full(len(rim), z))), tram)
                for z in (disc.over, disc.over + lengths[disc.part])]
        out = max(np.hypot(end[:, 0], end[:, 1]).max() for end in ends)
        assert out <= held.radius <= out + disc.radius * slope**2
        assert ends[0][:, 2].min() - 1e-3 * disc.radius * slope <= held.over <= ends[0][:, 2].min() + 1e-9


@pytest.mark.parametrize("tram", [Tram(swing=200, x=0.1, y=-0.06), Tram(swing=200, x=-2.0, y=3.0)])
def test_an_upright_shoe_holds_the_leaning_one(tram):
    machine = Machine(shoe=SHOE, nose=NOSE, tram=tram)
    held = shoe_of(machine, cutters_for(motion_of(np.zeros((2, 3)))))
    for z, low in ((30 + SHOE.hard, held.hard), (30 + SHOE.brush, held.brush)):
        corners = turned(np.array([(x, y, z) for x in SHOE.x for y in SHOE.y], float), tram)
        assert held.x[0] <= corners[:, 0].min()
        assert corners[:, 0].max() <= held.x[1]
        assert held.y[0] <= corners[:, 1].min()
        assert corners[:, 1].max() <= held.y[1]
        assert 30 + low <= corners[:, 2].min()
    assert shoe_of(replace(machine, tram=None), cutters_for(motion_of(np.zeros((2, 3))))) is SHOE
    fixed = replace(SHOE, moves=False)
    assert shoe_of(replace(machine, shoe=fixed), cutters_for(motion_of(np.zeros((2, 3))))) is fixed


def test_a_nose_that_leans_meets_the_clamp_that_an_upright_one_misses():
    """The nose, 25 wide from 42 to 102 over the tip, passes a post whose side is 25.04 away and whose top
    stands at 60. A lean of 0.1 over 200 is 0.0005: at 102 it brings the nose 0.051 nearer."""
    post = ClampSolid("post", Footprint((30.04, 0), round=5.0), 60.0, -18.0)
    points = [(0, -10, 0), (0, 10, 0)]
    assert not len(above(points, Solids((), (post,)), Machine(nose=NOSE)).contacts)
    lean = Machine(nose=NOSE, tram=Tram(swing=200, x=0.1))
    (found,) = above(points, Solids((), (post,)), lean).contacts
    assert (found.about, found.gap) == ("post", pytest.approx(42 - 60, abs=0.02))


@pytest.mark.parametrize(("x", "struck"), [(0.0, 0), (0.5, 0), (1.5, 1)])
def test_a_cutter_that_leans_in_a_slot_of_the_bed(x, struck):
    """A mill of 6 goes 10 below the bed's face in a slot of 6.1: a lean of 0.0025 carries it 0.025 aside at
    the face, half of the room; one of 0.0075 carries it 0.075, more than the room of 0.05."""
    bed = BedSolid(-18.0, openings=(OpeningSolid("slot", (0, 0), (3.05, 100)),))
    motion = motion_of(np.array([(0, -20, -28.0), (0, 20, -28.0)]))
    tram = Tram(swing=200, x=x)
    found = clearances(motion, cutters_for(motion), (Phase(0, 1, Solids(bed=bed)),), tilt=slopes(tram))
    assert len(found.contacts) == struck
