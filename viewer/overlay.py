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
ROW = 21  # pixels from one colour's meaning to the next
SWATCH = "   "
BESIDE = 0.03  # of the window: from a swatch to its words
MARGIN = 0.016  # of the window


class Overlay:
    """Named texts over a plotter's picture."""

    def __init__(self, plotter: pv.Plotter) -> None:
        self.plotter = plotter
        self._texts: dict[str, vtkTextActor] = {}
        self._rows, self.told = 0, True
        self._key: tuple[str, list, int] = "", [], 0  # what is on the screen

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

    def key(self, heading: str, meanings: list[tuple[paint.Rgb, str]], foot: float, room: float) -> None:
        """What the colours mean, at the left edge: a heading, then a row each of a swatch and its words, the
        last at height `foot` of the window; as many rows as find room."""
        height = self.plotter.window_size[1]
        if (heading, meanings, height) == self._key:
            return
        self._key = heading, meanings, height
        shown = meanings[:int(room * height / ROW)]
        for row in range(max(len(shown), self._rows)):
            color, words = shown[row] if row < len(shown) else (paint.PAPER, "")
            at = foot + (len(shown) - 1 - row) * ROW / height
            self._row(f"swatch {row}", SWATCH, (MARGIN, at), bool(words))
            self._row(f"meaning {row}", words, (MARGIN + BESIDE, at), bool(words))
            look: Any = self._texts[f"swatch {row}"].GetTextProperty()
            look.SetBackgroundColor(*(c / 255 for c in color))
            look.SetBackgroundOpacity(1.0)
            look.SetFrame(True)
            look.SetFrameColor(*(c / 255 for c in paint.INK))
        self._rows = len(shown)
        self._row("heading", heading, (MARGIN, foot + (len(shown) + 0.3) * ROW / height), True)

    def _row(self, name: str, text: str, at: tuple[float, float], shown: bool) -> None:
        self.say(name, text, (0, 0), columns=text == SWATCH)
        self._texts[name].GetPositionCoordinate().SetValue(*at)
        self.show(name, shown and self.told)

    def tell(self, told: bool) -> None:
        """Show the keys and what the colours mean, or hide them."""
        self.told = told
        for name in self._texts:
            if name in ("keys", "heading") or name.startswith(("swatch", "meaning")):
                self.show(name, told)

    def text(self, name: str) -> str:
        return self._texts[name].GetInput() if name in self._texts else ""

    def show(self, name: str, shown: bool) -> None:
        if name in self._texts:
            self._texts[name].SetVisibility(shown)

    def shown(self, name: str) -> bool:
        return name in self._texts and bool(self._texts[name].GetVisibility())
