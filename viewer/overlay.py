"""Words that lie over a window: where each stands, and how large.

The law: a text keeps its corner at every size of the window; what it says comes from others.
"""

from __future__ import annotations

from typing import Any

import pyvista as pv
from vtkmodules.vtkRenderingCore import vtkTextActor

from . import relief as paint
from .legend import text_actor

SMALL = 15
MARGIN = 0.016  # of the window


class Overlay:
    """Named texts over a plotter's picture."""

    def __init__(self, plotter: pv.Plotter) -> None:
        self.plotter = plotter
        self._texts: dict[str, vtkTextActor] = {}

    def say(self, name: str, text: str, at: tuple[float, float] = (0, 0), *, size: float = SMALL,
            color: paint.Rgb = paint.INK, bold: bool = False, columns: bool = False) -> None:
        """Put or change a text; `at` from the lower left corner (0, 0) to the upper right one (1, 1): that
        is also the point of the text that stands there."""
        if name not in self._texts:
            self._texts[name] = self._new(at, size, color, bold, columns)
        self._texts[name].SetInput(text)

    def _new(self, at: tuple[float, float], size: float, color: paint.Rgb, bold: bool,
             columns: bool) -> vtkTextActor:
        actor = text_actor("", size, color, bold=bold)
        look: Any = actor.GetTextProperty()
        if columns:
            look.SetFontFamilyToCourier()
        look.SetVerticalJustification(2 if at[1] > 0.5 else 0)
        look.SetJustification(2 if at[0] > 0.9 else 1 if 0.4 < at[0] < 0.6 else 0)
        look.SetBackgroundColor(*(c / 255 for c in paint.PAPER))
        look.SetBackgroundOpacity(0.0 if bold else 0.82)
        look.SetLineSpacing(1.15)
        place = actor.GetPositionCoordinate()
        place.SetCoordinateSystemToNormalizedViewport()
        place.SetValue(*(min(max(part, MARGIN), 1 - MARGIN) for part in at))
        self.plotter.renderer.AddViewProp(actor)
        return actor

    def text(self, name: str) -> str:
        return self._texts[name].GetInput() if name in self._texts else ""

    def show(self, name: str, shown: bool) -> None:
        if name in self._texts:
            self._texts[name].SetVisibility(shown)

    def shown(self, name: str) -> bool:
        return name in self._texts and bool(self._texts[name].GetVisibility())
