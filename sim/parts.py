"""The board as pieces side by side: slats with open slots, halves of different stuff, a pallet in one's
place.

The law: a job without parts has one piece, the board. A piece has an outline in plan, a top, a thickness and
a material, each from its part, else from [board]; all pieces lie on one bed, so that of top and thickness
the one that a part leaves out follows from the other. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from ..parser.job import Board, Job, Part, Stage

WHOLE = "the board"

Spot = tuple[float, float]


@dataclass(frozen=True)
class Piece:
    """One piece as it lies on the bed. `part` is the part's name in the job ("" for a board without parts),
    `name` what a message calls it: of a repeated part "slats 3"."""

    name: str
    part: str
    outline: BaseGeometry
    top: float
    thickness: float | None = None
    material: str | None = None

    @property
    def called(self) -> str:
        """In a sentence: "the board", "the part back"."""
        return self.name if self.name == WHOLE else f"the part {self.name}"

    @property
    def underside(self) -> float | None:
        """Z of its lower side, None where its thickness is not known."""
        return None if self.thickness is None else self.top - self.thickness


def pieces_of(job: Job) -> tuple[Piece, ...]:
    """Every piece of the job, on the machine or not, in written order."""
    board = job.board
    if not board.parts:
        return (Piece(WHOLE, "", whole_outline(board), board.top, board.thickness, board.material),)
    return tuple(piece for part in board.parts for piece in _of_part(part, board))


def _of_part(part: Part, board: Board) -> Iterator[Piece]:
    top, thickness = _lying(part, board)
    material = board.material if part.material is None else part.material
    count = part.repeat.count if part.repeat else 1
    for number, outline in enumerate(outlines(part)):
        name = part.name if count == 1 else f"{part.name} {number + 1}"
        yield Piece(name, part.name, outline, top, thickness, material)


def _lying(part: Part, board: Board) -> tuple[float, float | None]:
    """Top and thickness of a part on the board's bed."""
    bed = None if board.thickness is None else board.top - board.thickness
    top, thickness = part.top, part.thickness
    if top is None:
        top = board.top if thickness is None or bed is None else bed + thickness
    if thickness is None and bed is not None:
        thickness = top - bed
    return top, thickness


def outlines(part: Part) -> list[BaseGeometry]:
    """The pieces of a part in plan: `repeat` has `count` of them in all, each a step from the last."""
    first = part_outline(part)
    if part.repeat is None:
        return [first]
    x, y = part.repeat.step
    return [translate(first, number * x, number * y) for number in range(part.repeat.count)]


def part_outline(part: Part) -> BaseGeometry:
    """A part in plan, the first of its pieces."""
    if part.outline is not None:
        return shapely.Polygon(part.outline)
    (x0, x1), (y0, y1) = part.x or (0.0, 0.0), part.y or (0.0, 0.0)
    return shapely.box(x0, y0, x1, y1)


def whole_outline(board: Board) -> BaseGeometry:
    """A board without parts in plan: its outline, else the rectangle of its x and y."""
    if board.outline is not None:
        return shapely.Polygon(board.outline)
    (x0, x1), (y0, y1) = board.x or (0.0, 0.0), board.y or (0.0, 0.0)
    return shapely.box(x0, y0, x1, y1)


def lying(job: Job, stage: Stage) -> tuple[Piece, ...]:
    """The pieces that are on the machine in a stage."""
    every = pieces_of(job)
    return every if stage.parts is None else tuple(p for p in every if p.part in stage.parts)


def piece_at(pieces: Iterable[Piece], at: Spot) -> Piece | None:
    """The piece under a place; of several (one is off while the other lies there) the lowest; None: none."""
    under = [piece for piece in pieces if shapely.intersects_xy(piece.outline, *at)]
    return min(under, key=lambda piece: piece.top, default=None)


def lowest_underside(job: Job) -> float | None:
    """Z that the pieces lie on, None where no thickness is known: what is lowest of all counts."""
    return min((z for piece in pieces_of(job) if (z := piece.underside) is not None), default=None)
