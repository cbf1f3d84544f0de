"""What is not known exactly: bodies as they may stand at the worst.

The law: uncertainty changes bodies, not numbers. A head's radius grows by `head_xy`, its top rises by
`head_z`, `z_zero` and the group's `lift`; bed, clamps and obstacles rise by `z_zero`. What a body is without
its doubt stays known (`HeadSolid.nominal`). Millimetres, board frame.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from ..parser.job import Job, Uncertainty
from .solids import BedSolid, ClampSolid, HeadSolid, ObstacleSolid, Solids

Still = TypeVar("Still", ClampSolid, ObstacleSolid, BedSolid)
NONE = Uncertainty()


def doubtful(solids: Solids, job: Job) -> Solids:
    """The same bodies, each as far toward the cutter as the job says that it may be."""
    doubt = job.uncertainty or NONE
    lifts = {fastener.name: fastener.lift for fastener in job.fasteners}
    heads = tuple(risen(head, doubt, lifts.get(head.group, 0.0)) for head in solids.heads)
    bed = solids.bed and raised(solids.bed, doubt.z_zero)
    return Solids(heads, tuple(raised(c, doubt.z_zero) for c in solids.clamps), bed,
                  tuple(raised(o, doubt.z_zero) for o in solids.obstacles))


def risen(head: HeadSolid, doubt: Uncertainty, lift: float) -> HeadSolid:
    """A head (or its washer) that stands higher and wider than it should."""
    rise = doubt.head_z + doubt.z_zero + lift
    return replace(head, radius=head.radius + doubt.head_xy, top=head.top + rise, wider=doubt.head_xy,
                   rise=rise)


def raised(body: Still, by: float) -> Still:
    """A body whose top is higher."""
    return replace(body, top=body.top + by) if by else body


def allowed(job: Job, tolerance: float) -> float:
    """A height's tolerance is never finer than zero is known."""
    return max(tolerance, (job.uncertainty or NONE).z_zero)
