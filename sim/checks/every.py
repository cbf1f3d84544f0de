"""The checks of a stage, in the order in which a machinist would fear them: the one visible tuple.

The law: what is not listed here does not run.
"""

from __future__ import annotations

from ..evidence import Check
from . import (
    bedholes,
    chips,
    core,
    depth,
    face,
    hands,
    history,
    holder,
    holding,
    holes,
    loads,
    lowspots,
    outside,
    pecks,
    program,
    rapids,
    screws,
    seams,
    spindle,
    spinup,
    strikes,
    touches,
    travel,
    unlikely,
    walls,
    ways,
)

CHECKS: tuple[Check, ...] = (
    *strikes.CHECKS,
    *holder.CHECKS,
    *rapids.CHECKS,
    *ways.CHECKS,
    *travel.CHECKS,
    *depth.CHECKS,
    *core.CHECKS,
    *outside.CHECKS,
    *spindle.CHECKS,
    *spinup.CHECKS,
    *holes.CHECKS,
    *bedholes.CHECKS,
    *walls.CHECKS,
    *screws.CHECKS,
    *holding.CHECKS,
    *hands.CHECKS,
    *pecks.CHECKS,
    *unlikely.CHECKS,
    *touches.CHECKS,
    *face.CHECKS,
    *lowspots.CHECKS,
    *seams.CHECKS,
    *chips.CHECKS,
    *loads.CHECKS,
    *program.CHECKS,
    *history.CHECKS,
)
