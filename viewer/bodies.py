"""What stands about the board as arrays and words: heads with their clearance, clamps, bed openings.

The law: bodies and gaps are sim's; here they are only paired by name, the worst gap of every stage with
the body that it belongs to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from shapely import get_coordinates

from ..parser.finding import Severity
from ..sim.result import Result
from ..sim.solids import ClampSolid, HeadSolid, ObstacleSolid, OpeningSolid, Solids, bed_of

Body = TypeVar("Body", HeadSolid, ClampSolid)
STRUCK = frozenset({"head-strike", "clamp-strike", "obstacle-strike"})


@dataclass(frozen=True)
class Head:
    """A screw head or its washer. `clearance` is the screw's smallest gap, None where none was measured."""

    about: str
    at: tuple[float, float]
    radius: float
    top: float
    bottom: float
    clearance: float | None
    cover: float | None
    struck: bool
    part: str = "head"


@dataclass(frozen=True)
class Clamp:
    """One body of a clamp or an obstacle: its outline in plan (k, 2); `stays` says that it is on at the
    last stage's end, `fixed` that it is an obstacle, which is always there."""

    about: str
    outline: NDArray[np.float64]
    top: float
    bottom: float
    clearance: float | None
    struck: bool
    stays: bool
    fixed: bool = False


@dataclass(frozen=True)
class Bodies:
    """Everything that the board lies among. openings: (n, 3) x, y, radius of the bed's round holes."""

    heads: tuple[Head, ...] = ()
    clamps: tuple[Clamp, ...] = ()
    openings: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 3)))


def bodies_of(result: Result) -> Bodies:
    """The bodies of every reported stage, each once."""
    standing = [solids for record in result.records for solids in record.solids]
    last = {c.about for c in about_the_board(standing[-1])} if standing else set()
    gaps = {gap.about: gap for stage in result.stages for gap in
            sorted(stage.clearances, key=lambda g: -g.clearance)}
    struck = {f.about for f in result.findings if f.kind in STRUCK and f.severity is Severity.STOP}
    heads = tuple(Head(h.about, h.at, h.radius, h.top, h.bottom, *_gap(gaps, h.about), h.about in struck,
                       h.part) for h in once(h for solids in standing for h in solids.heads))
    clamps = tuple(Clamp(c.about, get_coordinates(c.footprint.shape)[:-1], c.top, c.bottom,
                         _gap(gaps, c.about)[0], c.about in struck, c.about in last,
                         isinstance(c, ObstacleSolid))
                   for c in once(c for solids in standing for c in about_the_board(solids)))
    return Bodies(heads, clamps, openings_of(result))


def about_the_board(solids: Solids) -> tuple[ClampSolid, ...]:
    """Clamps, and what is always there."""
    return *solids.clamps, *solids.obstacles


def _gap(gaps: dict, about: str) -> tuple[float | None, float | None]:
    gap = gaps.get(about)
    return (None, None) if gap is None else (gap.clearance, gap.cover)


def once(standing: Iterable[Body]) -> Iterable[Body]:
    """Each body once, as it stood last."""
    return {(body.about, body.footprint, getattr(body, "part", "")): body for body in standing}.values()


def openings_of(result: Result) -> NDArray[np.float64]:
    """(n, 3) the bed's round openings."""
    bed = bed_of(result.job)
    found: tuple[OpeningSolid, ...] = () if bed is None else bed.openings
    round_ones = [(o.at[0], o.at[1], o.radius + o.chamfer) for o in found if o.radius]
    return np.array(round_ones).reshape(len(round_ones), 3)
