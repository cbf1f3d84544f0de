"""A spindle that does not stand square to the bed: how its plane leans, and what flat cutters then leave.

The law: slopes are dz/dx and dz/dy of the cutter's plane; the lowest point of the rim is what touches off and
what a program's Z means. Small angles (a sheared disc stands for the turned one: under 1e-4 mm apart while a
rim of 12.5 mm stands less than 0.05 higher on one side than on the other). Source of the formulas: design,
section 2, and the trade's formulas of a leaning disc, each held against a turned disc in the tests. mm.
"""

from __future__ import annotations

from math import cos, hypot, sin, sqrt

from ..parser.job import Job, Tram

Tilt = tuple[float, float]  # dz/dx, dz/dy

SQUARE: Tilt = (0.0, 0.0)
HALVINGS = 60


def tilt_of(job: Job) -> Tilt:
    """The slopes of the cutter's plane of a job's machine."""
    return slopes(job.machine.tram)


def slopes(tram: Tram | None) -> Tilt:
    """The slopes of the cutter's plane: an indicator that the spindle swings reads the more, the lower."""
    return SQUARE if tram is None else (-tram.x / tram.swing, -tram.y / tram.swing)


def along_and_across(tilt: Tilt, heading: float) -> tuple[float, float]:
    """Slopes along a feed direction (rad from X) and across it, positive to its left."""
    c, s = cos(heading), sin(heading)
    return tilt[0] * c + tilt[1] * s, tilt[1] * c - tilt[0] * s


def one_pass(u: float, radius: float, along: float, across: float) -> float:
    """Height over the programmed Z that a whole pass leaves at offset u to the left of its path."""
    return radius * hypot(along, across) + across * u - abs(along) * sqrt(max(0.0, radius**2 - u**2))


def seam(radius: float, along: float, across: float, step: float) -> float:
    """The upright step where two passes meet: s·tan(b), less what the feed's lean hides of it."""
    return max(0.0, abs(across) * step - abs(along) * sqrt(max(0.0, 2 * radius * step - step**2)))


def ridge_between(radius: float, along: float, across: float, step: float) -> float:
    """Crest over trough of passes so far apart: steps and dishes together."""
    step, side = min(step, 2 * radius), abs(across)
    trough = one_pass(lowest_offset(radius, along, side), radius, along, side)
    crest = one_pass(crossing(radius, along, side, step) + step, radius, along, side)
    return max(0.0, crest - trough)


def lowest_offset(radius: float, along: float, across: float) -> float:
    """Where across the path a single pass is lowest."""
    lean = hypot(along, across)
    return -radius * across / lean if lean else 0.0


def crossing(radius: float, along: float, across: float, step: float) -> float:
    """The offset u at which two neighbouring passes are equally high (u and u + step); at the rim, -R, where
    they never are and a seam stays. `across` is not negative."""
    low, high = -radius, -step / 2
    if seam(radius, along, across, step) > 0:
        return low
    for _ in range(HALVINGS):
        u = (low + high) / 2
        if one_pass(u, radius, along, across) > one_pass(u + step, radius, along, across):
            low = u
        else:
            high = u
    return (low + high) / 2


def widest_step(radius: float, along: float, across: float, ridge: float) -> float:
    """The widest step between passes that leaves no more than `ridge`; 0 where none does."""
    low, high = 0.0, 2 * radius
    if ridge_between(radius, along, across, high) <= ridge:
        return high
    for _ in range(HALVINGS):
        step = (low + high) / 2
        if ridge_between(radius, along, across, step) <= ridge:
            low = step
        else:
            high = step
    return low
