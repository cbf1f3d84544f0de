"""What is asked of cutter and spindle beyond the chip: speed straight down, and power.

The law: only moves that take material count. Power is specific cutting energy (its upper end, for it rises as
edges wear) by what is removed in a minute while the cutter is over the board. mm, mm/min, kW.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ...parser.job import Cutter
from ...parser.reading import Unchecked
from ..effort import powers, rates
from ..evidence import Check, Evidence, Said
from ..feeds import Rows, by_cutter, by_material, cutting, plunging
from ..materials import Material, material
from .repeats import repeated

EQUAL = 1e-9  # of the limit
WATTS = 1000.0  # in a kW


def plunge_fast(evidence: Evidence) -> Iterator[Said]:
    """Straight down into material faster than the cutter may. Drills are judged by their chips, too."""
    motion = evidence.motion
    for cutter, rows in by_cutter(evidence, cutting(evidence) & plunging(motion)):
        if cutter.plunge is None:
            if cutter.shape != "drill":
                yield Unchecked(f"plunge feed of {cutter.label}", "the cutter's plunge is not given")
            continue
        fast = rows[motion.feed[rows] > cutter.plunge * (1 + EQUAL)]
        if len(fast):
            worst = fast[motion.feed[fast].argmax()]
            yield repeated("plunge-fast", evidence, fast, worst, about=cutter.label,
                           value=motion.feed[worst], limit=cutter.plunge)


def power(evidence: Evidence) -> Iterator[Said]:
    """More power than the spindle has."""
    most = evidence.job.machine.spindle_power
    taken = cutting(evidence)
    if not taken.any():
        return
    if most is None:
        yield Unchecked("spindle power", "machine.spindle_power is not given")
        return
    for cutter, stuff, rows in in_materials(evidence, taken):
        if stuff is None:
            yield Unchecked("spindle power", "board.material is not given or not in the table")
            continue
        needed = powers(rates(evidence, rows), stuff.energy[1]) / WATTS
        over = needed > most * (1 + EQUAL)
        if over.any():
            worst = rows[np.nanargmax(needed)]
            share = most / float(np.nanmax(needed))
            yield repeated("power", evidence, rows[over], worst, about=cutter.label,
                           value=float(np.nanmax(needed)), limit=most,
                           feed=evidence.motion.feed[worst] * share,
                           depth=float(evidence.cut.depth[worst]) * share)


def in_materials(evidence: Evidence, taken: NDArray[np.bool_]
                 ) -> Iterator[tuple[Cutter, Material | None, Rows]]:
    """Each cutter's moves in each material; None: one that no table knows."""
    for cutter, rows in by_cutter(evidence, taken):
        yield from ((cutter, material(said), mine) for said, _, mine in by_material(evidence, rows))


CHECKS: tuple[Check, ...] = (plunge_fast, power)
