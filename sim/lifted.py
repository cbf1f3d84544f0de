"""Pieces of the board that come and go between stages, on one height map.

The law: a piece keeps its cells, and which move cut each, while it is off the machine; where no piece lies
the map has no board. Between stages only: while a program runs the pieces lie still.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..parser.job import Job
from .board import piece_of
from .laid import carve_recesses
from .parts import Piece, lying, pieces_of
from .solids import spots
from .surface import Surface

Cells = tuple[NDArray[np.float32], NDArray[np.int32]]


@dataclass
class Store:
    """The cells of the pieces that are off the machine (heights and last moves), by the piece's name."""

    surface: Surface
    pieces: Sequence[Piece]
    on: set[str] = field(default_factory=set)
    off: dict[str, Cells] = field(default_factory=dict)
    masks: dict[str, NDArray[np.bool_]] = field(default_factory=dict)

    @classmethod
    def of_board(cls, job: Job, surface: Surface) -> Store:
        """All pieces off the machine, as they are before anything turns, in a surface that holds the
        board."""
        store = cls(surface, pieces_of(job))
        if not job.board.parts:
            store.on.add(store.pieces[0].name)
            return store
        board, typed = surface.heights.copy(), own_tops(job)
        for piece in store.pieces:
            mask = store._mask(piece)
            surface.heights[mask] = piece.top if piece.name in typed else board[mask]
            carve_recesses(surface, job, [piece])
            store.off[piece.name] = surface.heights[mask], surface.last[mask]
        surface.heights[:] = np.nan
        return store

    def lay(self, wanted: Sequence[Piece]) -> None:
        """Take off every piece that is not wanted, then put on those that are and do not lie there."""
        names = {piece.name for piece in wanted}
        for piece in self.pieces:
            if piece.name in self.on - names:
                self._take(piece)
        for piece in self.pieces:
            if piece.name in names - self.on:
                self._put(piece)

    def _take(self, piece: Piece) -> None:
        mask = self._mask(piece)
        self.off[piece.name] = self.surface.heights[mask], self.surface.last[mask]
        self.surface.heights[mask], self.surface.last[mask] = np.nan, -1
        self.on.discard(piece.name)

    def _put(self, piece: Piece) -> None:
        mask = self._mask(piece)
        self.surface.heights[mask], self.surface.last[mask] = self.off.pop(piece.name)
        self.on.add(piece.name)

    def _mask(self, piece: Piece) -> NDArray[np.bool_]:
        if piece.name not in self.masks:
            self.masks[piece.name] = self.surface.mask(piece.outline)
        return self.masks[piece.name]

    def whole(self) -> Surface:
        """The surface with every piece that finds its place free, for a later job to start from."""
        kept = self.surface.copy()
        for piece in self.pieces:
            mask = self._mask(piece)
            if piece.name in self.off and np.isnan(kept.heights[mask]).all():
                kept.heights[mask], kept.last[mask] = self.off[piece.name]
        return kept


def own_tops(job: Job) -> set[str]:
    """The pieces whose top is their part's own, not what the board was measured or left at: a saved surface
    holds for all that lie on the machine when the job starts."""
    typed = {part.name for part in job.board.parts if part.top is not None or part.thickness is not None}
    saved = job.board.surface is not None
    held = {piece.name for piece in lying(job, job.stages[0])} if saved else set()
    return {piece.name for piece in pieces_of(job) if piece.part in typed and piece.name not in held}


def untouched(job: Job) -> Iterator[tuple[str, float]]:
    """("edge screws 2", Z of the virtual face over it before anything was cut) of every screw."""
    for screws in job.fasteners:
        for number, (at, _) in enumerate(spots(screws.at, screws.grid), 1):
            first = piece_of(job, screws, at, lying(job, job.stages[0]))
            piece = first or piece_of(job, screws, at, pieces_of(job))
            yield f"{screws.name} {number}", job.board.top if piece is None else piece.top
