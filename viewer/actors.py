"""The player's board, bodies and cutter as actors of a plotter.

The law: it lays out what the player and the scene say, and computes nothing. A body's mesh is made once, one
high; between which heights it stands is its actor's place and scale, so that stretching heights moves it.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from ..parser.finding import Severity
from ..parser.motion import Move
from . import relief as paint
from .ground import Ground
from .legend import label_at
from .meshes import cutter_mesh, pillar, prism, segments
from .player import Player

Floats = NDArray[np.float64]
LAYERS = {"1": "screws", "2": "clamps", "3": "path", "4": "reasons", "5": "cutter", "6": "ridges"}
STRETCHES = (1.0, 5.0, 20.0, 100.0)
FLAGS = 12
FINISHED = "\0finished"  # whose the ridges are: the finished board's
OVER = 0.1  # mm: lines lie so far over the surface that they run on
THIN = 0.05  # mm: what is drawn of a body without height
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
        self._cross: Any = None
        self._named: list[tuple[str, str, Any]] = []  # layer, whose it is, actor
        self._upright: list[tuple[Any, float, float]] = []  # actor, bottom, top
        self._drawn: list[tuple[pv.PolyData, Floats]] = []  # lines, and where they really lie
        self.ground = Ground(plotter, player.terrain, self.stretch, self.colouring)
        self.stand()

    # --- what changes with time -------------------------------------------------------------------
    def follow(self) -> None:
        """Show the player's moment."""
        self.ground.fill(self.stretch, self.colouring)
        self.place_cutter()
        self.show_standing()

    def look(self) -> bool:
        """Whether a closer look at the board was put up, or taken away, for where the camera is."""
        return self.ground.look(self.stretch, self.colouring)

    def show_standing(self) -> None:
        """Only the screws and clamps that stand at this moment, the way of this stage; ridges at the end."""
        player = self.player
        standing, way = player.standing, str(player.stage)
        if player.moves == len(player.timeline):
            standing |= {FINISHED}
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
        """Everything but the board and the cutter is put up."""
        self.layers |= {"screws": self._screws(), "clamps": self._clamps(), "path": self._path(),
                        "ridges": self._ridges(), "reasons": self._reasons()}
        self.place_heights()
        self.place_cutter()
        self.show_standing()

    def place_heights(self) -> None:
        """Everything at the height at which it is drawn: that has changed."""
        for actor, bottom, top in self._upright:
            low, high = self.z(bottom), self.z(top)
            actor.SetPosition(0, 0, low)
            actor.SetScale(1, 1, max(high - low, THIN))
        for lines, ends in self._drawn:
            points: Any = lines.points
            points[:, 2] = self.player.terrain.drawn_z(ends[..., 2], self.stretch).ravel() + OVER
            lines.points = points

    def z(self, height: float) -> float:
        return float(self.player.terrain.drawn_z(height, self.stretch))

    def _put(self, mesh: pv.DataSet, color: paint.Rgb, **look: Any) -> Any:
        return self.plotter.add_mesh(mesh, color=paint.hexed(color), render=False, reset_camera=False, **look)

    def _screws(self) -> list[Any]:
        for head in self.player.scene.bodies.heads:
            color = paint.STRUCK if head.struck else paint.SCREW if head.part == "head" else paint.WASHER
            actor = self._put(pillar(head.at, head.radius, 0.0, 1.0), color, ambient=0.55, diffuse=0.45)
            self._upright.append((actor, head.bottom, head.top))
            self._named.append(("screws", head.about, actor))
        return self._of("screws")

    def _clamps(self) -> list[Any]:
        for clamp in self.player.scene.bodies.clamps:
            bottom = clamp.bottom if math.isfinite(clamp.bottom) else self.player.terrain.level
            color = paint.STRUCK if clamp.struck else paint.CLAMP
            actor = self._put(prism(clamp.outline, 0.0, 1.0), color, opacity=0.75, ambient=0.5, diffuse=0.5)
            self._upright.append((actor, bottom, clamp.top))
            self._named.append(("clamps", clamp.about, actor))
        return self._of("clamps")

    def _path(self) -> list[Any]:
        path = self.player.scene.path
        for stage in range(len(self.player.result.records)):
            for rapid, color, opacity in ((True, paint.RAPID, 0.3), (False, FEED, 0.45)):
                ends = path.ends[((path.kind == Move.RAPID) == rapid) & (path.stage == stage)]
                if len(ends):
                    self._line("path", str(stage), ends, color, opacity=opacity, line_width=1)
        return self._of("path")

    def _ridges(self) -> list[Any]:
        if len(self.player.scene.ridges.ends):
            self._line("ridges", FINISHED, self.player.scene.ridges.ends, paint.RIDGE, line_width=2)
        return self._of("ridges")

    def _line(self, layer: str, whose: str, ends: Floats, color: paint.Rgb, **look: Any) -> None:
        """Straight pieces (n, 2, 3), drawn where they lie now."""
        lines = segments(ends)
        self._drawn.append((lines, ends))
        self._named.append((layer, whose, self._put(lines, color, copy_mesh=False, **look)))

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

    def point(self, at: tuple[float, float, float] | None) -> None:
        """A cross at a place of the board that was asked about; none for None."""
        if self._cross is not None:
            self.plotter.remove_actor(self._cross, render=False)
            self._cross = None
        if at is not None:
            foot = np.array((*at[:2], self.z(at[2])))
            arm = 0.02 * self.plotter.camera.distance
            x, y, z = arm * np.eye(3)
            ends = np.array([(foot - x, foot + x), (foot - y, foot + y), (foot, foot + z)])
            self._cross = self._put(segments(ends), paint.INK, line_width=3, lighting=False)

    def clip(self, plane: Any) -> None:
        """Board, path and ridges on one side of a plane alone; all of them for None."""
        self.ground.clip(plane)
        for actor in (*self.layers["path"], *self.layers["ridges"], *self.layers["screws"]):
            actor.mapper.RemoveAllClippingPlanes()
            if plane is not None:
                actor.mapper.AddClippingPlane(plane)

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
        for actor in self.layers["reasons"]:
            self.plotter.remove_actor(actor, render=False)
        self.layers["reasons"] = self._reasons()
        self._set("reasons", "reasons" not in self.hidden)
        self.place_heights()
        self.follow()
