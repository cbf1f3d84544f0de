"""Chains: from a stage's moves to its passes, the parts that leave the board at or below a height.

The law: a chain is an unbroken path of one cutter. A cutter with a core finishes all that its path
sweeps but what its core never leaves. Millimetres, board frame.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from math import hypot

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.motion import Motion
from .cutters import profile_of
from .footprints import disc_outline, outlines
from .joints import Chain, meet, passes_of
from .leant import leant_stamp
from .passes import Passes, Stamp
from .plan import common, joined, without
from .stretches import Reach, Stretch, stretches_of
from .tram import SQUARE, Tilt

CORE_TURN = np.pi / 180  # step along an arc when asking what a core never left


def passes_below(motion: Motion, cutters: NDArray[np.object_], highest: float, tilt: Tilt = SQUARE) -> Passes:
    """The passes of a stage that leave the board at or below Z `highest`.

    cutters: (n,) Cutter of each move or None; moves without a cutter or a place are left out · tilt: slopes
    of the spindle's plane.
    """
    chains: list[Chain] = []
    leant = _leant_rows(motion, cutters, highest, tilt)
    stamps = [stamp for row, radius in leant.items()
              if (stamp := leant_stamp(motion, row, radius, highest, tilt)) is not None]
    for core, chain in _chains(motion, cutters, highest, hypot(*tilt), leant):
        left = _never_left_by(core, chain)
        if left is None:
            chains.append(chain)
        else:
            swept = passes_of([chain])
            whole = joined(outlines(swept, np.arange(len(swept))))
            stamps.append(Stamp(without(whole, left), chain[-1].row))
    whole = passes_of(chains)
    return Passes(whole.straights, whole.rounds, tuple(stamps))


def _leant_rows(motion: Motion, cutters: NDArray[np.object_], highest: float, tilt: Tilt) -> dict[int, float]:
    """The rows in which a flat cutter leans too much to finish all that it passes over, with its radius."""
    if not any(tilt):
        return {}
    profiles = {id(cutter): profile_of(cutter) for cutter in cutters if cutter is not None}
    used = {row: profiles[id(cutters[row])] for row in _low_rows(motion, cutters, highest)}
    slack = highest - motion.boxes()[:, 1, 2]
    return {row: profile.radius for row, profile in used.items()
            if profile.flat and slack[row] < 2 * profile.radius * hypot(*tilt)}


def _chains(motion: Motion, cutters: NDArray[np.object_], highest: float, lean: float,
            leant: Collection[int]) -> Iterator[tuple[float, Chain]]:
    """Unbroken paths of one cutter below a height, with the radius of its core (0: none)."""
    reaches: dict[int, Reach] = {}
    feeds = motion.is_feed.tolist()
    chain: Chain = []
    key = (-1, 0.0)
    for row in _low_rows(motion, cutters, highest):
        cutter = cutters[row]
        if row in leant:
            continue
        if id(cutter) not in reaches:
            reaches[id(cutter)] = Reach(profile_of(cutter), highest, lean)
        reach = reaches[id(cutter)]
        core = reach.profile.core if feeds[row] else 0.0  # for rapids it is a full disc
        for stretch in stretches_of(motion, row, reach):
            if chain and not (key == (id(cutter), core) and meet(chain[-1].b, stretch.a)):
                yield key[1], chain
                chain = []
            key = id(cutter), core
            chain.append(stretch)
    if chain:
        yield key[1], chain


def _low_rows(motion: Motion, cutters: NDArray[np.object_], highest: float) -> list[int]:
    """Rows that may reach down to a height; a rapid straight up touches nothing."""
    lowest = np.fmin(motion.start[:, 2], motion.end[:, 2])
    vertical_arc = np.zeros(len(motion), bool)
    curved = motion.arc >= 0
    vertical_arc[curved] = motion.arcs.plane[motion.arc[curved]] != 17
    lift = (motion.start[:, :2] == motion.end[:, :2]).all(axis=1) & (motion.end[:, 2] >= motion.start[:, 2])
    lift &= ~motion.is_feed
    known = np.array([cutter is not None for cutter in cutters], bool)
    return np.flatnonzero(motion.placed & known & ~lift & ((lowest <= highest) | vertical_arc)).tolist()


def _never_left_by(core: float, chain: Chain) -> BaseGeometry | None:
    """What the core of a cutter covered all along a path: its discs' common part, None when empty.

    A place is swept by the ring exactly when the path comes as near as the rim and goes as far as the
    core's edge: distance is continuous along an unbroken path.
    """
    if core <= 0:
        return None
    spots = np.concatenate([_spots(stretch) for stretch in chain])
    if np.hypot(*(spots.max(axis=0) - spots.min(axis=0))) >= 2 * core * np.sqrt(2):
        return None
    left = disc_outline(spots[0], core, None)
    for spot in np.unique(spots[1:], axis=0):
        left = common(left, disc_outline(spot, core, None))
    return None if left.is_empty else left


def _spots(stretch: Stretch) -> NDArray[np.float64]:
    """Places of the path that are farthest from anywhere: ends, and points along an arc."""
    if stretch.centre is None:
        return np.array([stretch.a, stretch.b])
    angle = stretch.angle + np.linspace(0.0, stretch.sweep, 2 + int(stretch.sweep / CORE_TURN))
    return np.array(stretch.centre) + stretch.radius * np.column_stack((np.cos(angle), np.sin(angle)))
