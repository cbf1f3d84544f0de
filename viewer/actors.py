"""The player's board, bodies and cutter as actors of a plotter.

The law: it lays out what the player and the scene say, and computes nothing. The board's mesh is filled in
place, so a step costs what changed and not what is there.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pyvista as pv

from ..parser.finding import Severity
from ..parser.motion import Move
from . import relief as paint
from .legend import label_at
from .meshes import cutter_mesh, pillar, prism, segments
from .player import Player

LAYERS = {"1": "screws", "2": "clamps", "3": "path", "4": "reasons", "5": "cutter"}
STRETCHES = (1.0, 5.0, 20.0, 100.0)
FLAGS = 12
METAL: paint.Rgb = (96, 104, 114)
FEED: paint.Rgb = (70, 92, 84)


class Actors:
    """What stands in the window."""

    def __init__(self, plotter: pv.Plotter, player: Player) -> None:
        self.plotter, self.player = plotter, player
        self.stretch, self.colouring = STRETCHES[1], next(iter(paint.COLOURINGS))
        self.layers: dict[str, list[Any]] = {name: [] for name in LAYERS.values()}
        self.hidden: set[str] = set()
        self._cutter: Any = None
        self._mounted: Any = None
        self._named: list[tuple[str, str, Any]] = []  # layer, whose it is, actor
        self.board = pv.StructuredGrid()
        points = player.terrain.points(self.stretch)
        self.board.points = points.reshape(-1, 3)
        self.board.dimensions = (points.shape[1], points.shape[0], 1)
        self.board["colour"] = player.terrain.colours(self.colouring).reshape(-1, 3)
        self.ground = plotter.add_mesh(self.board, scalars="colour", rgb=True, lighting=False,
                                       copy_mesh=False, show_scalar_bar=False)
        self.stand()

    # --- what changes with time -------------------------------------------------------------------
    def follow(self) -> None:
        """Show the player's moment."""
        terrain = self.player.terrain
        poly: Any = self.board
        np.copyto(poly.points, terrain.points(self.stretch).reshape(-1, 3))
        np.copyto(poly["colour"], terrain.colours(self.colouring).reshape(-1, 3))
        for changed in (poly.GetPoints().GetData(), poly.GetPoints(), poly.GetPointData().GetArray("colour"),
                        poly):
            changed.Modified()
        self.place_cutter()
        self.show_standing()

    def show_standing(self) -> None:
        """Only the screws and clamps that stand at this moment, and the way of this stage."""
        standing, way = self.player.standing, str(self.player.stage)
        for layer, about, actor in self._named:
            there = about == way if layer == "path" else about in standing
            actor.SetVisibility(there and layer not in self.hidden)

    def place_cutter(self) -> None:
        """The cutter at its tip; none where its place is not known."""
        cutter, tip = self.player.cutter, self.player.tip
        if cutter is not self._mounted:
            self._mount(cutter)
        if self._cutter is None:
            return
        known = not any(map(math.isnan, tip))
        self._cutter.SetVisibility(known and "cutter" not in self.hidden)
        if known:
            self._cutter.SetPosition(tip[0], tip[1], float(self.player.terrain.drawn_z(tip[2], self.stretch)))

    def _mount(self, cutter: Any) -> None:
        if self._cutter is not None:
            self.plotter.remove_actor(self._cutter, render=False)
        self._mounted, self._cutter = cutter, None
        if cutter is not None:
            mesh = cutter_mesh(cutter, self.player.result.job.machine)
            self._cutter = self.plotter.add_mesh(mesh, color=paint.hexed(METAL), opacity=0.55, ambient=0.4,
                                                 render=False, reset_camera=False)
        self.layers["cutter"] = [self._cutter] if self._cutter is not None else []

    # --- what stands -------------------------------------------------------------------------------
    def stand(self) -> None:
        """Everything but the board, put up anew: where heights are drawn has changed."""
        for actor in (actor for layer in self.layers.values() for actor in layer):
            self.plotter.remove_actor(actor, render=False)
        self._cutter, self._mounted, self._named = None, None, []
        self.layers = {"screws": self._screws(), "clamps": self._clamps(), "path": self._path(),
                       "reasons": self._reasons(), "cutter": []}
        self.place_cutter()
        for name in self.hidden:
            self._set(name, False)
        self.show_standing()

    def z(self, height: float) -> float:
        return float(self.player.terrain.drawn_z(height, self.stretch))

    def _put(self, mesh: pv.DataSet, color: paint.Rgb, **look: Any) -> Any:
        return self.plotter.add_mesh(mesh, color=paint.hexed(color), render=False, reset_camera=False, **look)

    def _screws(self) -> list[Any]:
        for head in self.player.scene.bodies.heads:
            color = paint.STRUCK if head.struck else paint.SCREW if head.part == "head" else paint.WASHER
            body = pillar(head.at, head.radius, self.z(head.bottom), self.z(head.top))
            self._named.append(("screws", head.about, self._put(body, color, ambient=0.5)))
        return self._of("screws")

    def _clamps(self) -> list[Any]:
        for clamp in self.player.scene.bodies.clamps:
            bottom = clamp.bottom if math.isfinite(clamp.bottom) else self.player.terrain.level
            body = prism(clamp.outline, self.z(bottom), self.z(clamp.top))
            actor = self._put(body, paint.STRUCK if clamp.struck else paint.CLAMP, opacity=0.75, ambient=0.45)
            self._named.append(("clamps", clamp.about, actor))
        return self._of("clamps")

    def _path(self) -> list[Any]:
        path = self.player.scene.path
        for stage in range(len(self.player.result.records)):
            for rapid, color, opacity in ((True, paint.RAPID, 0.3), (False, FEED, 0.45)):
                ends = path.ends[((path.kind == Move.RAPID) == rapid) & (path.stage == stage)].copy()
                if len(ends):
                    ends[..., 2] = self.player.terrain.drawn_z(ends[..., 2], self.stretch)
                    actor = self._put(segments(ends), color, opacity=opacity, line_width=1)
                    self._named.append(("path", str(stage), actor))
        return self._of("path")

    def _of(self, layer: str) -> list[Any]:
        return [actor for name, _, actor in self._named if name == layer]

    def _reasons(self) -> list[Any]:
        """A numbered pole where each reason was found."""
        found: list[Any] = []
        size = float(np.ptp(self.player.terrain.x) + np.ptp(self.player.terrain.y))
        for number, mark in enumerate(self.player.scene.marks[:FLAGS], 1):
            color = paint.STRUCK if mark.severity is Severity.STOP else paint.INK
            foot = np.array((*mark.at[:2], self.z(mark.at[2])))
            head = foot + np.array((0, 0, size * (0.05 + 0.012 * (number % 3))))
            found.append(self._put(pv.Line(foot, head), color, line_width=3, lighting=False))
            label = label_at(f" {number} ", head.tolist(), 18, paint.PAPER, color)
            self.plotter.renderer.AddViewProp(label)
            found.append(label)
        return found

    # --- what the viewer chooses -------------------------------------------------------------------
    def toggle(self, layer: str) -> None:
        shown = layer in self.hidden
        (self.hidden.discard if shown else self.hidden.add)(layer)
        self._set(layer, shown)
        self.show_standing()

    def _set(self, layer: str, shown: bool) -> None:
        for actor in self.layers[layer]:
            actor.SetVisibility(shown)

    def recolour(self) -> None:
        """The next colouring."""
        names = list(paint.COLOURINGS)
        self.colouring = names[(names.index(self.colouring) + 1) % len(names)]
        self.follow()

    def restretch(self, by: int) -> None:
        """Heights stretched more, or less."""
        at = STRETCHES.index(self.stretch) + by
        self.stretch = STRETCHES[min(max(at, 0), len(STRETCHES) - 1)]
        self.stand()
        self.follow()
