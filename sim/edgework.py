"""What each cutter's edges do in a stage, in figures: chips, speeds, heat, power, and what the knob changes.

The law: only moves that take material count, as in feeds.py; where one of the numbers behind a figure is not
known, the figure is None. Millimetres, mm/min, rpm, seconds, kW.
"""

from __future__ import annotations

import numpy as np

from ..parser.job import Cutter
from ..parser.motion import Floats
from .clock import Pace, dwell_seconds, pace, ramped, seconds_below
from .cutters import profile_of
from .effort import entry_angles, over_board, powers, rates
from .evidence import Evidence, once
from .feeds import Rows, by_cutter, chips, cutting, edge_moves, energies, plunging, turning, window_in
from .knobs import PERCENT, settings
from .materials import Window
from .stepover import flat_width, step_between
from .work_figures import FeedFigures, OverrideFigures, SpeedFigures

NEIGHBOURS = 2.0  # diameters: passes that lie farther apart are sides of a shape, not steps over a face
WATTS = 1000.0  # in a kW
EQUAL = 1e-9  # of a limit: what is on it is within it


def feed_figures(evidence: Evidence) -> tuple[FeedFigures, ...]:
    """How each cutter cuts in this stage, in the order in which they come into the spindle."""
    return tuple(_figures(evidence, cutter, rows) for cutter, rows in by_cutter(evidence, cutting(evidence)))


def _figures(evidence: Evidence, cutter: Cutter, rows: Rows) -> FeedFigures:
    motion, counted = evidence.motion, rows[edge_moves(evidence)[rows]]
    step, width = step_between(motion, rows), flat_width(cutter)
    if step is not None and step > NEIGHBOURS * 2 * profile_of(cutter).radius:
        step = None
    allowed, speed = window_in(evidence, cutter, rows), turning(evidence)[rows]
    chip, down = chips(evidence, cutter, counted), rows[plunging(motion)[rows]]
    slow = slowness(evidence, cutter, counted, allowed)
    thinned, sliver = slivers(evidence, cutter, counted)
    usual = _usual(speed, motion.length()[rows])
    return FeedFigures(
        cutter=cutter.label, speed=usual, feeds=_span(motion.feed[counted]), chip=_span(chip),
        window=None if allowed is None else (allowed.floor, allowed.upper),
        depth=float(evidence.cut.depth[rows].max()), step=step,
        step_percent=None if step is None or not width else PERCENT * step / width,
        surface_speed=None if usual is None else rim_speed(cutter, usual),
        down=_span(motion.feed[down]), ramp=_steepest(evidence, rows),
        removal=_most(rates(evidence, rows)), power=_most(power(evidence, rows)),
        rubbing=slow[0], slowing=slow[1], longest_slow=slow[2], thinned=thinned, sliver=sliver,
        feed_override=feed_override(chip, allowed), speed_override=speed_override(cutter, speed),
        overrides=tuple(overrides(evidence, cutter, rows, counted, allowed)),
        speeds=tuple(speeds(evidence, cutter, usual, speed, chip, allowed)))


def rim_speed(cutter: Cutter, speed: float) -> float:
    """v_c = pi·D·n, m/s (machining handbook standard formula)."""
    return float(np.pi * 2 * profile_of(cutter).radius / 1000 * speed / 60)


def power(evidence: Evidence, rows: Rows) -> Floats:
    """kW of each move, by the upper end of the material's cutting energy; NaN for an unknown material."""
    return powers(rates(evidence, rows), energies(evidence, rows)) / WATTS


def _steepest(evidence: Evidence, rows: Rows) -> float | None:
    """Degrees of the steepest move down that is no straight plunge; None where there is none."""
    slanting = rows[~plunging(evidence.motion)[rows]]
    steepest = _most(entry_angles(evidence.cut, evidence.motion)[slanting])
    return steepest if steepest else None


# --- heat ---------------------------------------------------------------------------------------------

@once
def going(evidence: Evidence) -> Pace:
    """How every move of the stage goes on this machine, as programmed."""
    machine = evidence.job.machine
    return pace(evidence.motion, machine.rapid, machine.acceleration)


def run_seconds(evidence: Evidence) -> Floats:
    """(n,) seconds of each move on this machine."""
    return _spread(evidence, ramped(*going(evidence)[1:]))


def passing(evidence: Evidence) -> Floats:
    """(n,) mm/s with which each move begins."""
    return _spread(evidence, going(evidence).entry)


def pushes(evidence: Evidence) -> Floats:
    """(n,) mm/s² along each move; inf where no acceleration is given."""
    return _spread(evidence, going(evidence).push)


def _spread(evidence: Evidence, values: Floats) -> Floats:
    """What holds for the moves that take time, for all of them: 0 for the others."""
    every = np.zeros((len(evidence.motion), *values.shape[1:]))
    every[going(evidence).rows] = values
    return every


def below_window(evidence: Evidence, cutter: Cutter, rows: Rows, allowed: Window) -> Floats | None:
    """(n, 3) s for which each of these moves takes less than the least chip: while it speeds up, at the speed
    it keeps, while it slows down. None where edges or speed are not known."""
    speed = turning(evidence)[rows]
    if cutter.edges is None or not np.isfinite(speed).all():
        return None
    floor = np.zeros(len(evidence.motion))
    floor[rows] = allowed.floor * speed * cutter.edges / 60 * (1 - EQUAL)
    return _spread(evidence, seconds_below(going(evidence), floor[going(evidence).rows]))


def corner_stays(evidence: Evidence, slow: Floats) -> Floats:
    """(n,) s under the least chip about the corner where each move begins; moves that are too slow as a whole
    do not count."""
    up, level, down = slow.T
    fast = level == 0
    stays = up * fast
    stays[1:] += (down * fast)[:-1]
    return stays


def slowness(evidence: Evidence, cutter: Cutter, rows: Rows, allowed: Window | None
             ) -> tuple[float | None, float | None, float | None]:
    """Seconds in material with less than the least chip: by the programmed feed, by slowing down and speeding
    up, and the longest of these at one corner. None where no window or speed is known."""
    slow = None if allowed is None else below_window(evidence, cutter, rows, allowed)
    if slow is None:
        return None, None, None
    rubs = slow[:, 1] > 0
    return (float(slow[rubs].sum()), float(slow[~rubs].sum()),
            float(corner_stays(evidence, slow).max(initial=0.0)))


def slivers(evidence: Evidence, cutter: Cutter, rows: Rows) -> tuple[float | None, float | None]:
    """The thinnest of the greatest chips where less than half the cutter is engaged, and how wide that is.

    h = 2·f_z·sqrt(a_e/D·(1 - a_e/D)) for a_e < D/2 (machining handbook standard formula). Only moves that go
    over the board for a cutter's width or more: at shorter ones the edge of the board is all there is.
    """
    chip, width = thinned_chips(evidence, cutter, rows)
    known = np.isfinite(chip)
    if not known.any():
        return None, None
    least = int(np.nanargmin(chip))
    return float(chip[least]), float(width[least])


def thinned_chips(evidence: Evidence, cutter: Cutter, rows: Rows) -> tuple[Floats, Floats]:
    """(k,) greatest chip of each move that engages less than half the cutter, NaN for every other; (k,) the
    width that is engaged. mm."""
    diameter = 2 * profile_of(cutter).radius
    if flat_width(cutter) is None or not len(rows):
        return np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    length = over_board(evidence, rows)
    width = np.minimum(evidence.cut.area[rows] / length, diameter)
    share = width / diameter
    thin = (share < 0.5) & (length >= diameter)
    chip = 2 * chips(evidence, cutter, rows) * np.sqrt(share * (1 - share))
    return np.where(thin, chip, np.nan), width


# --- the operator's knobs -----------------------------------------------------------------------------

def feed_override(chip: Floats, allowed: Window | None) -> tuple[float, float] | None:
    """Percent of the programmed feed between which every chip is within its window; None where unknown or
    where no setting does."""
    span = _span(chip)
    if span is None or allowed is None or span[0] <= 0:
        return None
    low, high = PERCENT * allowed.floor / span[0], PERCENT * allowed.upper / span[1]
    return (low, high) if low <= high else None


def speed_override(cutter: Cutter, speed: Floats) -> float | None:
    """Percent of the programmed spindle speed at which the cutter's marked maximum is reached."""
    fastest = _most(speed)
    return None if cutter.max_rpm is None or not fastest else PERCENT * cutter.max_rpm / fastest


def overrides(evidence: Evidence, cutter: Cutter, rows: Rows, counted: Rows, allowed: Window | None
              ) -> list[OverrideFigures]:
    """The table over the range of the operator's feed knob; empty where no range was said."""
    if evidence.knobs.feed is None:
        return []
    needed = power(evidence, rows)
    return [_at(evidence, percent, chips(evidence, cutter, counted), allowed, _most(needed),
                float(np.nanmax(evidence.motion.feed[rows], initial=0.0)))
            for percent in settings(*evidence.knobs.feed)]


def _at(evidence: Evidence, percent: float, chip: Floats, allowed: Window | None, needed: float | None,
        fastest: float) -> OverrideFigures:
    """What one setting gives. Chips follow the feed; the machine's greatest feed holds them back."""
    machine, part = evidence.job.machine, percent / PERCENT
    held_back = machine.max_feed is not None and fastest * part > machine.max_feed * (1 + EQUAL)
    span, kw = _span(chip * part), None if needed is None else needed * part
    leaves = window_left(span, allowed)
    if kw is not None and machine.spindle_power is not None and kw > machine.spindle_power * (1 + EQUAL):
        leaves = leaves or "power"
    return OverrideFigures(percent, span, stage_seconds(evidence, part), kw,
                           leaves or ("feed" if held_back else ""))


def speeds(evidence: Evidence, cutter: Cutter, usual: float | None, speed: Floats, chip: Floats,
           allowed: Window | None) -> list[SpeedFigures]:
    """The table over the range of the knob for the spindle's speed; empty where no range was said or no speed
    is known. A slower spindle takes thicker chips at the same feed."""
    if evidence.knobs.speed is None or usual is None:
        return []
    known = speed[np.isfinite(speed) & (speed > 0)]
    found = []
    for percent in settings(*evidence.knobs.speed):
        part = percent / PERCENT
        span = _span(chip / part)
        leaves = _speed_leaves(evidence, cutter, known * part) or window_left(span, allowed)
        found.append(SpeedFigures(percent, usual * part, rim_speed(cutter, usual * part), span, leaves))
    return found


def _speed_leaves(evidence: Evidence, cutter: Cutter, speed: Floats) -> str:
    """What speeds leave of cutter and spindle."""
    turns = evidence.job.machine.spindle or (0.0, np.inf)
    if cutter.max_rpm is not None and speed.max() > cutter.max_rpm * (1 + EQUAL):
        return "marked"
    if speed.max() > turns[1] * (1 + EQUAL):
        return "fast"
    return "slow" if speed.min() < turns[0] * (1 - EQUAL) else ""


def window_left(chip: tuple[float, float] | None, allowed: Window | None) -> str:
    """How chips leave their window: what breaks before what rubs; "" where they do not, or none is known."""
    if allowed is None or chip is None:
        return ""
    if chip[1] > allowed.upper * (1 + EQUAL):
        return "thick"
    return "thin" if chip[0] < allowed.floor * (1 - EQUAL) else ""


def stage_seconds(evidence: Evidence, part: float) -> float:
    """Seconds of the stage with every feed at `part` of what is programmed."""
    machine = evidence.job.machine
    pacing = pace(evidence.motion, machine.rapid, machine.acceleration, override=part,
                  max_feed=machine.max_feed or np.inf)
    return float(ramped(*pacing[1:]).sum()) + dwell_seconds(evidence.motion)


# --- spans --------------------------------------------------------------------------------------------

def _usual(values: Floats, weights: Floats) -> float | None:
    """The value that holds over the greatest length; None when none is known."""
    known = np.isfinite(values) & (values > 0)
    if not known.any():
        return None
    each, which = np.unique(values[known], return_inverse=True)
    return float(each[np.bincount(which, weights[known]).argmax()])


def _span(values: Floats) -> tuple[float, float] | None:
    known = values[np.isfinite(values)]
    return (float(known.min()), float(known.max())) if len(known) else None


def _most(values: Floats) -> float | None:
    span = _span(values)
    return None if span is None else span[1]
