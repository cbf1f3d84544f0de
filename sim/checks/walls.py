"""How much board stays about a drilled hole: to the board's edge, to the next hole, to a recess.

The law: in stages with `holes` only. A counterbore and the hole under it are one; of two holes too near each
other the later one is told, with the thinnest of its walls.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import shapely

from ...parser.finding import Finding, finding
from ..evidence import Check, Evidence
from ..holes import FoundHole
from ..pairing import Pairing
from .holes import NEARLY, ONE_AXIS, counterbored, pairing_of, shown_of, without_counterbores

LEAST = 8.0  # mm of wall: common practice, no published source

Wall = tuple[float, str]  # how thick, and to what


def hole_at_edge(evidence: Evidence) -> Iterator[Finding]:
    """Drilled holes with a wall that breaks out."""
    if not evidence.stage.holes:
        return
    pairing = pairing_of(evidence)
    holes, names = drilled(pairing), names_of(pairing)
    for number, hole in enumerate(holes):
        walls = [edge(evidence, hole), *earlier(evidence, hole), *among(hole, holes[:number], names)]
        wall, what = min(walls)
        if wall < LEAST - NEARLY:
            at = (*hole.at, hole.bottom)
            yield finding("hole-at-edge", line=hole.line, at=at, shown=shown_of(evidence, at, hole),
                          value=wall, limit=LEAST, about=names[hole.moves], what=what, farther=LEAST - wall)


def drilled(pairing: Pairing) -> list[FoundHole]:
    """All holes of a stage, in the order in which the program comes to them."""
    return sorted([*(found for _, found in pairing.pairs), *pairing.extra], key=lambda hole: hole.moves[0])


def names_of(pairing: Pairing) -> Mapping[tuple[int, ...], str]:
    """What each drilled hole is called, by its moves: as the other findings about holes call it."""
    names = {found.moves: str(wanted.number) for wanted, found in pairing.pairs}
    for number, hole in enumerate(without_counterbores(pairing), 1):
        names[hole.moves] = f"extra {number}"
    for hole in pairing.extra:
        over = (wanted for wanted, found in pairing.pairs
                if counterbored(hole, found) or counterbored(found, hole))
        if hole.moves not in names:
            names[hole.moves] = str(next(over).number)
    return names


def edge(evidence: Evidence, hole: FoundHole) -> Wall:
    """The wall to the board's edge; negative where the hole goes beyond it."""
    centre = shapely.Point(hole.at)
    away = float(shapely.distance(evidence.board.boundary, centre))
    inside = away if shapely.covers(evidence.board, centre) else -away
    return inside - hole.diameter / 2, "the board's edge"


def earlier(evidence: Evidence, hole: FoundHole) -> Iterator[Wall]:
    """Walls to recesses and to holes of the stages before, as far as they are thin."""
    centre, radius = shapely.Point(hole.at), hole.diameter / 2
    for region, what in ((evidence.recesses, "a recess"), (evidence.drilled, "a hole drilled before")):
        parts = shapely.get_parts(region)
        near = shapely.STRtree(parts).query(centre, predicate="dwithin", distance=radius + LEAST)
        for part in parts[near]:
            if shapely.distance(part.centroid, centre) > ONE_AXIS:
                yield float(shapely.distance(part, centre)) - radius, what


def among(hole: FoundHole, others: list[FoundHole], names: Mapping[tuple[int, ...], str]) -> Iterator[Wall]:
    """The thinnest wall to a hole that the same stage drilled before it."""
    apart = np.array([np.hypot(hole.at[0] - other.at[0], hole.at[1] - other.at[1]) for other in others])
    radii = np.array([other.diameter / 2 for other in others])
    walls = np.where(apart > ONE_AXIS, apart - radii - hole.diameter / 2, np.inf)
    if len(walls):
        yield float(walls.min()), f"hole {names[others[int(walls.argmin())].moves]}"


CHECKS: tuple[Check, ...] = (hole_at_edge,)
