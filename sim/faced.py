"""A wanted face at its stage's end: what is unfinished, and the heights that were left.

The law: whether a place is finished is asked of plan geometry, exactly; how high it lies is asked of the
map, whose cells within `RIM` of an edge may hold either side's height and are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .chains import passes_below
from .coverage import uncovered
from .doubt import allowed
from .evidence import Evidence, once
from .leftovers import Leftover, leftovers
from .passes import Passes
from .plan import Wanted, disc, joined, wanted_faces, wanted_holes, without
from .tram import tilt_of

RIM = 0.005  # mm


@dataclass(frozen=True)
class Faced:
    """One wanted face of a stage. `region` is its area less recesses and holes, wanted and drilled."""

    evidence: Evidence
    wanted: Wanted
    region: BaseGeometry

    @cached_property
    def passes(self) -> Passes:
        """The passes that finish some of it."""
        return passes_below(self.evidence.motion, self.evidence.cutters, self.wanted.highest,
                            tilt_of(self.evidence.job))

    @cached_property
    def unfinished(self) -> list[Leftover]:
        """The pieces that stay uncut, largest first; what lay too low before the stage is none of them."""
        left = uncovered(self.region, self.passes)
        return leftovers(self._without_low(left), self.wanted.area.boundary, self.passes)

    @cached_property
    def measured(self) -> NDArray[np.bool_]:
        """(ny, nx) the cells whose height says something of the face."""
        return self.evidence.surface.mask(self.region.buffer(-RIM, join_style="mitre"))

    def _without_low(self, left: BaseGeometry) -> BaseGeometry:
        surface, before = self.evidence.surface, self.evidence.cut.before
        low: list[BaseGeometry] = []
        for piece in shapely.get_parts(left):
            rows, columns = surface.window(piece)
            corner = surface.x0 + columns.start * surface.cell, surface.y0 + rows.start * surface.cell
            low += low_cells(*corner, surface.cell, before[rows, columns] < self.wanted.lowest)
        return without(left, joined(low))


def low_cells(x0: float, y0: float, cell: float, low: NDArray[np.bool_]) -> Iterator[BaseGeometry]:
    """The cells that are marked, joined along each row."""
    padded = np.pad(low, ((0, 0), (1, 1))).astype(np.int8)
    row, column = np.nonzero(np.diff(padded, axis=1))
    for j, first, stop in zip(row[::2], column[::2], column[1::2], strict=True):
        yield shapely.box(x0 + first * cell, y0 + j * cell, x0 + stop * cell, y0 + (j + 1) * cell)


@once
def faced(evidence: Evidence) -> tuple[Faced, ...]:
    """The stage's wanted faces, each with what the stage made of it."""
    gone, job = openings(evidence), evidence.job
    known = (replace(wanted, tolerance=allowed(job, wanted.tolerance))
             for wanted in wanted_faces(evidence.stage, evidence.board))
    return tuple(Faced(evidence, wanted, without(wanted.area, gone)) for wanted in known)


@once
def openings(evidence: Evidence) -> BaseGeometry:
    """Where no face is asked for: recesses and holes, wanted and drilled.

    What a stage that wants no holes drills by mistake is no hole.
    """
    found = evidence.found if evidence.stage.holes else ()
    drilled = [disc(hole.at, hole.diameter / 2) for hole in found]
    return joined([evidence.recesses, evidence.drilled, wanted_holes(evidence.job), *drilled])
