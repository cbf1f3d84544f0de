"""A section along a line, drawn in characters: the board's height from one end of the line to the other.

The law: a column stands for a stretch of the line and shows every height in it, from its lowest to its
highest; where the board is not, it is empty. Rows stand at round heights, so that each can be read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, log10
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..parser.units import Units
from .layout import Row

if TYPE_CHECKING:
    from ..sim.sections import Section
    from ..sim.stage_figures import Histogram
    from .section_file import Way

WIDE, TALL = 56, 8  # columns and, at most, rows of the drawing
MARGIN = 11  # columns before it, with the height of each row
STEPS = (1.0, 2.0, 5.0)
FLAT = 1e-6  # of the job's unit: heights that are one
BAR = 40  # columns of the longest bar


def section_rows(way: Way, cut: Section, units: Units) -> Iterator[Row]:
    """Where a line runs (`way` in the job's unit), its lowest and highest place, and the drawing."""
    heights, scale = cut.height[~np.isnan(cut.height)], units.scale
    line = " to ".join(f"X{x:g} Y{y:g}" for x, y in way)
    low, high = (units.text(float(each), "fine") for each in (heights.min(), heights.max()))
    yield Row("ALONG", f"{line}, {units.text(cut.end[-1])} long: Z {low} to {high}")
    for text in drawn(cut, scale):
        yield Row("", text, one_line=True)
    yield Row("", " " * MARGIN + _feet(cut, units), one_line=True)


def drawn(cut: Section, scale: float) -> list[str]:
    """The drawing, highest row first, in the unit that `scale` mm make."""
    low, high = columns_of(cut, WIDE)
    low, high = low / scale, high / scale
    step = step_of(float(np.nanmax(high) - np.nanmin(low)))
    top, bottom = floor(np.nanmax(high) / step + 0.5), floor(np.nanmin(low) / step + 0.5)
    rows = []
    for level in range(top, bottom - 1, -1):
        meets = (np.floor(low / step + 0.5) <= level) & (np.floor(high / step + 0.5) >= level)
        wall = np.floor(low / step + 0.5) < np.floor(high / step + 0.5)
        signs = np.where(meets, np.where(wall, "|", "-"), " ")
        rows.append(f"{level * step:{MARGIN - 2}.{places(step)}f}  {''.join(signs)}".rstrip())
    return rows


def columns_of(cut: Section, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(count,) the lowest and the highest height of each stretch of the line; NaN off the board."""
    edges = np.linspace(0.0, cut.end[-1], count + 1)
    first = np.searchsorted(cut.end, edges[:-1], side="right")
    stop = np.maximum(np.searchsorted(cut.start, edges[1:], side="left"), first + 1)
    low, high = np.full(count, np.nan), np.full(count, np.nan)
    for column, (a, b) in enumerate(zip(first.tolist(), stop.tolist(), strict=True)):
        heights = cut.height[a:b][~np.isnan(cut.height[a:b])]
        if len(heights):
            low[column], high[column] = heights.min(), heights.max()
    return low, high


def step_of(rise: float) -> float:
    """A round height between rows, so that no more than TALL are drawn."""
    if rise <= FLAT:
        return 1e-3
    least = rise / (TALL - 1)
    tens = 10.0 ** floor(log10(least))
    return next(step * tens for step in (*STEPS, 10.0) if step * tens >= least * (1 - 1e-9))


def places(step: float) -> int:
    """Decimals that tell one row from the next."""
    return max(0, ceil(-log10(step) - 1e-9))


def _feet(cut: Section, units: Units) -> str:
    """How far along the line the ends of the drawing are."""
    start, end = units.digits(0.0), units.text(float(cut.end[-1]))
    return start + end.rjust(WIDE - len(start))


def histogram_rows(heights: Histogram, units: Units) -> Iterator[Row]:
    """How much of a face lies at which height: a bar for each height at which some does."""
    whole = sum(heights.areas)
    for number, area in enumerate(heights.areas):
        if area > 0:
            z = heights.lowest + number * heights.step
            ends = units.text(z, "fine") if not heights.step else (
                f"{units.digits(z, 'fine')} to {units.text(z + heights.step, 'fine')}")
            bar = "#" * max(1, round(BAR * area / max(heights.areas)))
            yield Row("", f"{ends:>24} {area / whole:7.2%} {bar}", one_line=True)


def all_sections(ways: Sequence[Way], cuts: Sequence[Section], units: Units) -> list[Row]:
    """One section under the other."""
    both = zip(ways, cuts, strict=True)
    return [row for way, cut in both for row in (Row(), *section_rows(way, cut, units))]
