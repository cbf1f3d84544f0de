"""What the edges are asked to take: too little and they rub, too much and they break; and coolant on wood.

The law: chip load is F/(S·edges) in feed moves that take material, held against the job's `chip_load` or
the material table. Whatever one of these needs and the job leaves out is said to be unchecked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ...parser.finding import Finding, Phrase, Severity
from ...parser.job import Cutter
from ...parser.motion import Floats
from ...parser.reading import Unchecked
from ..edgework import below_window, corner_stays, passing, pushes, run_seconds, thinned_chips
from ..evidence import Check, Evidence, Said
from ..feeds import Rows, by_cutter, by_material, chips, cutting, edge_moves, turning, window_in
from ..materials import Window, material, meant, window
from .repeats import repeated

ROUND_SPEED = 10.0  # rpm: proposed speeds are rounded to this, away from the limit
EQUAL = 1e-9  # of the limit: a chip load on the limit is within it
LONGEST = 0.3  # s under the window at one corner: tenths are seen; common practice, no published source


def chip_load(evidence: Evidence) -> Iterator[Said]:
    """Each cutter's feed per edge against its window."""
    for cutter, taken in by_cutter(evidence, edge_moves(evidence)):
        if cutter.edges is None:
            yield Unchecked(f"chip load of {cutter.label}", "its edges are not given")
            continue
        for stuff, where, rows in by_material(evidence, taken):
            allowed = window(cutter, stuff)
            if allowed is None:
                yield Unchecked(f"chip load of {cutter.label}{where}", _why_no_window(stuff, cutter))
            else:
                yield from _held_against(evidence, cutter, rows, allowed, where)


def _why_no_window(said: str | None, cutter: Cutter) -> str:
    if said is None:
        return "neither board.material nor its chip_load is given"
    if material(said) is None:
        close = meant(said)
        hint = f' (did you mean "{close}"?)' if close else ""
        return f'the material "{said}" is not in the table{hint} and its chip_load is not given'
    return f"the table has no row for this {cutter.shape} cutter and its chip_load is not given"


def _held_against(evidence: Evidence, cutter: Cutter, rows: Rows, allowed: Window, where: str
                  ) -> Iterator[Said]:
    chip = chips(evidence, cutter, rows)
    unknown = np.isnan(chip) & ~(turning(evidence)[rows] == 0)
    if unknown.any():
        yield Unchecked(f"chip load of {cutter.label}{where}",
                        f"{int(unknown.sum())} moves in material have no known feed or speed")
    thin, thick = chip < allowed.floor * (1 - EQUAL), chip > allowed.upper * (1 + EQUAL)
    if thin.any():
        yield _chip_thin(evidence, cutter, rows[thin], chip[thin], allowed.floor, where)
    if thick.any():
        yield _chip_thick(evidence, cutter, rows[thick], chip[thick], allowed.upper, where)


def _chip_thin(evidence: Evidence, cutter: Cutter, rows: Rows, chip: Floats, floor: float,
               where: str) -> Said:
    worst, scale = rows[chip.argmin()], evidence.job.units.scale
    speed, feed = float(turning(evidence)[worst]), float(evidence.motion.feed[worst])
    slower = math.floor(chip.min() / floor * speed / ROUND_SPEED) * ROUND_SPEED
    return repeated("chip-thin", evidence, rows, worst, about=cutter.label + where, value=chip.min(),
                    limit=floor, how=_how(evidence, rows, feed, speed),
                    fix=Phrase("Feed at {feed:feed} or more{or_turn}", {
                        "feed": math.ceil(floor / chip.min() * feed / scale - EQUAL) * scale,
                        "or_turn": _or_turn(evidence, cutter, slower, "less")}))


def _how(evidence: Evidence, rows: Rows, feed: float, speed: float) -> Phrase:
    """The feed and speed that a chip comes from, and for how long it does."""
    return Phrase("for {long:time} ({now:feed} at {speed:speed})", {
        "long": float(run_seconds(evidence)[rows].sum()), "now": feed, "speed": speed})


def _chip_thick(evidence: Evidence, cutter: Cutter, rows: Rows, chip: Floats, upper: float,
                where: str) -> Said:
    worst, scale = rows[chip.argmax()], evidence.job.units.scale
    speed, feed = float(turning(evidence)[worst]), float(evidence.motion.feed[worst])
    faster = math.ceil(chip.max() / upper * speed / ROUND_SPEED) * ROUND_SPEED
    return repeated("chip-thick", evidence, rows, worst, about=cutter.label + where, value=chip.max(),
                    limit=upper,
                    feed=math.floor(upper / chip.max() * feed / scale + EQUAL) * scale, now=feed, speed=speed,
                    or_turn=_or_turn(evidence, cutter, faster, "more"))


def _or_turn(evidence: Evidence, cutter: Cutter, speed: float, side: str) -> str:
    """The other way out, where spindle and cutter allow it."""
    low, high = evidence.job.machine.spindle or (0.0, math.inf)
    if low <= speed <= min(high, cutter.max_rpm or math.inf) and speed > 0:
        return f", or turn at {speed:.0f} rpm or {side}"
    return f" ({speed:.0f} rpm or {side} is not to be had here)"


def feed_limit(evidence: Evidence) -> Iterator[Said]:
    """A feed that the machine cannot reach."""
    motion, most = evidence.motion, evidence.job.machine.max_feed
    if most is None:
        if motion.is_feed.any():
            yield Unchecked("feeds that the machine can reach", "machine.max_feed is not given")
        return
    rows = np.flatnonzero(motion.feed > most * (1 + EQUAL))
    if len(rows):
        worst = rows[motion.feed[rows].argmax()]
        yield repeated("feed-limit", evidence, rows, worst, value=motion.feed[worst], limit=most)


def coolant_on_wood(evidence: Evidence) -> Iterator[Said]:
    """Coolant is on while wood is cut: a caution where it is liquid, a note where nobody said what it is."""
    machine = evidence.job.machine
    for code, name, switched in (("M7", "mist", machine.m7), ("M8", "flood", machine.m8)):
        rows = np.flatnonzero(cutting(evidence) & (evidence.motion.column(name) == 1))
        if not len(rows) or switched in ("air", "extraction"):
            continue
        for said, _, wet in by_material(evidence, rows):
            stuff = material(said)
            if stuff is None:
                yield Unchecked(f"coolant ({code}) on the board", "board.material is not given or not known")
            elif stuff.family == "wood":
                yield repeated("coolant-on-wood", evidence, wet, wet[0], about=code,
                               severity=Severity.CAUTION if switched else Severity.NOTE,
                               material=said, key=f"machine.{code.lower()}",
                               what="switches liquid" if switched else "may switch liquid")


def thin_by_width(evidence: Evidence) -> Iterator[Finding]:
    """Passes that meet so narrow a strip that their chips are under the window though the feed is right."""
    for cutter, rows in by_cutter(evidence, edge_moves(evidence)):
        allowed = window_in(evidence, cutter, rows)
        if allowed is None or cutter.edges is None:
            continue
        full, (chip, width) = chips(evidence, cutter, rows), thinned_chips(evidence, cutter, rows)
        thin = (chip < allowed.floor * (1 - EQUAL)) & (full >= allowed.floor * (1 - EQUAL))
        if thin.any():
            yield _sliver(evidence, cutter, rows[thin], chip[thin], width[thin], allowed.floor)


def _sliver(evidence: Evidence, cutter: Cutter, rows: Rows, chip: Floats, width: Floats, floor: float
            ) -> Finding:
    least, worst = int(chip.argmin()), rows[chip.argmin()]
    return repeated("chip-thin", evidence, rows, worst, severity=Severity.NOTE,
                    about=f"{cutter.label} on a narrow strip", value=chip[least], limit=floor,
                    how=Phrase("for {long:time}: the strip is {width:length} wide", {
                        "long": float(run_seconds(evidence)[rows].sum()), "width": width[least]}),
                    fix="Share the width out evenly between the passes, so that no narrow strip is left over")


def slow_corners(evidence: Evidence) -> Iterator[Finding]:
    """Corners at which the machine slows down so long that the edges rub."""
    for cutter, rows in by_cutter(evidence, edge_moves(evidence)):
        allowed = window_in(evidence, cutter, rows)
        slow = None if allowed is None else below_window(evidence, cutter, rows, allowed)
        if allowed is None or slow is None:
            continue
        stays = corner_stays(evidence, slow)
        corners = np.flatnonzero(stays > LONGEST)
        if len(corners):
            yield _slow_corner(evidence, cutter, corners, stays, allowed.floor)


def _slow_corner(evidence: Evidence, cutter: Cutter, corners: Rows, stays: Floats, floor: float) -> Finding:
    worst = int(corners[stays[corners].argmax()])
    speed, push = float(turning(evidence)[worst]), float(pushes(evidence)[worst])
    per_edge = speed * (cutter.edges or 1) / 60
    passed = float(passing(evidence)[worst])
    found = repeated("chip-thin", evidence, corners, worst, severity=Severity.NOTE,
                     about=f"{cutter.label} in corners", value=passed / per_edge, limit=floor,
                     how=Phrase("for {stay:time} (the machine slows down from {now:feed} to {slow:feed})", {
                         "stay": stays[worst], "now": float(evidence.motion.feed[worst]),
                         "slow": passed * 60}),
                     fix=Phrase("Round these corners in the program: an arc of {radius:length} is passed at "
                                "{feed:feed}", {"radius": (floor * per_edge)**2 / push,
                                                "feed": floor * per_edge * 60}))
    at = tuple(evidence.motion.start[worst].tolist())
    return replace(found, at=at, shown=evidence.motion.shown(worst, at))


CHECKS: tuple[Check, ...] = (chip_load, thin_by_width, slow_corners, feed_limit, coolant_on_wood)
