"""A small plan in characters with the reasons beside it: where each is, among screws and clamps.

The law: seen from above, the operator's side below, every character a place of the board; the worst reason
at a place is the one that shows. Plain letters only, so that it reads anywhere, and no colour is needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from ..parser.finding import Finding
from ..sim.board import board_outline
from ..sim.result import Result
from ..sim.solids import ObstacleSolid
from .layout import Row, clean

WIDE, HIGH = 40, 8  # characters, the frame included
ASPECT = 2.0  # a character is about twice as high as wide; common practice, no published source
SIGNS = "123456789"  # of the reasons on the plan
MARGIN = 0.06  # of the board: what lies beside it
SCREW, CLAMP, OBSTACLE, HOLE = "o", "#", "=", "."


def plan_rows(result: Result, reasons: Sequence[tuple[Finding, str]], more: str = "") -> Iterator[Row]:
    """The plan, and beside it each reason in a line, by its number; the lines alone where none has a place.
    `more` comes last."""
    marks = marked(result, [found for found, _ in reasons])
    number = {id(found): sign for sign, found in marks}
    beside = [f"{number.get(id(found), '-')} {said}" for found, said in reasons]
    drawn = drawing(result, marks) if marks else []
    if drawn:
        words = [meaning(drawn), more]
        beside += [""] * (len(drawn) - 1 - len(beside)) + ["; ".join(filter(None, words))]
    wide = max(map(len, drawn), default=0)
    for row, words in enumerate(beside):
        line = drawn[row] if row < len(drawn) else ""
        yield Row("ALL" if row == 0 else "", f"{line:{wide}}  {clean(words)}".rstrip() if drawn else words,
                  one_line=True)


def marked(result: Result, reasons: Sequence[Finding]) -> list[tuple[str, Finding]]:
    """The reasons that have a place, each with the sign that it gets on the plan."""
    placed = [f for f in reasons if f.at is not None and np.isfinite(f.at[:2]).all()]
    return list(zip(SIGNS, placed, strict=False))


def drawing(result: Result, marks: list[tuple[str, Finding]]) -> list[str]:
    """The board's frame with what stands in and about it, back row first."""
    sheet = Sheet(result)
    for hole in (hole for stage in result.stages for hole in stage.holes):
        sheet.put(hole.at, HOLE)
    for solids in (solids for record in result.records for solids in record.solids):
        for head in solids.heads:
            sheet.put(head.at, SCREW)
        for body in (*solids.obstacles, *solids.clamps):
            sheet.fill(body.footprint.shape, OBSTACLE if isinstance(body, ObstacleSolid) else CLAMP)
    for sign, found in reversed(marks):
        sheet.put((found.at or (0, 0))[:2], sign)
    return sheet.lines()


class Sheet:
    """Characters over the board and a margin about it."""

    def __init__(self, result: Result) -> None:
        x0, y0, x1, y1 = board_outline(result.job).bounds
        margin = MARGIN * max(x1 - x0, y1 - y0)
        self.x0, self.y1 = x0 - margin, y1 + margin
        self.width, self.height = x1 - x0 + 2 * margin, y1 - y0 + 2 * margin
        self.wide = min(WIDE, max(8, round(HIGH * ASPECT * self.width / self.height)))
        self.high = min(HIGH, max(4, round(self.wide * self.height / self.width / ASPECT)))
        self.signs = np.full((self.high, self.wide), " ")
        self._frame(shapely.box(x0, y0, x1, y1))

    def _place(self, x: float, y: float) -> tuple[int, int]:
        row = int((self.y1 - y) / self.height * self.high)
        column = int((x - self.x0) / self.width * self.wide)
        return min(max(row, 0), self.high - 1), min(max(column, 0), self.wide - 1)

    def _frame(self, board: shapely.Polygon) -> None:
        x0, y0, x1, y1 = board.bounds
        (back, left), (front, right) = self._place(x0, y1), self._place(x1, y0)
        self.signs[[back, front], left:right + 1] = "-"
        self.signs[back:front + 1, [left, right]] = "|"
        self.signs[[back, back, front, front], [left, right, left, right]] = "+"

    def put(self, at: tuple[float, ...], sign: str) -> None:
        self.signs[self._place(*at[:2])] = sign

    def fill(self, shape: shapely.geometry.base.BaseGeometry, sign: str) -> None:
        """Every character that a shape covers; at least one."""
        for row, column in np.ndindex(self.signs.shape):
            x = self.x0 + (column + 0.5) / self.wide * self.width
            y = self.y1 - (row + 0.5) / self.high * self.height
            if shape.covers(shapely.Point(x, y)):
                self.signs[row, column] = sign
        self.put(shape.representative_point().coords[0], sign)

    def lines(self) -> list[str]:
        return ["".join(row) for row in self.signs]


def meaning(drawn: list[str]) -> str:
    """What the signs stand for, of those that are there."""
    text = "".join(drawn)
    words = ((SCREW, "screw"), (CLAMP, "clamp"), (OBSTACLE, "obstacle"), (HOLE, "hole"))
    return ", ".join(f"{sign} {word}" for sign, word in words if sign in text)
