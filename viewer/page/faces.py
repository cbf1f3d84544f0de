"""How each wanted face lies and which moves ask most: the page's words and bars for them.

The law: every number is the Result's, in the job's unit; bars are drawn to one scale and nothing is smoothed.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isfinite
from typing import Any

from ...parser.units import Units
from ...sim.result import Result
from ...sim.stage_figures import FaceFigures, Histogram, StageFigures
from ..layout import clean
from .tables import Cells, Place

WIDE, TALL = 720.0, 150.0  # of a histogram's drawing
LOWEST_BAR = 1.5  # a bar that is there is at least so high
ASKED = {  # a column of the effort: what it is called, its dimension, what stands behind it
    "volume": ("Most taken off in one move", "volume", ""),
    "depth": ("Deepest cut", "length", ""),
    "mean_depth": ("Deepest on the mean of a move", "length", ""),
    "width": ("Widest cut", "length", ""),
    "contact": ("Longest in the material, of a turn", "angle", ""),
    "entry": ("Steepest way down", "angle", ""),
    "rate": ("Most taken off in a time", "volume", " a minute"),
    "power": ("Most power", "power", ""),
}


def faces_of(result: Result) -> list[dict[str, Any]]:
    """Each stage's face: its stage, rows of (what, how much), and the bars of its heights."""
    return [{"stage": clean(each.name), "rows": list(rows(each.face, result.job.units)),
             "bars": bars(each.face.histogram, result.job.units)}
            for each in result.stages if each.face is not None]


def rows(face: FaceFigures, units: Units) -> Iterator[tuple[str, str]]:
    """What was measured of a face, the areas first."""
    for name, area in (("area", face.area), ("left uncut", face.missed_area), ("too deep", face.over_area)):
        yield name, units.text(area, "area")
    if face.highest is not None and face.lowest is not None:
        yield "highest and lowest place", f"Z{units.digits(face.highest)}, Z{units.digits(face.lowest)}"
        yield "between them", units.text(face.highest - face.lowest, "fine")
    if face.band is not None:
        yield "95% of it lies within", units.text(face.band, "fine")
    for level in face.levels:
        yield f"at Z{units.digits(level.z)}", units.text(level.area, "area")
    if face.ridge is not None:
        yield from ridge_rows(face, units)
    elif face.ridge_height is not None and isfinite(face.ridge_height):
        yield "ridges", units.text(face.ridge_height, "fine")


def ridge_rows(face: FaceFigures, units: Units) -> Iterator[tuple[str, str]]:
    """The highest ridge: its height, its passes, their way."""
    ridge = face.ridge
    if ridge is None:
        return
    way = "" if ridge.direction is None else f", {units.text(ridge.direction, 'angle')} from X"
    height, (first, second) = units.text(ridge.height, "fine"), ridge.lines
    yield "highest ridge", (f"{height} between the passes of lines {first} and {second}, "
                            f"{units.text(ridge.spacing)} apart{way}")


def bars(heights: Histogram | None, units: Units) -> dict[str, Any] | None:
    """A histogram as rectangles (x, y, width, height, what it says) in a box of WIDE by TALL, higher areas
    taller by their square root so that a small one is still seen; and the heights at its two ends."""
    if heights is None or not any(heights.areas):
        return None
    most, wide = max(heights.areas) ** 0.5, WIDE / len(heights.areas)
    made = []
    for number, area in enumerate(heights.areas):
        z = heights.lowest + number * heights.step
        tall = max(LOWEST_BAR, TALL * area ** 0.5 / most) if area > 0 else 0.0
        said = f"Z{units.digits(z)} to Z{units.digits(z + heights.step)}: {units.text(area, 'area')}"
        made.append((number * wide, TALL - tall, max(wide - 1, 0.5), tall, said))
    highest = heights.lowest + len(heights.areas) * heights.step
    return {"width": WIDE, "height": TALL, "bars": made,
            "ends": (f"Z{units.digits(heights.lowest)}", f"Z{units.text(highest)}")}


def asked(result: Result) -> Iterator[Cells]:
    """(stage, what, how much, where) of the move that asks most in each respect."""
    for stage in result.stages:
        yield from asked_in(stage, result.job.units)


def asked_in(stage: StageFigures, units: Units) -> Iterator[Cells]:
    for most in stage.hardest:
        name, dimension, behind = ASKED.get(most.what, (most.what.replace("_", " "), "length", ""))
        place = Place(clean(f"{stage.program} {most.line}"), f"{most.at[0]:.4f},{most.at[1]:.4f}")
        yield clean(stage.name), name, units.text(most.value, dimension) + behind, place
