"""The board as it lies on the bed before anything turns: its outline in plan and the recesses in it.

The law: plan only; heights are the surface's. With a stage, what is on the machine in it counts. Millimetres,
board frame.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from shapely.geometry.base import BaseGeometry

from ..parser.job import Fastener, Job, Stage
from .parts import Piece, Spot, lying, piece_at, pieces_of
from .plan import discs, joined
from .solids import spots


def board_outline(job: Job, stage: Stage | None = None) -> BaseGeometry:
    """The board in plan with all its parts; with a stage, those that are on the machine in it."""
    return outline_of(pieces_of(job) if stage is None else lying(job, stage))


def outline_of(pieces: Sequence[Piece]) -> BaseGeometry:
    """Pieces in plan as one region."""
    return pieces[0].outline if len(pieces) == 1 else joined(piece.outline for piece in pieces)


def piece_of(job: Job, fastener: Fastener, at: Spot, pieces: Iterable[Piece]) -> Piece | None:
    """The piece that a screw at a place goes through: of its group's part, where that is said."""
    mine = [piece for piece in pieces if fastener.part in (None, piece.part)]
    return piece_at(mine, at)


def recesses(job: Job, pieces: Sequence[Piece]) -> Iterator[tuple[Piece, BaseGeometry, float]]:
    """(piece, region in plan, Z of the floor) of the recesses that are there when the job starts."""
    for fastener in job.fasteners:
        recess = fastener.recess
        if recess is None or recess.diameter is None or recess.depth is None:
            continue
        for piece in pieces:
            places = recess_places(job, fastener, [piece])
            if places:
                yield piece, discs(places, recess.diameter / 2), piece.top - recess.depth


def recess_places(job: Job, fastener: Fastener, pieces: Sequence[Piece]) -> list[Spot]:
    """Where a group has its recesses, as far as they lie in given pieces."""
    places = [at for at, _ in spots(fastener.at, fastener.grid)]
    if not job.board.parts:
        return places
    return [at for at in places if piece_of(job, fastener, at, pieces) is not None]


def all_recesses(job: Job, stage: Stage | None = None) -> BaseGeometry:
    """Every recess in plan, whoever cuts it; with a stage, those in pieces that are on the machine in it."""
    pieces = pieces_of(job) if stage is None else lying(job, stage)
    return joined(discs(recess_places(job, f, pieces), f.recess.diameter / 2) for f in job.fasteners
                  if f.recess is not None and f.recess.diameter is not None)
