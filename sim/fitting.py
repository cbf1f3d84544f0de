"""Screws as they are fitted: a group's heads in the board as it is then.

The law: what cannot be fitted as the job says is an error of the job, told at its key.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..parser.job import Fastener, Job
from ..parser.mistakes import mistake_in
from .board import piece_of
from .hardware import HardwareUnknown, head_of, washer_of
from .parts import Piece, Spot, pieces_of
from .seating import heads_of
from .solids import HeadSolid
from .surface import Surface

KNOWN = {"fasteners.*.screw": head_of, "fasteners.*.washer": washer_of}  # for read_job: names in the tables


def check_names(job: Job) -> None:
    """Raises JobError, at its key, for a screw or washer that no table has (a job can be read unchecked)."""
    for number, fastener in enumerate(job.fasteners):
        for key, look_up in (("screw", head_of), ("washer", washer_of)):
            name = getattr(fastener, key)
            try:
                _ = name is not None and look_up(name)
            except HardwareUnknown as bad:
                found, _, accepted = str(bad).partition("; ")
                raise mistake_in(job, ("fasteners", number, key), found, accepted) from None


def fitted_heads(job: Job, group: str, surface: Surface, pieces: Sequence[Piece] | None = None
                 ) -> tuple[HeadSolid, ...]:
    """The heads of a group, fitted into `surface`, where `pieces` lie (None: all of the job). Raises
    JobError."""
    number, fastener = next((n, f) for n, f in enumerate(job.fasteners) if f.name == group)
    check_names(job)
    try:
        return heads_of(fastener, surface, near=job.board.keep_over_heads,
                        stands=lambda at: stands(job, fastener, at, pieces))
    except ValueError as bad:
        found, _, accepted = str(bad).partition(": ")
        raise mistake_in(job, ("fasteners", number, "seat"), found, accepted) from None


def stands(job: Job, fastener: Fastener, at: Spot, pieces: Sequence[Piece] | None) -> bool:
    """Whether a screw can be there: not where the piece that it goes through is off the machine."""
    if pieces is None or not job.board.parts or piece_of(job, fastener, at, pieces) is not None:
        return True
    return piece_of(job, fastener, at, pieces_of(job)) is None


def seated_on_the_cut(job: Job, group: str) -> bool:
    """Whether a group's height hangs on the surface as it is when its screws are fitted."""
    fastener = next(f for f in job.fasteners if f.name == group)
    return not isinstance(fastener.seat, int | float) or bool(fastener.measured)
