"""A leaning spindle: formulas against a turned disc, and whole jobs against the formulas."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from proveout.parser.job import Board, Cutter, Job, Machine, Stage, Tram
from proveout.sim.tram import along_and_across, one_pass, ridge_between, seam, tilt_of, widest_step

R = 12.5
lean = st.floats(-0.002, 0.002)


@pytest.mark.parametrize(("side", "feed", "step", "at_seam", "ridge"), [
    (0.5e-3, 0.0, 20, 0.0100, 0.0100), (0.0, 0.5e-3, 20, 0.0, 0.0025),
    (tan(radians(0.1)), 0, 20, 0.0349, 0.0349), (0, tan(radians(0.1)), 20, 0, 0.00873),
    (0, tan(radians(0.1)), 10, 0, 0.00182), (1e-3, 1e-3, 20, 0.0100, 0.0152), (0.5e-3, 2e-3, 10, 0.0, 0.0023),
    (0.05 / 150, 0, 20, 0.0067, 0.0067), (0.0203 / 203, 0, 20, 0.002, 0.002)])
def test_steps_and_dishes_of_the_trade(side, feed, step, at_seam, ridge):
    """Worked figures of textbook geometry, R 12.5."""
    assert seam(R, feed, side, step) == pytest.approx(at_seam, abs=5e-5)
    assert ridge_between(R, feed, side, step) == pytest.approx(ridge, abs=6e-5)


def turned_disc(tilt, n=721):
    """(n, 3) the rim of a disc whose plane has these slopes, really turned, its lowest point at Z 0."""
    a, b = tilt
    normal = np.array([-a, -b, 1.0]) / sqrt(1 + a * a + b * b)
    first = np.cross([0.0, 1.0, 0.0], normal)
    first /= np.linalg.norm(first)
    turn = np.linspace(0, 2 * pi, n)[:, None]
    rim = R * (np.cos(turn) * first + np.sin(turn) * np.cross(normal, first))
    return rim - [0, 0, rim[:, 2].min()]


@settings(max_examples=40, deadline=None)
@given(lean, lean, st.floats(0, 2 * pi), st.floats(2, 24))
def test_the_formulas_are_those_of_a_turned_disc(a, b, heading, step):
    """Brute force: the lowest rim point over each offset of passes to the left, here and to the right."""
    rim = turned_disc((a, b))
    left = rim[:, 1] * cos(heading) - rim[:, 0] * sin(heading)
    low_left, low_right = np.argmax(left), np.argmin(left)
    lower = [np.interp(np.linspace(-step, 2 * step, 2001), *sorted_by(left[half], rim[half, 2]), left=np.inf,
                       right=np.inf) for half in halves(low_left, low_right, len(rim))]
    single = np.minimum(*lower)
    along, across = along_and_across((a, b), heading)
    u = np.linspace(-step, 2 * step, 2001)
    inside = np.abs(u) < R - 0.05
    assert single[inside] == pytest.approx([one_pass(each, R, along, across) for each in u[inside]], abs=5e-5)


def halves(top, low, n):
    """The two halves of a rim, from its leftmost to its rightmost point."""
    first, last = sorted((top, low))
    return np.arange(first, last + 1), np.r_[np.arange(last, n), np.arange(first + 1)]


def sorted_by(x, z):
    order = np.argsort(x)
    return x[order], z[order]


@given(lean, lean, st.floats(0.5, 24.9))
def test_a_ridge_is_what_passes_side_by_side_leave(along, across, step):
    """Brute force over many passes, sampled."""
    y = np.linspace(0, step, 4001)
    heights = [[one_pass(u, R, along, across) if abs(u) <= R else np.inf for u in y[::10] - k * step]
               for k in range(-int(R / step) - 2, int(R / step) + 3)]
    left = np.min(heights, axis=0)
    steepest = hypot(along, across) + abs(along) * R / max(sqrt(step), 0.1)
    assert ridge_between(R, along, across, step) == pytest.approx(left.max() - left.min(),
                                                                  abs=steepest * step / 200 + 1e-6)


@given(lean, lean, st.floats(1e-4, 0.02))
def test_the_widest_step_just_keeps_the_ridge(along, across, ridge):
    step = widest_step(R, along, across, ridge)
    assert ridge_between(R, along, across, step) <= ridge + 1e-9
    assert step == 2 * R or ridge_between(R, along, across, step + 1e-3) >= ridge - 1e-9


def test_readings_make_slopes():
    """0.04 more at +X and 0.10 less at +Y over 200: the plane falls to +X and rises to +Y."""
    machine = Machine(tram=Tram(swing=200, x=0.04, y=-0.1))
    job = Job(board=Board(x=(0, 1), y=(0, 1)), cutters=(Cutter(number=1, shape="flat", diameter=5),),
              stages=(Stage(name="a", program="a.nc"),), machine=machine)
    assert tilt_of(job) == pytest.approx((-0.0002, 0.0005))


# --- whole jobs: a board of 200 x 100, a cutter of 25 -------------------------------------------------
def tram(x, y):
    return f"tram = {{ swing = 200, x = {x}, y = {y} }}"


def zigzag(step, feed=2000):
    lines = f"G0 X-20 Y0\nG0 Z2\nG1 Z-0.4 F{feed}\n"
    for k in range(int(100 / step) + 1):
        ends = ("-20", "220") if k % 2 == 0 else ("220", "-20")
        lines += f"G1 X{ends[0]} Y{k * step}\nG1 X{ends[1]}\n"
    return lines


FINE = {"cell": "0.25", "stage": "face = { z = -0.4, tolerance = 0.2 }"}


def ridge_of(judged, lines, machine, **more):
    return judged(lines, machine=machine, **{**FINE, **more}).stages[0].face.ridge_height


@pytest.mark.parametrize(("x", "y", "step"), [(0, 0.2, 20), (0, -0.2, 10), (0.4, 0, 20), (0.4, 0, 12.5),
                                              (0.2, 0.2, 20), (0.4, -0.1, 10)])
def test_passes_back_and_forth_leave_steps_and_dishes(judged, x, y, step):
    """Textbook geometry: s·tan(b), R·sin(c)·(1 - sqrt(1 - (s/2R)²)), both together; turning round changes
    nothing. A cell hides at most what the surface rises over it."""
    expected = ridge_between(R, x / 200, y / 200, step)
    rise = 0.25 * (x + abs(y)) / 200
    assert ridge_of(judged, zigzag(step), tram(x, y)) == pytest.approx(expected, abs=rise + 2e-4)


def test_diagonal_passes_lean_by_both_readings(judged):
    """Passes at 45 degrees, 14.142 apart: slopes along and across them are those of the turned frame."""
    lines = "".join(f"G0 X{-140 + k * 20} Y-20\nG0 Z2\nG1 Z-0.4 F2000\nG1 X{k * 20} Y120\nG0 Z20\n"
                    for k in range(-1, 20))
    along, across = along_and_across((-0.1 / 200, -0.3 / 200), pi / 4)
    expected = ridge_between(R, along, across, 20 / sqrt(2))
    assert ridge_of(judged, lines, tram(0.1, 0.3)) == pytest.approx(expected, abs=8e-4)


def test_a_ridge_of_a_leaning_spindle_names_the_shim_and_the_step(found):
    """0.4 over 200 to the side: steps of 0.04 at 20; half of it, or a step of 10, keeps 0.02; the slope of
    0.002 is 0.2 over 100 mm."""
    (said,) = found("ridge", zigzag(20), machine=tram(0, 0.4), **FINE)
    assert said.value == pytest.approx(0.04, abs=1e-3)
    numbers = said.numbers["fix"].numbers
    assert (numbers["shim"], numbers["now"]) == pytest.approx((0.2, 0.4))
    assert (numbers["most"], numbers["step"]) == pytest.approx((0.2, 10), rel=1e-3)
    assert (said.numbers["second"] - said.numbers["first"]) == 2  # two passes, the way between them on a line
    assert "across the passes" in said.advice()
    assert "along X" in said.message()


def test_a_feed_lean_is_told_along_the_passes(found):
    (said,) = found("ridge", zigzag(20), machine=tram(2.0, 0), **FINE)
    numbers = said.numbers["fix"].numbers
    assert "along the passes" in said.advice()
    assert ridge_between(R, 2.0 / 200, 0, numbers["step"]) == pytest.approx(0.02, rel=1e-3)


def test_a_square_spindle_leaves_none(judged):
    assert ridge_of(judged, zigzag(20), tram(0, 0)) == 0


def rings(step, centre=(100, 50), outer=90):
    """Whole circles about a place, each entered at its right."""
    lines = ""
    for k in range(int(outer / step)):
        r = outer - k * step
        lines += (f"G0 X{centre[0] + r} Y{centre[1]}\nG0 Z2\nG1 Z-0.4 F2000\n"
                  f"G3 X{centre[0] + r} Y{centre[1]} I{-r} J0\nG0 Z20\n")
    return lines


@pytest.mark.parametrize("step", [15, 20])
def test_ridges_across_arcs(judged, step):
    """Brute force behind the rings' centre, where they lean to their side: the lowest of 20 000 places of a
    leaning disc on every ring, over each place of the line X100."""
    face = "face = { x = [60, 140], y = [80, 100], z = -0.4, tolerance = 0.2 }"
    turn, y = np.linspace(pi / 2 - 0.9, pi / 2 + 0.9, 20_001), np.arange(80.125, 100, 0.25)
    left = np.full(len(y), np.inf)
    for r in 90 - step * np.arange(int(90 / step)):
        x0, y0 = 100 + r * np.cos(turn), 50 + r * np.sin(turn)
        inside = np.hypot(x0[:, None] - 100, y0[:, None] - y) <= R
        left = np.minimum(left, np.where(inside, R * 0.002 - 0.002 * (y - y0[:, None]), np.inf).min(axis=0))
    reach = int(step / 0.25)
    rise = max(left[k:k + reach + 1].max() - left[k:k + reach + 1].min() for k in range(len(y)))
    assert ridge_of(judged, rings(step), tram(0, 0.4), stage=face) == pytest.approx(rise, abs=1e-3)
    assert 0.0015 * step < rise < 0.002 * step


@pytest.mark.parametrize("chords", [False, True])
def test_ridges_across_a_spiral(judged, chords):
    """Half circles about two centres in turn, the radius 12 less with each turn; or the same in chords of
    3 degrees. A ball of 12 leaves R - sqrt(R² - (s/2)²) (textbook geometry)."""
    lines, r, x = "G0 X170 Y50\nG0 Z2\nG1 Z-0.4 F2000\n", 70.0, 170.0
    while r > 0.3:
        for side in (-1, 1):
            end = x + side * 2 * r
            centre = (x + end) / 2
            if chords:
                first = 0 if side < 0 else pi
                lines += "".join(f"G1 X{centre + r * cos(first + k * pi / 60):.5f} "
                                 f"Y{50 + r * sin(first + k * pi / 60):.5f}\n" for k in range(1, 61))
            else:
                lines += f"G3 X{end} Y50 I{centre - x} J0\n"
            x, r = end, r - 0.5
    ball = '[[cutters]]\nnumber = 1\nname = "ball"\nshape = "ball"\ndiameter = 12\nedges = 2\n'
    face = "face = { x = [60, 140], y = [15, 85], z = -0.4, tolerance = 0.2, ridge = 0.001 }"
    ridge = judged(lines, cell="0.1", cutters=ball, stage=face, outline="x = [50, 150]\ny = [10, 90]")
    assert ridge.stages[0].face.ridge_height == pytest.approx(6 - sqrt(36 - 0.25), abs=1.5e-3)
    (said,) = [f for f in ridge.findings if f.kind == "ridge" and f.numbers["what"] == "high"]
    assert said.numbers["step"] == pytest.approx(1.0, abs=0.02)
    assert "along a bend" in said.message()
    assert said.numbers["fix"].numbers["closer"] == pytest.approx(2 * sqrt(2 * 6 * 0.001 - 1e-6), rel=1e-3)


# --- what a leaning cutter finishes -----------------------------------------------------------------
TIGHT = {"cell": "0.25", "stage": "face = { z = -0.4, tolerance = 0.02 }"}


def test_strips_that_a_leaning_cutter_leaves_too_high(found):
    """A side lean of 0.002 lifts a rim of 12.5 by 0.05; within 0.02 only 10 mm of each pass are finished: of
    passes 20 apart strips of 10 stay, and 10 apart is what would finish them."""
    said = found("ridge", zigzag(20), machine=tram(0, 0.4), **TIGHT)
    (wide,) = [each for each in said if each.numbers["what"] == "wide"]
    assert wide.value == pytest.approx(10, abs=1e-3)
    assert wide.numbers["step"] == pytest.approx(20, abs=1e-3)
    assert wide.numbers["fix"].numbers["closer"] == pytest.approx(10, abs=2e-3)
    assert wide.numbers["fix"].numbers["most"] == pytest.approx(0.02 / 25 * 200)
    assert not [f for f in found("ridge", zigzag(9.9), machine=tram(0, 0.4), **TIGHT)
                if f.numbers["what"] == "wide"]


@pytest.mark.parametrize(("machine", "lines"), [
    (tram(0.3, 0.3), zigzag(20)), (tram(0.5, 0), zigzag(15)), (tram(0, 0.4), rings(15)),
    (tram(-0.2, 0.3), "G0 X-20 Y30\nG0 Z2\nG1 Z-0.4 F2000\nG1 X220 Y70 Z-0.36\n")])
def test_the_unfinished_area_is_what_the_map_leaves_too_high(judged, machine, lines):
    """Cells over z + tolerance; at the long edges of a strip a cell's width is doubtful."""
    result = judged(lines, machine=machine, **TIGHT | {"cell": "0.1"})
    standing = float((result.surface.heights > -0.38).sum()) * 0.1**2
    assert result.stages[0].face.missed_area == pytest.approx(standing, rel=0.01, abs=60)


@pytest.mark.parametrize("shape", ["ball", "cone"])
def test_a_leaning_shaped_cutter_is_never_said_to_finish_more_than_it_does(judged, shape):
    more = "angle = 90" if shape == "cone" else ""
    cutter = f'[[cutters]]\nnumber = 1\nname = "it"\nshape = "{shape}"\ndiameter = 12\nedges = 2\n{more}\n'
    lines = "".join(f"G0 X-20 Y{y}\nG0 Z2\nG1 Z-0.4 F2000\nG1 X220\nG0 Z20\n" for y in range(10, 91, 10))
    face = "face = { z = -0.4, tolerance = 0.05 }"
    result = judged(lines, machine=tram(0.3, 0.3), cutters=cutter, cell="0.1", stage=face)
    standing = float((result.surface.heights > -0.35).sum()) * 0.1**2
    missed = result.stages[0].face.missed_area
    assert standing - 40 <= missed <= standing + 160
