"""Drilling through the board over the bed: how deep the point may go before it touches metal, and what stays.

The law: the point first touches the bed p_max below its face, at the mouth or the thread of the opening
under it; a full diameter through the board needs its tip at least its own point's length below the
underside. Where that is more, no depth gives it: contact, or a ring that stays at the bottom of the board
[formulas 7]. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .cutters import Profile, profile_of
from .evidence import Evidence, once
from .holes import FoundHole
from .solids import BedSolid, OpeningSolid, bed_of

SOFT = 1.0  # mm that a soft underlay may be marked
STEPS = 65  # places on a mouth's cone that are asked
EXACT = 1e-4  # mm: heights are right to this


@dataclass(frozen=True)
class Breakthrough:
    """A drilled hole over the bed. off: between the axes of hole and opening (inf: none is under it) ·
    touches: how far below the bed's face the tip may go, needs: how far it has to for a full diameter at the
    underside · opening: under it, None where none is."""

    hole: FoundHole
    off: float
    touches: float
    needs: float
    opening: OpeningSolid | None = None

    @property
    def ring(self) -> float:
        """Height of the ring that stays when the tip stops where it touches; 0: the full diameter is
        through."""
        return max(0.0, self.needs - self.touches)

    @property
    def possible(self) -> bool:
        return self.ring <= EXACT

    @property
    def mouth(self) -> float:
        """The mouth that would be wide enough: the drill's diameter and twice what it is off."""
        return self.hole.diameter + (2 * self.off if np.isfinite(self.off) else 0.0)


@once
def breakthroughs(evidence: Evidence) -> dict[tuple[int, ...], Breakthrough]:
    """Each drilled hole's, by its moves; of holes that are bored in turns and where the bed is not known,
    none."""
    return {each.hole.moves: each for each in _all(evidence)}


def _all(evidence: Evidence) -> Iterator[Breakthrough]:
    bed = bed_of(evidence.job) if evidence.bed_top is not None else None
    for hole in evidence.found if bed is not None else ():
        cutter, under = evidence.cutter(hole.moves[0]), evidence.piece_at(hole.at).underside
        if cutter is None or under is None or bed is None:
            continue
        profile = profile_of(cutter)
        if abs(2 * profile.radius - hole.diameter) <= EXACT:
            opening, off = opening_under(bed, hole.at)
            touches = SOFT if bed.soft else 0.0
            if opening is not None:
                touches += reach_into(profile, opening, off)
            yield Breakthrough(hole, off, touches, profile.tip_height - (under - bed.top), opening)


def opening_under(bed: BedSolid, at: tuple[float, float]) -> tuple[OpeningSolid | None, float]:
    """The round opening whose mouth an axis goes into, and how far its axis is from that; (None, inf)."""
    found = [(float(np.hypot(o.at[0] - at[0], o.at[1] - at[1])), o) for o in bed.openings if o.radius]
    near = [(off, opening) for off, opening in found if off < opening.radius + opening.chamfer]
    off, opening = min(near, key=lambda each: each[0], default=(np.inf, None))
    return opening, off


def reach_into(profile: Profile, opening: OpeningSolid, off: float) -> float:
    """p_max: how far below the bed's face a tip may go in an opening whose axis lies `off` beside its own.

    The nearest place of the opening's wall at each height is as far from the tip's axis as its radius less
    `off`; the cutter's own surface must lie above it there.
    """
    deep = np.linspace(0.0, opening.chamfer, STEPS if opening.chamfer else 1)
    away = np.maximum(opening.radius + opening.chamfer - deep - off, 0.0)
    meets = np.where(away < profile.radius, deep + profile.below(np.minimum(away, profile.radius)), np.inf)
    return float(min(meets.min(), opening.depth))
