"""The words on a picture: the verdict, what the flags mean, what the colours mean.

The law: the words are the Result's; nothing is said here that the terminal does not say.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
import pyvista as pv
from vtkmodules.vtkRenderingCore import vtkActor2D, vtkPolyDataMapper2D, vtkTextActor

from ..parser.finding import Severity
from ..parser.motion import Move
from . import relief as paint
from .scene import Mark, Relief, Scene
from .terminal import VERDICTS

LINES = 6
COLOURS = 400  # units: how wide the meanings of the colours are


def add_words(plotter: pv.Plotter, scene: Scene, colouring: str = "wanted") -> None:
    """Verdict and title at the top left, what the flags mean at the bottom left, colours at the right."""
    width, height = plotter.window_size
    unit = unit_of(width, height)
    _text(plotter, VERDICTS[scene.verdict], 36 * unit, height - 74 * unit, 44 * unit, bold=True)
    _text(plotter, shortened(scene.title, 70), 36 * unit, height - 112 * unit, 22 * unit)
    marks = scene.marks[:LINES]
    for number, mark in enumerate(marks, 1):
        color = paint.STRUCK if mark.severity is Severity.STOP else paint.INK
        at = (len(marks) - number) * 29 * unit + 22 * unit
        _text(plotter, flag_line(number, mark), 36 * unit, at, 19 * unit, color=color)
    add_colours(plotter, swatches(scene, colouring), width - COLOURS * unit, height - 60 * unit, unit)


def unit_of(width: int, height: int) -> float:
    """What the words are measured in: pixels for each thousandth of a usual picture's height."""
    return min(height / 1000, width / 1600)


def free_of_words(size: tuple[int, int], marks: int) -> tuple[float, float, float, float]:
    """Left, right, low and high, from -1 to 1, of what the words leave of a picture. In an upright one the
    board lies under the meanings of the colours, else beside them."""
    (width, height), unit = size, unit_of(*size)
    low = -1 + 2 * (40 + 29 * min(marks, LINES)) * unit / height
    if height > width:
        return -0.94, 0.94, low, 1 - 2 * 360 * unit / height
    return -0.95, 1 - 2 * (COLOURS + 20) * unit / width, low, 1 - 2 * 130 * unit / height


def flag_line(number: int, mark: Mark) -> str:
    """ "1  face.nc 117: …" in one line."""
    line = f" line {mark.line}" if mark.line else ""
    return shortened(f"{number}   {mark.program}{line}: {mark.message}", 120)


def add_colours(plotter: pv.Plotter, meanings: list[tuple[paint.Rgb, str]], x: float, y: float,
                unit: float) -> None:
    """A swatch and a word for each colour that means something in this picture."""
    for row, (color, words) in enumerate(meanings):
        below = y - row * 32 * unit
        _swatch(plotter, color, x, below, 22 * unit)
        _text(plotter, words, x + 34 * unit, below + 1 * unit, 19 * unit)


def swatches(scene: Scene, colouring: str = "wanted") -> list[tuple[paint.Rgb, str]]:
    """Colour and meaning, only of what the picture holds."""
    surface = of_wanted(scene) if colouring == "wanted" else of_other(scene, colouring)
    found = [*surface,
             (paint.SCREW, "screw, with its smallest gap", bool(scene.bodies.heads)),
             (paint.CLAMP, clamp_words(scene), bool(scene.bodies.clamps)),
             (paint.RIDGE, f"ridges between passes, to {ridge_text(scene)}", len(scene.ridges.height) > 0),
             (paint.FAINT, "thin lines: rapids", bool((scene.path.kind == Move.RAPID).any())),
             (paint.STRUCK, "the cutter meets it",
              any(body.struck for body in (*scene.bodies.heads, *scene.bodies.clamps)))]
    return [(color, words) for color, words, there in found if there]


def of_other(scene: Scene, colouring: str) -> list[tuple[paint.Rgb, str, bool]]:
    """The surface's colours where they do not tell its distance from the wanted face."""
    if colouring == "height":
        low, high = paint.height_span(scene.relief)
        return [(paint.HIGH, f"Z {scene.units.text(high)} and higher", True),
                (paint.LOW, f"Z {scene.units.text(low)} and lower", True)]
    return [(paint.TINTS[1], f"cut last: one tint a {colouring}", True),
            (paint.PLAIN, "not cut", True)]


def of_wanted(scene: Scene) -> list[tuple[paint.Rgb, str, bool]]:
    """The surface's colours as distance from the wanted face."""
    relief, units = scene.relief, scene.units
    uncut, deep = (units.text(_most(relief, side)) for side in (1, -1))
    at_size = f"cut to size (within {units.text(relief.tolerance)})"
    return [(paint.AT_SIZE, at_size, bool((~np.isnan(relief.off)).any())),
            (_strongest(relief, 1), f"left uncut, up to {uncut}", bool(relief.missed.any())),
            (_strongest(relief, -1), f"too low, up to {deep}", bool(relief.too_deep.any()))]


def ridge_text(scene: Scene) -> str:
    """How high the highest ridge is."""
    return scene.units.text(scene.ridges.highest, "fine")


def clamp_words(scene: Scene) -> str:
    """Clamps and obstacles have one colour; a clamp that is gone by the end is pale."""
    clamps = [clamp for clamp in scene.bodies.clamps if not clamp.fixed]
    words = ["obstacle"] if len(clamps) < len(scene.bodies.clamps) else []
    if clamps:
        words.insert(0, "clamp" if all(c.stays for c in clamps) else "clamp (pale: off by the end)")
    return ", ".join(words)


def _most(relief: Relief, sign: int) -> float:
    """How far the surface lies above (+1) or below (-1) the wanted face at most, mm."""
    return max(0.0, float(np.nanmax(sign * relief.off))) if not np.isnan(relief.off).all() else 0.0


def _strongest(relief: Relief, sign: int) -> paint.Rgb:
    """The strongest colour of that side which the picture really has."""
    low, high = (paint.LEFT_LOW, paint.LEFT_HIGH) if sign > 0 else (paint.DEEP_LOW, paint.DEEP_HIGH)
    beyond = np.array([_most(relief, sign) - relief.tolerance])
    red, green, blue = paint.ramp(beyond, low, high)[0].round()
    return int(red), int(green), int(blue)


def shortened(text: str, most: int) -> str:
    return textwrap.shorten(text, most, placeholder="…")


def text_actor(text: str, size: float, color: paint.Rgb, *, bold: bool = False,
               behind: paint.Rgb | None = None) -> vtkTextActor:
    """A text in pixels of height; `behind` is the colour of a plate under it."""
    actor = vtkTextActor()
    actor.SetInput(text)
    prop = actor.GetTextProperty()
    prop.SetFontFamilyToArial()
    prop.SetFontSize(round(size))
    prop.SetColor(*(c / 255 for c in color))
    prop.SetBold(bold)
    if behind is not None:
        prop.SetBackgroundColor(*(c / 255 for c in behind))
        prop.SetBackgroundOpacity(1.0)
    return actor


def label_at(text: str, at: Sequence[float], size: float, color: paint.Rgb,
             behind: paint.Rgb | None = None) -> vtkTextActor:
    """A text that stands with its middle over a place of the board frame."""
    actor = text_actor(text, size, color, bold=True, behind=behind)
    actor.GetTextProperty().SetJustificationToCentered()
    actor.GetTextProperty().SetVerticalJustificationToCentered()
    actor.GetPositionCoordinate().SetCoordinateSystemToWorld()
    actor.GetPositionCoordinate().SetValue(*map(float, at))
    return actor


def _text(plotter: pv.Plotter, text: str, x: float, y: float, size: float, *, bold: bool = False,
          color: paint.Rgb = paint.INK) -> None:
    actor = text_actor(text, size, color, bold=bold)
    actor.SetPosition(x, y)
    plotter.renderer.AddViewProp(actor)


def _swatch(plotter: pv.Plotter, color: paint.Rgb, x: float, y: float, side: float) -> None:
    square = pv.Rectangle([(x, y, 0), (x + side, y, 0), (x + side, y + side, 0)])
    mapper = vtkPolyDataMapper2D()
    mapper.SetInputData(square)
    actor = vtkActor2D()
    actor.SetMapper(mapper)
    actor.GetProperty().SetColor(*(c / 255 for c in color))
    plotter.renderer.AddViewProp(actor)
