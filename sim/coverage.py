"""Coverage: what of a region no pass covers, exactly.

The law: a box that one pass covers is done, a box that no pass meets is bare, and only the boxes in
between are cut up; the last of them go through exact plan geometry with the few passes that meet them.
So the answer does not depend on the size of a box, nor of a map's cell.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from .footprints import Passes
from .plan import common, joined, without

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEW = 6  # passes in a box that are cheaper to draw than to sort further
SMALL = 8  # a box of this part of a usual reach is cut up no further
QUARTERS = np.array([(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)])


@dataclass(frozen=True)
class Boxes:
    """Square boxes of one size: centre (b, 2), half a side; `box` and `number` (p,) pair each box with
    the passes that may meet it."""

    centre: Floats
    half: float
    box: Ints
    number: Ints

    @property
    def count(self) -> Ints:
        """(b,) passes in each box."""
        return np.bincount(self.box, minlength=len(self.centre))

    def only(self, chosen: NDArray[np.bool_]) -> Boxes:
        """The chosen boxes and their pairs."""
        renumbered = np.cumsum(chosen) - 1
        kept = chosen[self.box]
        return Boxes(self.centre[chosen], self.half, renumbered[self.box[kept]], self.number[kept])

    def quartered(self) -> Boxes:
        """Each box as four, each with the passes of the whole."""
        centre = (self.centre[:, None] + self.half * QUARTERS).reshape(-1, 2)
        box = (4 * self.box[:, None] + np.arange(4)).ravel()
        return Boxes(centre, self.half / 2, box, np.repeat(self.number, 4))

    def shapes(self) -> NDArray[np.object_]:
        """(b,) the boxes as polygons."""
        low, high = self.centre - self.half, self.centre + self.half
        return shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])


def uncovered(region: BaseGeometry, passes: Passes) -> BaseGeometry:
    """What of the region no pass covers, in plan, mm."""
    if region.is_empty:
        return region
    left = list(_bare(region, passes))
    return without(common(region, joined(left)), joined(stamp for stamp, _ in passes.stamps))


def _bare(region: BaseGeometry, passes: Passes) -> Iterator[BaseGeometry]:
    """Parts of boxes that no pass covers, from the largest boxes to the smallest."""
    reach = passes.reach
    small = float(np.median(reach[:, 1])) / SMALL if len(passes) else np.inf
    shapely.prepare(region)
    boxes = _first_box(region, passes)
    while len(boxes.centre):
        boxes = _open_boxes(boxes, passes, reach)
        boxes = boxes.only(shapely.intersects(region, boxes.shapes()))
        count = boxes.count
        yield from boxes.only(count == 0).shapes()
        last = (count > 0) & ((count <= FEW) | (boxes.half <= small))
        yield from _drawn(boxes.only(last), passes)
        boxes = boxes.only((count > 0) & ~last).quartered()


def _first_box(region: BaseGeometry, passes: Passes) -> Boxes:
    """The whole region in one box; its side is a power of two, so that halves of it are exact."""
    x0, y0, x1, y1 = region.bounds
    half = float(2.0 ** np.ceil(np.log2(max(x1 - x0, y1 - y0, 1e-6) / 2 + 1.0)))
    centre = np.round([[(x0 + x1) / 2, (y0 + y1) / 2]])
    return Boxes(centre, half, np.zeros(len(passes), np.int64), np.arange(len(passes)))


def _open_boxes(boxes: Boxes, passes: Passes, reach: Floats) -> Boxes:
    """The boxes that no single pass covers, paired with the passes that meet them."""
    distance = passes.distance(boxes.centre[boxes.box], boxes.number)
    corner = boxes.half * np.sqrt(2)
    least, most = reach[boxes.number].T
    done = np.zeros(len(boxes.centre), bool)
    done[boxes.box[distance + corner <= least]] = True
    meets = distance - corner < most
    return Boxes(boxes.centre, boxes.half, boxes.box[meets], boxes.number[meets]).only(~done)


def _drawn(boxes: Boxes, passes: Passes) -> Iterator[BaseGeometry]:
    """What is left of boxes after their passes' footprints are drawn in them."""
    order = np.argsort(boxes.box, kind="stable")
    groups = np.split(boxes.number[order], np.cumsum(boxes.count)[:-1]) if len(boxes.centre) else []
    for shape, numbers in zip(boxes.shapes(), groups, strict=True):
        drawn = joined(passes.outlines(np.sort(numbers), shape.bounds))
        left = without(shape, drawn)
        if not left.is_empty:
            yield left
