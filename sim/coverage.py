"""Coverage: what of a region no pass covers, exactly.

The law: a box that one pass covers is done, a box that no pass meets is bare, and others are quartered.
Where small boxes stay open, the largest box around them that few paths meet goes through exact plan
geometry. So the answer does not depend on the size of a box, nor of a map's cell.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .bands import usable_cores
from .footprints import outlines
from .passes import Passes
from .plan import GRID, common, joined, without

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW = 6  # paths in a box that are cheap to draw at once
SMALL = 8  # a box of this part of a usual reach is quartered no further
EDGE = 2.0**-10  # mm: the first box ends on a multiple of it, so that halves and sums are exact
QUARTERS = np.array([(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)])


@dataclass(frozen=True)
class Boxes:
    """Boxes of one size: centre (b, 2), half their sides (2,); `box` and `number` (p,) pair each box with
    the passes that may meet it; `around` (b,) is the box that is drawn when this one stays open, -1: none."""

    centre: Floats
    half: Floats
    box: Ints
    number: Ints
    around: Ints

    def __len__(self) -> int:
        return len(self.centre)

    @property
    def count(self) -> Ints:
        """(b,) passes in each box."""
        return np.bincount(self.box, minlength=len(self))

    def only(self, chosen: NDArray[np.bool_]) -> Boxes:
        """The chosen boxes and their pairs."""
        renumbered = np.cumsum(chosen) - 1
        kept = chosen[self.box]
        return Boxes(self.centre[chosen], self.half, renumbered[self.box[kept]], self.number[kept],
                     self.around[chosen])

    def quartered(self) -> Boxes:
        """Each box as four, each with the passes of the whole."""
        centre = (self.centre[:, None] + self.half * QUARTERS).reshape(-1, 2)
        box = (4 * self.box[:, None] + np.arange(4)).ravel()
        return Boxes(centre, self.half / 2, box, np.repeat(self.number, 4), np.repeat(self.around, 4))

    def shapes(self) -> NDArray[np.object_]:
        """(b,) the boxes as polygons."""
        low, high = self.centre - self.half, self.centre + self.half
        return shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])

    def paths(self, passes: Passes) -> Ints:
        """(b,) paths in each box: passes that go on gently into the next are one."""
        key = np.sort(self.box * (len(passes) + 1) + self.number)
        box, number = np.divmod(key, len(passes) + 1)
        goes_on = np.append(False, np.diff(key) == 1) & passes.goes_on[number - 1]
        return np.bincount(box[~goes_on], minlength=len(self))


def uncovered(region: BaseGeometry, passes: Passes) -> BaseGeometry:
    """What of the region no pass covers, in plan, mm."""
    if region.is_empty:
        return region
    left = list(Sieve(region, passes).left())
    return without(common(region, joined(left)), joined(stamp.shape for stamp in passes.stamps))


class Sieve:
    """A region being sorted into boxes; `drawings` are the boxes to draw if something in them stays open."""

    def __init__(self, region: BaseGeometry, passes: Passes) -> None:
        self.region, self.passes, self.reach = region, passes, passes.reach
        self.small = float(np.median(self.reach[:, 1])) / SMALL if len(passes) else np.inf
        self.drawings: list[tuple[BaseGeometry, Ints]] = []
        self.wanted: set[int] = set()
        shapely.prepare(region)

    def left(self) -> Iterator[BaseGeometry]:
        """Parts of boxes that no pass covers; what of them lies outside the region does not matter."""
        boxes = self._first()
        while len(boxes):
            boxes = self._open(boxes)
            boxes = boxes.only(shapely.intersects(self.region, boxes.shapes()))
            boxes = self._marked(boxes)
            bare, last = boxes.count == 0, boxes.half.max() <= self.small
            yield from boxes.only(bare & (boxes.around < 0)).shapes()
            self.wanted |= set(boxes.around[(bare | last) & (boxes.around >= 0)].tolist())
            done = np.isin(boxes.around, list(self.wanted)) | bare
            boxes = boxes.only(~done).quartered()
        with ThreadPoolExecutor(usable_cores()) as pool:  # plan geometry lets other threads run meanwhile
            for each in pool.map(lambda number: self._drawn(*self.drawings[number]), sorted(self.wanted)):
                yield from each

    def _first(self) -> Boxes:
        """The whole region in one box."""
        x0, y0, x1, y1 = self.region.bounds
        low, high = np.floor(np.array((x0, y0)) / EDGE) * EDGE, np.ceil(np.array((x1, y1)) / EDGE) * EDGE
        number = np.arange(len(self.passes))
        return Boxes((low + high)[None] / 2, (high - low) / 2, np.zeros_like(number), number, np.array([-1]))

    def _open(self, boxes: Boxes) -> Boxes:
        """The boxes that no single pass covers, paired with the passes that meet them."""
        distance = self.passes.distance(boxes.centre[boxes.box], boxes.number)
        corner = float(np.hypot(*boxes.half))
        least, most = self.reach[boxes.number].T
        done = np.zeros(len(boxes), bool)
        done[boxes.box[distance + corner <= least]] = True
        meets = distance - corner < most
        met = Boxes(boxes.centre, boxes.half, boxes.box[meets], boxes.number[meets], boxes.around)
        return met.only(~done)

    def _marked(self, boxes: Boxes) -> Boxes:
        """Boxes that are simple enough to be drawn, or as small as they get, become drawings."""
        enough = (boxes.paths(self.passes) <= FEW) | (boxes.half.max() <= self.small)
        simple = np.flatnonzero(enough & (boxes.around < 0) & (boxes.count > 0))
        numbers = np.split(boxes.number[np.argsort(boxes.box, kind="stable")], np.cumsum(boxes.count)[:-1])
        around = boxes.around.copy()
        around[simple] = len(self.drawings) + np.arange(len(simple))
        self.drawings += zip(boxes.shapes()[simple], (numbers[box] for box in simple), strict=True)
        return Boxes(boxes.centre, boxes.half, boxes.box, boxes.number, around)

    def _drawn(self, shape: BaseGeometry, numbers: Ints) -> list[BaseGeometry]:
        """What is left of a box after its passes' footprints are drawn in it."""
        footprints = outlines(self.passes, np.sort(numbers), shape.bounds)
        left = without(shape, shapely.union_all(footprints, grid_size=GRID))
        return [] if left.is_empty else [left]
