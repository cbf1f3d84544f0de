"""Plain lines that follow each other, as columns: what the quick lane reads in place of Blocks.

The law: a row is a line of letters and numbers, exactly as the grammar reads it; `Plain.block` is that line's
Block, read by the grammar. A Stretch stands in a program's list of Blocks for all of its rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .lines import plain_line
from .written import Block


@dataclass(frozen=True, eq=False)
class Plain:
    """n rows with m words. line (n,) int32 from 1 · label (n,) int32: its N, -1 for none · begin (n,) int64:
    the line's first byte in `data` · first (n + 1,) int64: each row's first word · letters (m,) uint8, upper
    case · values (m,) float64 as written."""

    data: bytes
    line: NDArray[np.int32]
    label: NDArray[np.int32]
    begin: NDArray[np.int64]
    first: NDArray[np.int64]
    letters: NDArray[np.uint8]
    values: NDArray[np.float64]

    def bytes_of(self, row: int) -> bytes:
        """A row's line without its end."""
        begin = int(self.begin[row])
        return self.data[begin:line_end(self.data, begin)]

    def block(self, row: int) -> Block:
        """The row as the grammar reads it."""
        read = plain_line(self.bytes_of(row).decode("ascii"))
        assert read is not None  # the scanner takes no other line
        return Block(int(self.line[row]), words=read.words, number=read.number)

    def stretch(self, row: int, stop: int) -> Stretch:
        """Rows `row` to `stop` - 1 as one Block; the first must have words."""
        first = self.block(row)
        return Stretch(first.line, words=first.words, number=first.number, table=self, row=row, stop=stop)


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Stretch(Block):
    """Rows `row` to `stop` - 1 of a table, of which the first has words: they are the Block's own."""

    table: Plain
    row: int
    stop: int

    @property
    def last(self) -> int:
        return int(self.table.line[self.stop - 1])

    def blocks(self) -> list[Block]:
        """Every row as the grammar reads it."""
        return [self.table.block(row) for row in range(self.row, self.stop)]


def line_end(data: bytes, at: int) -> int:
    """Where the line ends that holds byte `at`: its CR or LF, or the end of the text."""
    end = data.find(b"\n", at)
    end = len(data) if end < 0 else end
    before = data.find(b"\r", at, end)
    return end if before < 0 else before
