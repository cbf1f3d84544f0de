"""Screws as they are fitted: a group's heads in the board as it is then.

The law: what cannot be fitted as the job says is an error of the job, told at its key.
"""

from __future__ import annotations

from ..parser.job import Job
from ..parser.mistakes import JobError, mistake_in
from .hardware import HardwareUnknown, head_of, washer_of
from .solids import HeadSolid, heads_of
from .surface import Surface

KNOWN = {"fasteners.*.screw": head_of, "fasteners.*.washer": washer_of}  # for read_job: names in the tables


def fitted_heads(job: Job, group: str, surface: Surface) -> tuple[HeadSolid, ...]:
    """The heads of a group, fitted into `surface`. Raises JobError."""
    number, fastener = next((n, f) for n, f in enumerate(job.fasteners) if f.name == group)
    try:
        return heads_of(fastener, surface, near=job.board.keep_over_heads)
    except HardwareUnknown as bad:
        raise _unknown(job, number, str(bad)) from None
    except ValueError as bad:
        found, _, accepted = str(bad).partition(": ")
        raise mistake_in(job, ("fasteners", number, "seat"), found, accepted) from None


def _unknown(job: Job, number: int, complaint: str) -> JobError:
    fastener = job.fasteners[number]
    key = "screw" if fastener.screw and repr(fastener.screw) in complaint else "washer"
    found, _, accepted = complaint.partition("; ")
    return mistake_in(job, ("fasteners", number, key), found, accepted)


def seated_on_the_cut(job: Job, group: str) -> bool:
    """Whether a group's height hangs on the surface as it is when its screws are fitted."""
    fastener = next(f for f in job.fasteners if f.name == group)
    return not isinstance(fastener.seat, int | float) or bool(fastener.measured)
