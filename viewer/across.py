"""A window's cut across the board: one half goes, and the heights along the cut stand in a chart.

The law: heights are the map's own along one row or column of cells; a chart shows at least SPAN of height, so
that a board without a ridge is a level line.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pyvista as pv

from . import relief as paint
from .actors import Actors
from .player import Player

SHIFT = 0.01  # of the board: a step of the cut
SPAN = 0.05  # mm of height that a chart shows at least


class Across:
    """The cut: `axis` "x" (at one X), "y" or "" where there is none; `at` in millimetres."""

    def __init__(self, plotter: pv.Plotter, player: Player, actors: Actors) -> None:
        self.plotter, self.player, self.actors = plotter, player, actors
        self.axis, self.at = "", 0.0
        self._chart: Any = None

    def toggle(self, axis: str, through: tuple[float, ...] | None) -> None:
        """Cut along an axis through a place, or the middle; the same axis again: whole."""
        self.axis = "" if self.axis == axis else axis
        if not self.axis:
            self.actors.clip(None)
            self.plotter.remove_chart(self._chart)
            self._chart = None
            return
        middle = float(self._places().mean())
        self.at = middle if through is None else float(through["xy".index(axis)])

    def shift(self, steps: int) -> None:
        places = self._places()
        self.at = float(np.clip(self.at + steps * SHIFT * float(np.ptp(places)), places[0], places[-1]))

    def _places(self) -> np.ndarray:
        return self.player.terrain.x if self.axis == "x" else self.player.terrain.y

    def draw(self) -> None:
        """The board cut, and the chart, as they are now."""
        if not self.axis:
            return
        from vtkmodules.vtkCommonDataModel import vtkPlane
        plane, along_x = vtkPlane(), self.axis == "y"
        plane.SetOrigin(*((0, self.at, 0) if along_x else (self.at, 0, 0)))
        plane.SetNormal(*((0, 1, 0) if along_x else (-1, 0, 0)))
        self.actors.clip(plane)
        self._profile(*self.player.profile("x" if along_x else "y", self.at))

    def _profile(self, along: np.ndarray, heights: np.ndarray, faced: np.ndarray) -> None:
        """Heights against the way along the cut; holes run out of the chart where a face is to be read."""
        units = self.player.result.job.units
        if self._chart is None:
            self._chart = pv.Chart2D(size=(0.42, 0.3), loc=(0.56, 0.13))
            self._chart.background_color = (*paint.PAPER, 235)
            self.plotter.add_chart(self._chart)
        chart, known = self._chart, ~np.isnan(heights)
        chart.clear()
        read = known & faced if (known & faced).any() else known
        chart.line(along[known] / units.scale, heights[known] / units.scale, width=2.0,
                   color=paint.hexed(paint.LEFT_HIGH))
        chart.x_range = [float(along[0]) / units.scale, float(along[-1]) / units.scale]
        chart.y_range = [each / units.scale for each in span(heights[read])]
        name, at = ("X", "Y") if self.axis == "y" else ("Y", "X")
        chart.x_label = f"{name} ({units.sign('length')}), at {at} {units.text(self.at)}"
        chart.y_label = f"Z ({units.sign('length')})"


def span(heights: np.ndarray) -> tuple[float, float]:
    """From which height to which a chart shows."""
    low, high = (float(heights.min()), float(heights.max())) if len(heights) else (0.0, 0.0)
    room = max(SPAN - (high - low), 0.1 * (high - low)) / 2
    return low - room, high + room
