"""The core of a cutter, the middle that has no edge, over material that stands.

The law: a descent that is straight or steeper than 3 degrees is `plunge-no-centre`, told elsewhere and not
again here. On a gentler ramp the floor behind the leading edges rises by the ramp's slope over the core's
width; that, and a post that is left under the core where a move ends, are held against the core's gap.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import atan, degrees

import numpy as np
from numpy.typing import NDArray

from ...parser.finding import Finding, Phrase
from ...parser.job import Cutter
from ...parser.reading import Unchecked
from ..cutters import profile_of
from ..evidence import Check, Evidence, Said
from ..feeds import SKIN, Rows, by_cutter, cutting, loaded
from ..looks import CORE
from .depth import STEEPEST, cuts_at_centre, descents
from .repeats import repeated

RUB = 0.01  # mm: less is not felt


def core_rub(evidence: Evidence) -> Iterator[Said]:
    """One finding for all moves in which a cutter's core rubs."""
    posts = standing_posts(evidence)
    for cutter, rows in by_cutter(evidence, loaded(evidence) & evidence.motion.is_feed):
        if cuts_at_centre(cutter) or not profile_of(cutter).core:
            continue
        told, rises = too_steep(evidence)[rows], ramps(evidence, cutter, rows)
        over = 0.0 if cutter.core_gap is None else rises - cutter.core_gap
        rub = np.where(told, 0.0, np.maximum(posts[rows], over))
        if cutter.core_gap is None and (rises > RUB).any():
            yield Unchecked(f"core of {cutter.label} on ramps", "the cutter's core_gap is not given")
        if (rub > RUB).any():
            yield _finding(evidence, cutter, rows[rub > RUB], rub[rub > RUB])


def standing_posts(evidence: Evidence) -> NDArray[np.float64]:
    """(n,) how far material stands above the core's face where each move ends."""
    posts = np.zeros(len(evidence.motion))
    for look, depth, _ in evidence.cut.looked:
        if look.name == CORE:
            posts = np.maximum(posts, depth)
    return posts


def too_steep(evidence: Evidence) -> NDArray[np.bool_]:
    """(n,) the descents that plunge-no-centre tells of."""
    return cutting(evidence) & (descents(evidence) > STEEPEST + 1e-6)


def ramps(evidence: Evidence, cutter: Cutter, rows: Rows) -> NDArray[np.float64]:
    """(k,) how much the floor of a ramp in material rises over the core's width, or over its own length."""
    motion = evidence.motion
    drop = np.maximum(motion.start[rows, 2] - motion.end[rows, 2], 0.0)
    along = np.sqrt(np.maximum(motion.length()[rows] ** 2 - drop**2, 1e-12))
    share = np.minimum(2 * profile_of(cutter).core / along, 1.0)
    return np.where(cutting(evidence)[rows] & (drop > SKIN), drop * share, 0.0)


def _finding(evidence: Evidence, cutter: Cutter, rows: Rows, rub: NDArray[np.float64]) -> Finding:
    width = 2 * profile_of(cutter).core
    return repeated("core-rub", evidence, rows, rows[np.argmax(rub)], about=cutter.label,
                    value=float(rub.max()), limit=RUB, core=width, fix=_gentler(cutter, width))


def _gentler(cutter: Cutter, width: float) -> Phrase:
    if not cutter.core_gap:
        return Phrase("Come in from beside the board, or give the cutter's core_gap if its core lies higher "
                      "than its edges", {})
    return Phrase("Come in from beside the board, or ramp down no steeper than {angle:angle} and over more "
                  "than {core:length} at a time",
                  {"angle": degrees(atan(cutter.core_gap / width)), "core": width})


CHECKS: tuple[Check, ...] = (core_rub,)
