"""Does it turn, the right way round, and no faster than it may.

The law: material is cut with the spindle turning clockwise, or something is wrong. With the spindle
switched by hand the stage's rpm counts and the program's S, M3, M4 and M5 do not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ...parser.finding import Phrase, Severity
from ...parser.job import Cutter
from ...parser.motion import Happening, Spindle
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Said
from ..feeds import Rows, by_cutter, by_hand, cutting, loaded, turning
from .repeats import first_line, repeated

STOPPERS = frozenset({Happening.SPINDLE, Happening.CUTTER, Happening.STOP, Happening.OPTIONAL_STOP})
USUAL_SPEED = 12000.0  # rpm to propose when nothing says one: common practice, no published source


def spindle_off(evidence: Evidence) -> Iterator[Said]:
    """Material is cut with the spindle still: stop. It is on, but no S was ever given: caution."""
    if by_hand(evidence):
        if evidence.stage.rpm is None and cutting(evidence).any():
            yield Unchecked("spindle speed", 'machine.spindle_by is "hand" and the stage gives no rpm')
        return
    speed = turning(evidence)
    for severity, wrong in ((Severity.STOP, speed == 0), (Severity.CAUTION, np.isnan(speed))):
        for cutter, rows in by_cutter(evidence, cutting(evidence) & wrong):
            yield repeated("spindle-off", evidence, rows, rows[0], severity=severity, about=cutter.label,
                           why=_why_still(evidence, int(rows[0])), speed=_speed_to_give(evidence, cutter))


def _why_still(evidence: Evidence, row: int) -> str:
    """What left the spindle still at a move."""
    state = evidence.motion.states[evidence.motion.state[row]]
    if state.spindle is not Spindle.STILL:
        return "S is 0" if state.speed == 0 else "it is switched on, but no S was ever given"
    said = [e for e in evidence.motion.events if e.kind in STOPPERS and e.before <= row]
    on = [number for number, e in enumerate(said) if e.kind is Happening.SPINDLE and e.value != Spindle.STILL]
    since = said[on[-1] + 1:] if on else [e for e in said if e.kind is Happening.SPINDLE]
    if not since:
        return "no M3 stands before this line"
    return f"{since[0].code or 'The change'} on line {since[0].line} stopped it"


def _speed_to_give(evidence: Evidence, cutter: Cutter) -> float:
    """The program's own speed, else a usual one that cutter and spindle can bear."""
    own = [state.speed for state in evidence.motion.states if state.speed]
    low, high = evidence.job.machine.spindle or (0.0, np.inf)
    speed = min(max(own[0] if own else USUAL_SPEED, low), high)
    return min(speed, cutter.max_rpm or np.inf)


def spindle_reverse(evidence: Evidence) -> Iterator[Said]:
    """Material is cut with the spindle turning backward."""
    if by_hand(evidence):
        return
    backward = evidence.motion.column("spindle") == Spindle.COUNTER
    for cutter, rows in by_cutter(evidence, cutting(evidence) & backward & (turning(evidence) != 0)):
        yield repeated("spindle-reverse", evidence, rows, rows[0], about=cutter.label,
                       switched=_switched_on(evidence, rows))


def _switched_on(evidence: Evidence, rows: Rows) -> int:
    """The line that last said which way to turn."""
    said = [e.line for e in evidence.motion.events if e.kind is Happening.SPINDLE and e.before <= rows[0]]
    return said[-1] if said else first_line(evidence, rows)


def over_speed(evidence: Evidence) -> Iterator[Said]:
    """The spindle turns faster than the cutter in it may, in material or not."""
    speed = turning(evidence)
    for cutter, rows in by_cutter(evidence, speed > 0):
        if cutter.max_rpm is None:
            yield Unchecked(f"highest speed of {cutter.label}", "its max_rpm is not given")
            continue
        fast = rows[speed[rows] > cutter.max_rpm]
        if len(fast):
            worst = fast[speed[fast].argmax()]
            yield repeated("over-speed", evidence, fast, worst, line=_line(evidence, fast),
                           about=cutter.label, value=speed[worst], limit=cutter.max_rpm, turns="is turned",
                           fix=Phrase("Bring {where} down to {most:count} or less, and the feed with it",
                                      {"where": _where(evidence, fast), "most": cutter.max_rpm}))
        else:
            yield from _over_speed_by_the_knob(evidence, cutter, rows)


def _over_speed_by_the_knob(evidence: Evidence, cutter: Cutter, rows: Rows) -> Iterator[Said]:
    """The knob for the spindle's speed could be turned so far that the marked speed is passed."""
    speed, knob = turning(evidence)[rows], evidence.knobs.speed
    if knob is None or cutter.max_rpm is None or speed.max() * knob[1] / 100 <= cutter.max_rpm:
        return
    share = cutter.max_rpm / float(speed.max())
    yield repeated("over-speed", evidence, rows, rows[speed.argmax()], line=_line(evidence, rows),
                   severity=Severity.CAUTION, about=cutter.label, value=speed.max() * knob[1] / 100,
                   limit=cutter.max_rpm, turns=f"turns, with the spindle's knob at {knob[1]:g}%,",
                   fix=Phrase("Keep the spindle's knob under {percent:percent}, or bring {where} down to "
                              "{most:count} or less", {
                                  "percent": math.floor(100 * share), "where": _where(evidence, rows),
                                  "most": math.floor(100 * cutter.max_rpm / knob[1])}))


def _line(evidence: Evidence, rows: Rows) -> int:
    return 0 if by_hand(evidence) else first_line(evidence, rows)


def _where(evidence: Evidence, rows: Rows) -> str:
    return "the stage's rpm" if by_hand(evidence) else f"the S word on or before line {_line(evidence, rows)}"


def spindle_range(evidence: Evidence) -> Iterator[Said]:
    """A speed that the spindle cannot turn at: it will turn at another."""
    speed, span = turning(evidence), evidence.job.machine.spindle
    if span is None:
        if (speed > 0).any():
            yield Unchecked("speeds that the spindle can turn", "machine.spindle is not given")
        return
    for end, outside in ((span[0], (speed > 0) & (speed < span[0])), (span[1], speed > span[1])):
        rows = np.flatnonzero(outside)
        if len(rows):
            worst = rows[np.abs(speed[rows] - end).argmax()]
            yield repeated("spindle-range", evidence, rows, worst, line=_line(evidence, rows),
                           value=speed[worst], limit=end, low=span[0], high=span[1],
                           where=_where(evidence, rows))


def cutter_none(evidence: Evidence) -> Iterator[Said]:
    """Feed moves, or rapids below the board's top, with no cutter known in the spindle.

    A T word that the job does not describe is another finding, raised where the word is read.
    """
    motion = evidence.motion
    empty = motion.placed & ~loaded(evidence) & np.isnan(motion.column("cutter"))
    low = np.minimum(motion.start[:, 2], motion.end[:, 2]) < max(piece.top for piece in evidence.lying)
    rows = np.flatnonzero(empty & (motion.is_feed | low))
    if len(rows):
        yield repeated("cutter-none", evidence, rows, rows[0])
    elif empty.any():
        yield Unchecked("rapids with no cutter known", f"{int(empty.sum())} are made before one is loaded")


CHECKS: tuple[Check, ...] = (spindle_off, spindle_reverse, over_speed, spindle_range, cutter_none)
