"""Moves as columns, and columns that grow: where rows are gathered until a Motion is made of them.

The law: columns grow in place, so that long programs are held once and no more.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FIRST_ROOM, MOST_ROOM = 64, 1 << 20  # rows
COLUMNS = ((np.int32, 0), (np.uint8, 0), (np.float64, 3), (np.float64, 3), (np.float64, 0), (np.int32, 0),
           (np.int32, 0), (np.bool_, 0))  # of Columns: type, numbers in a row (0: one, by itself)


class Columns(NamedTuple):
    """Moves as the columns of a Motion."""

    line: NDArray[np.int32]
    kind: NDArray[np.uint8]
    start: Floats
    end: Floats
    feed: Floats
    state: NDArray[np.int32]
    arc: NDArray[np.int32]
    cycle: NDArray[np.bool_]

    @classmethod
    def of(cls, rows: Sequence[tuple]) -> Columns:
        """From one tuple for each move."""
        table = np.array(rows, dtype=np.float64).reshape(len(rows), 12)
        return cls(
            table[:, 0].astype(np.int32), table[:, 1].astype(np.uint8), table[:, 2:5],
            table[:, 5:8], table[:, 8], table[:, 9].astype(np.int32),
            table[:, 10].astype(np.int32), table[:, 11].astype(np.bool_))

    def rows(self) -> list[tuple]:
        """One tuple for each move."""
        return [*map(tuple, np.column_stack(self).tolist())]


class Growing:
    """Columns of one length, of the types and widths given."""

    def __init__(self, kinds: Iterable[tuple[Any, int]]) -> None:
        self.columns = [np.empty((0, width) if width else 0, kind) for kind, width in kinds]
        self.rows = 0
        self.handed = False  # others hold the arrays: they are no longer ours to move

    def add(self, parts: Sequence[NDArray]) -> None:
        """Rows more, column by column."""
        rows = self.rows + len(parts[0])
        if rows > len(self.columns[0]) or self.handed:
            self._grow(rows)
        for column, part in zip(self.columns, parts, strict=True):
            column[self.rows:rows] = part
        self.rows = rows

    def _grow(self, rows: int) -> None:
        room = rows + min(max(rows, FIRST_ROOM), MOST_ROOM)
        if self.handed:
            self.columns, self.handed = [column.copy() for column in self.columns], False
        for column in self.columns:
            column.resize((room, *column.shape[1:]), refcheck=False)

    def whole(self) -> list[NDArray]:
        """The columns, as long as there are rows."""
        if not self.handed:
            for column in self.columns:
                column.resize((self.rows, *column.shape[1:]), refcheck=False)
            self.handed = True
        return self.columns
