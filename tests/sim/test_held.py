"""How far the board lies from what holds it, against scipy (distance transform, Voronoi) and shapely."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from proveout.sim.solids import Footprint
from scipy.ndimage import distance_transform_edt
from scipy.spatial import Voronoi

AT = ((22, 19), (171, 27), (88, 83), (140, 64))  # no two places alike far
RADIUS = 5.25  # of an M6 button head (ISO 7380-1): 10.5 wide
SCREWS = ('[[fasteners]]\nname = "screws"\nscrew = "ISO 7380-1 M6"\nseat = -8\n'
          f"recess = {{ diameter = 13, depth = 8 }}\nat = {[list(at) for at in AT]}\n")
ALL_OF_IT = "".join(f"G0 X-20 Y{y}\nG0 Z-0.4\nG1 X220 F2000\nG0 Z20\n" for y in range(0, 101, 20))
BARS = ('[[clamps]]\nname = "bar"\nfrom = [-30, 60]\nto = [30, 90]\nwidth = 16\nabove = 5\n'
        '[[clamps]]\nname = "post"\nat = [190, 95]\ndiameter = 24\nabove = 5\n'
        '[[clamps]]\nname = "box"\nx = [60, 90]\ny = [-20, 8]\nabove = 5\n')
BAR = shapely.LineString([(-30, 60), (30, 90)]).buffer(8, cap_style="flat")


def chart_of(result):
    """The map of a result's first stage with its distances as an array, NaN off the board."""
    chart = result.stages[0].held.map
    return replace(chart, x=np.array(chart.x), y=np.array(chart.y), away=np.array(chart.away, float))


def largest_empty_circle() -> tuple[float, tuple[float, float]]:
    """The place of the board farthest from every screw: a corner of Voronoi's cells, or where they meet the
    board's edge, or a corner of it."""
    board, cells = shapely.box(0, 0, 200, 100), Voronoi(AT)
    places = [*cells.vertices, *np.array(board.exterior.coords)]
    for one, other in cells.ridge_points:
        (ax, ay), (bx, by) = AT[one], AT[other]
        middle, along = np.array([ax + bx, ay + by]) / 2, np.array([ay - by, bx - ax])
        line = shapely.LineString([middle - 10 * along, middle + 10 * along])
        places += list(shapely.get_coordinates(shapely.intersection(line, board.exterior)))
    on = [tuple(p) for p in places if -1e-9 <= p[0] <= 200 + 1e-9 and -1e-9 <= p[1] <= 100 + 1e-9]
    away = [min(np.hypot(x - a, y - b) for a, b in AT) - RADIUS for x, y in on]
    return max(away), on[int(np.argmax(away))]


def test_the_farthest_place_is_the_largest_empty_circles_middle(judged):
    """All of the board is cut; its cells are 1 mm, so that one lies within 0.71 mm of every place."""
    held = judged(ALL_OF_IT, more=SCREWS).stages[0].held
    most, at = largest_empty_circle()
    assert most - 0.71 <= held.farthest <= most + 1e-9
    assert np.hypot(held.at[0] - at[0], held.at[1] - at[1]) < 1.5


def test_the_farthest_of_the_cut_cells_is_found_in_a_few_holes(judged):
    """Only holes are drilled: of their cells, all asked one by one with shapely."""
    holes = "".join(f"G0 X{x} Y{y}\nG1 Z-5 F300\nG0 Z20\n" for x, y in ((110, 8), (7, 91), (198, 98)))
    result = judged(holes, begin="G21 G90 G17 G94 G54\nT2 M6\nS4000 M3\nG0 Z20\n",
                    more=SCREWS + BARS)
    last, x, y = result.surface.last, result.surface.x, result.surface.y
    j, i = np.nonzero(last >= 0)
    heads = [shapely.Point(at).buffer(RADIUS, quad_segs=256) for at in AT]
    bars = [BAR, shapely.Point(190, 95).buffer(12, quad_segs=256), shapely.box(60, -20, 90, 8)]
    away = shapely.distance(shapely.points(x[i], y[j]), shapely.union_all([*heads, *bars]))
    assert result.stages[0].held.farthest == pytest.approx(away.max(), abs=1e-3)


def test_the_map_against_a_distance_transform(judged):
    """Cells of 0.25 mm under a head or a clamp are 0 away; scipy's transform gives every other's distance to
    the nearest of them, right to a cell's diagonal."""
    chart = chart_of(judged(ALL_OF_IT, more=SCREWS + BARS))
    cell = 0.25
    x, y = np.meshgrid(np.arange(-40, 240, cell) + cell / 2, np.arange(-40, 140, cell) + cell / 2)
    under = np.hypot(x - 190, y - 95) <= 12
    under |= (x >= 60) & (x <= 90) & (y >= -20) & (y <= 8)
    under |= shapely.intersects_xy(BAR, x, y)
    for a, b in AT:
        under |= np.hypot(x - a, y - b) <= RADIUS
    away = distance_transform_edt(~under, sampling=cell)
    j, i = ((np.round((each - cell / 2 + 40) / cell)).astype(int) for each in (chart.y, chart.x))
    assert chart.away.shape == (len(chart.y), len(chart.x)) == (10, 20)
    assert chart.step == 10
    assert np.abs(chart.away - away[np.ix_(j, i)]).max() <= 2 ** 0.5 * cell


def test_lines_of_the_map_are_where_the_map_says(judged):
    chart = chart_of(judged(ALL_OF_IT, more=SCREWS))
    ((distance, region),) = chart.beyond
    assert distance == 50
    x, y = np.meshgrid(chart.x, chart.y)
    clear = np.abs(chart.away - 50) > 0.1  # the lines are polygons
    assert (shapely.intersects_xy(region, x, y) == (chart.away > 50))[clear].all()


def test_clamps_that_come_and_go_leave_the_farthest_that_each_place_was(judged):
    """Posts near both ends change places; each cut alone would leave the other end far away."""
    posts = "".join(f'[[clamps]]\nname = "{name}"\nat = [{x}, 50]\ndiameter = 10\nabove = 5\n'
                    for name, x in (("a", 0), ("b", 200)))
    lines = ("G0 X100 Y110\nG0 Z-0.4\nG1 Y80 F2000\nG0 Z20\nM5\nM0\nM3\nG0 X60 Y110\nG0 Z-0.4\nG1 Y80\n")
    moved = 'clamps = ["a"]\nchanges = [ { at_stop = 1, remove = ["a"], add = ["b"] } ]'
    chart = chart_of(judged(lines, more=posts, stage=moved))
    x, y = np.meshgrid(chart.x, chart.y)
    away = np.maximum(np.hypot(x - 0, y - 50), np.hypot(x - 200, y - 50)) - 5
    assert np.abs(chart.away - away).max() < 1e-9


def test_of_parts_only_what_bears_on_one_holds_it(judged):
    parts = ('parts = [ { name = "left", x = [0, 95], y = [0, 100] }, '
             '{ name = "right", x = [105, 200], y = [0, 100] } ]')
    chart = chart_of(judged(ALL_OF_IT, more=SCREWS, outline=parts))
    right = np.isfinite(chart.away) & (chart.x > 105)[None, :]
    x, y = np.meshgrid(chart.x, chart.y)
    away = np.minimum(*(np.hypot(x - a, y - b) - RADIUS for a, b in (AT[1], AT[3])))
    assert np.abs(chart.away - np.maximum(away, 0))[right].max() < 1e-9
    assert np.isnan(chart.away[:, (chart.x > 95) & (chart.x < 105)]).all()


@pytest.mark.parametrize("outline", [Footprint((3, 4), (5, 2), 0.7), Footprint((3, 4), round=6)])
def test_distance_from_an_outline(outline):
    x, y = np.random.default_rng(5).uniform(-20, 20, (2, 300))
    away = shapely.distance(shapely.points(x, y), outline.shape)
    sagitta = 6 * (1 - np.cos(np.pi / 128))  # of the polygon that stands for a circle
    assert np.abs(outline.away(x, y) - away).max() < sagitta + 1e-9
