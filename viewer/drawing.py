"""The child process that draws: a pickled Picture in, a PNG out. Run by picture.py, never imported by others.

The law: it lays out what the Scene says, seen from where the operator stands, and computes nothing. The
file it reads was written by its parent a moment ago, in a folder that nobody else may enter.
"""

from __future__ import annotations

import pickle
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, cast

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from ..parser.finding import Severity
from ..parser.motion import Move
from . import relief as paint
from .aim import aim
from .blocks import blocked, thinned_axis
from .bodies import Clamp, Head
from .legend import add_words, free_of_words, label_at, unit_of
from .look import VIEWS
from .meshes import prism, segments
from .picture import Picture
from .scene import Mark, Relief, Scene

FLAGS = 6  # findings that get a flag
GAPS = 40  # screws whose gap is written beside them


def main(arguments: Sequence[str]) -> None:
    data, drawn = arguments
    picture: Picture = pickle.loads(Path(data).read_bytes())
    plotter = pv.Plotter(off_screen=True, window_size=list(picture.look.size))
    lay_out(plotter, picture)
    cast(Any, plotter).screenshot(drawn)  # its decorator hides its signature
    plotter.close()


def lay_out(plotter: pv.Plotter, picture: Picture) -> None:
    """Every layer of the scene, then the words."""
    scene = picture.scene
    plotter.background_color = pv.Color(paint.hexed(paint.PAPER))
    plotter.enable_anti_aliasing("ssaa")
    add_board(plotter, picture)
    level = surface_level(scene.relief)
    for head in scene.bodies.heads:
        add_head(plotter, head, level)
    for clamp in scene.bodies.clamps:
        add_clamp(plotter, clamp)
    add_gaps(plotter, scene, level, toward(picture))
    add_ridges(plotter, scene, level)
    add_path(plotter, scene)
    add_zero(plotter, scene, level)
    point_camera(plotter, picture)
    for number, mark in enumerate(scene.marks[:FLAGS], 1):
        add_flag(plotter, mark, number, scene)
    add_words(plotter, scene, picture.look.colouring)


def add_board(plotter: pv.Plotter, picture: Picture) -> None:
    """A block with the shaded, coloured surface laid on its top: differences of tenths are for the colour
    and the shading to show, no true height would be seen at this distance."""
    relief = picture.scene.relief
    x0, x1, y0, y1 = edges(relief)
    level = surface_level(relief)
    corners = np.array([(x0, y0, level), (x1, y0, level), (x1, y1, level), (x0, y1, level)])
    top = pv.PolyData(corners, np.array([4, 0, 1, 2, 3]))
    top.active_texture_coordinates = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], float)
    plotter.add_mesh(top, texture=pv.Texture(texture_of(picture)[::-1]), lighting=False)
    if not np.isnan(relief.heights).any():
        plotter.add_mesh(pv.Box((x0, x1, y0, y1, relief.bottom, level - 0.01)), color=paint.hexed(paint.SIDE),
                         lighting=False)


def edges(relief: Relief) -> tuple[float, float, float, float]:
    """x0, x1, y0, y1 of the map: half a cell beyond its outer centres."""
    half = (relief.x[1] - relief.x[0]) / 2 if len(relief.x) > 1 else 0.5
    return relief.x[0] - half, relief.x[-1] + half, relief.y[0] - half, relief.y[-1] + half


def surface_level(relief: Relief) -> float:
    return float(np.nanmedian(relief.heights))


def texture_of(picture: Picture) -> NDArray[np.uint8]:
    """(ny, nx, 4) colours of the surface, row 0 in front; seen through where no board is."""
    relief, side = picture.scene.relief, picture.side
    coarse = Relief(thinned_axis(relief.x, side), thinned_axis(relief.y, side),
                    blocked(relief.heights, side), blocked(relief.off, side), relief.tolerance,
                    relief.bottom)
    painted = paint.painted(coarse, picture.look.colouring, picture.number)
    board = np.where(np.isnan(coarse.heights), 0, 255).astype(np.uint8)
    return np.ascontiguousarray(np.concatenate([painted, board[..., None]], axis=2))


def add_head(plotter: pv.Plotter, head: Head, level: float) -> None:
    """A screw head or washer as its disc in plan, laid on the surface so that no recess hides it."""
    lifted = level + 0.2 + 0.01 * (head.top - head.bottom) + (0.3 if head.part == "head" else 0.0)
    color = paint.STRUCK if head.struck else paint.SCREW if head.part == "head" else paint.WASHER
    body = pv.Disc(center=(*head.at, lifted), inner=0, outer=head.radius, r_res=1, c_res=48)
    plotter.add_mesh(body, color=paint.hexed(color), lighting=False)


def toward(picture: Picture) -> NDArray[np.float64]:
    """(3,) level direction toward the camera."""
    x, y, _ = VIEWS[picture.look.view]
    return np.array((x, y, 0.0)) / np.hypot(x, y)


def add_gaps(plotter: pv.Plotter, scene: Scene, level: float, aside: NDArray[np.float64]) -> None:
    """Each screw's smallest gap beside it, where there are few enough to read."""
    heads = [head for head in scene.bodies.heads if head.part == "head" and head.clearance is not None]
    if len(heads) > GAPS:
        return
    for head in heads:
        at = (np.array((*head.at, level + 0.5)) + 2.6 * head.radius * aside).tolist()
        text = scene.units.text(round(head.clearance or 0.0, 2))
        plotter.renderer.AddViewProp(label_at(text, at, 17 * unit_of(*plotter.window_size),
                                              paint.STRUCK if head.struck else paint.INK))


def add_clamp(plotter: pv.Plotter, clamp: Clamp) -> None:
    """A clamp as its outline drawn up; one that is gone by the end is seen through."""
    bottom = clamp.bottom if np.isfinite(clamp.bottom) else clamp.top - 40.0
    body = prism(clamp.outline, bottom, clamp.top)
    color = paint.STRUCK if clamp.struck else paint.CLAMP
    opacity = 1.0 if clamp.stays or clamp.struck else 0.35
    plotter.add_mesh(body, color=paint.hexed(color), opacity=opacity, ambient=0.45, diffuse=0.6)
    rim = body.extract_feature_edges(60)
    plotter.add_mesh(rim, color=paint.hexed(paint.INK), line_width=1.5, opacity=opacity)


def add_path(plotter: pv.Plotter, scene: Scene) -> None:
    """Rapids as thin lines: where the cutter travels without cutting."""
    rapid = scene.path.kind == Move.RAPID
    ends = scene.path.ends[rapid]
    if not len(ends):
        return
    plotter.add_mesh(segments(ends), color=paint.hexed(paint.RAPID), line_width=1, opacity=0.25)


def add_ridges(plotter: pv.Plotter, scene: Scene, level: float) -> None:
    """Ridges as lines along their crests, just over the surface."""
    if len(scene.ridges.ends):
        ends = scene.ridges.ends.copy()
        ends[..., 2] = np.maximum(ends[..., 2], level) + 0.3
        plotter.add_mesh(segments(ends), color=paint.hexed(paint.RIDGE), line_width=2)


def add_zero(plotter: pv.Plotter, scene: Scene, level: float) -> None:
    """The last stage's zero as two short arrows along X and Y."""
    reach = float(np.ptp(scene.relief.x)) * 0.07
    at = np.array((*scene.zero[:2], level + 0.5))
    for name, along in (("X", (1, 0, 0)), ("Y", (0, 1, 0))):
        tip = at + np.array(along) * reach
        plotter.add_mesh(pv.Arrow(at, along, scale=reach, shaft_radius=0.03, tip_radius=0.09),
                         color=paint.hexed(paint.INK), lighting=False)
        letter = (tip + np.array(along) * reach * 0.25).tolist()
        plotter.renderer.AddViewProp(label_at(name, letter, 20 * unit_of(*plotter.window_size), paint.INK))


def add_flag(plotter: pv.Plotter, mark: Mark, number: int, scene: Scene) -> None:
    """A finding as a numbered flag on a pole that stands where it was found."""
    foot = np.array(mark.at)
    size = float(np.ptp(scene.relief.x) + np.ptp(scene.relief.y))
    lower = sum(np.hypot(*(foot - other.at)[:2]) < 0.06 * size for other in scene.marks[:number - 1])
    head = foot + np.array((0, 0, size * (0.07 + 0.036 * lower)))  # over the flags that stand close by
    color = paint.STRUCK if mark.severity is Severity.STOP else paint.INK
    plotter.add_mesh(pv.Line(foot, head), color=paint.hexed(color), line_width=3)
    plotter.add_mesh(pv.Sphere(radius=size * 0.003, center=foot), color=paint.hexed(color), lighting=False)
    height = 26 * unit_of(*plotter.window_size)
    plotter.renderer.AddViewProp(label_at(f" {number} ", head.tolist(), height, paint.PAPER, color))


def point_camera(plotter: pv.Plotter, picture: Picture) -> None:
    """Look at the whole board, with what stands about it, between the words."""
    scene = picture.scene
    x0, x1, y0, y1 = edges(scene.relief)
    plan = np.concatenate([np.array([(x0, y0), (x1, y1)]), *(clamp.outline for clamp in scene.bodies.clamps)])
    (x0, y0), (x1, y1) = plan.min(axis=0), plan.max(axis=0)
    level = surface_level(scene.relief)
    size = float(np.ptp(scene.relief.x) + np.ptp(scene.relief.y))
    tops = [(*mark.at[:2], mark.at[2] + 0.09 * size) for mark in scene.marks[:FLAGS]]
    corners = np.array([*((x, y, level) for x in (x0, x1) for y in (y0, y1)), *tops])
    width, height = plotter.window_size
    aim(plotter, corners, VIEWS[picture.look.view], free_of_words((width, height), len(scene.marks)))


if __name__ == "__main__":
    main(sys.argv[1:])
