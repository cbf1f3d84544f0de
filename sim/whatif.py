"""What would give more facings: a deeper counterbore at the screw that ends them, or a lower head in its
group.

The law: only what may still be taken changes, by as much as the head comes to lie lower; the next thing that
ends the facings then counts. Under a deeper seat the board stays as thick as is usual. Millimetres.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import floor

from ..parser.job import Fastener, Job
from .hardware import ScrewHead, heads_for
from .result import Deeper, Limit, LowerHead
from .seating import head_size
from .solids import spots

LEAST_UNDER = 5.0  # mm of board under a seat: common practice, no published source
SHARE_UNDER = 1 / 3  # of the board's thickness, the same
MOST_HEADS = 3


def facings(left: float, depth: float) -> int:
    """Whole facings of `depth` in what is left; none where nothing is."""
    return max(0, floor(left / depth + 1e-9))


def deeper_at(job: Job, limits: Sequence[Limit], depth: float, under: Mapping[str, float]) -> Deeper | None:
    """The screw that ends the facings, sunk until something else does. None where it is no screw, where
    others end them as soon, or where the board under it is too thin for any more.

    limits: what may end them, the first first · under: thickness of board under each seat."""
    first, others = limits[0], limits[1:]
    if first.about not in screw_names(job) or not others or others[0].facings <= first.facings:
        return None
    room = room_under(job, under.get(first.about))
    by = others[0].facings * depth - first.left
    if room is not None and by > room:
        by = facings(first.left + room, depth) * depth - first.left
    if by <= 0:
        return None
    gained = facings(first.left + by, depth)
    then = others[0].about if gained == others[0].facings else first.about
    return Deeper(first.about, round(by, 6), gained, then)


def room_under(job: Job, under: float | None) -> float | None:
    """How much deeper a seat may lie; None where the board under it is not known."""
    if under is None:
        return None
    return max(0.0, under - least_under(job.board.thickness))


def least_under(thickness: float | None) -> float:
    """The least board under a seat."""
    return max(LEAST_UNDER, SHARE_UNDER * (thickness or 0.0))


def screw_names(job: Job) -> set[str]:
    """The groups' names, each with the numbers that its screws may have."""
    return {f"{group.name} {number}" for group in job.fasteners
            for number, _ in enumerate(spots(group.at, group.grid), 1)}


def lower_heads(job: Job, limits: Sequence[Limit], depth: float) -> tuple[LowerHead, ...]:
    """Other heads of the tables for the group whose screw ends the facings, the most facings first."""
    group = next((g for g in job.fasteners if limits[0].about.rpartition(" ")[0] == g.name), None)
    if group is None or group.screw is None:
        return ()
    now = head_size(group)
    found = [with_head(group, now, other, limits, depth) for other in heads_for(now)
             if other.height < now.height and fits(group, other)]
    better = [head for head in found if head.facings > limits[0].facings]
    return tuple(sorted(better, key=lambda head: (-head.facings, head.diameter))[:MOST_HEADS])


def fits(group: Fastener, head: ScrewHead) -> bool:
    """Whether a head goes into the group's recess, as far as that is known; a countersunk one wants a
    cone."""
    width = group.recess.diameter if group.recess else None
    return not head.countersunk and (width is None or head.diameter <= width)


def with_head(group: Fastener, now: ScrewHead, other: ScrewHead, limits: Sequence[Limit], depth: float
              ) -> LowerHead:
    """A group with another head: every screw of it comes to lie so much lower."""
    lower = now.height - other.height
    mine = f"{group.name} "
    new = [replace(each, left=each.left + lower, facings=facings(each.left + lower, depth))
           if each.about.startswith(mine) and each.about[len(mine):].isdecimal() else each for each in limits]
    return LowerHead(other.name, round(lower, 6), other.diameter, min(each.facings for each in new))
