"""Heads, clamps, obstacles and bed: what the cutter meets, and what it only just misses.

The law: everything is read from the stage's exact clearances. All moves that meet one body are one
finding: it stands at the first of them, carries the worst, and counts them. A body that is struck
is not also said to be near.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

import numpy as np

from ...parser.finding import Finding, Phrase, finding
from ...parser.reading import Unchecked
from ..approach import NOISE, STRIKE, Approach, kind_of, wanted
from ..breakthrough import breakthroughs
from ..evidence import Evidence, Said
from ..solids import NEAR_CLAMP, BedSolid, ClampSolid, HeadSolid

SOFT = 1.0  # mm that a soft underlay may be marked


def met(evidence: Evidence, kind: str) -> Iterator[Sequence[Approach]]:
    """The contacts of a stage with bodies of one kind, one list for each body, in program order."""
    contacts = evidence.clearances.contacts
    of_kind = np.array([kind_of(body) == kind for body in contacts.bodies], bool)
    some = list(contacts.taken(np.flatnonzero(of_kind[contacts.which]))) if len(contacts) else []
    some.sort(key=lambda a: (a.about, a.move))
    for _, group in groupby(some, key=lambda a: a.about):
        yield list(group)




def heads(evidence: Evidence) -> Iterator[Said]:
    """head-strike and head-near, cover included."""
    if not evidence.job.fasteners:
        yield Unchecked("strikes on screw heads", "the job gives no [[fasteners]]")
    said = set()
    for group in met(evidence, "head"):
        said.add(group[0].about)
        strikes = [a for a in group if a.strikes]
        yield _head_strike(evidence, strikes) if strikes else _head_near(evidence, group)
    for about, swept in evidence.clearances.lowered.items():
        if about not in said and swept.gap < wanted(swept.body) - NOISE:
            yield _head_near(evidence, [swept])


def _head_strike(evidence: Evidence, strikes: Sequence[Approach]) -> Finding:
    worst = min(strikes, key=lambda a: a.gap)
    body, cutter = worst.body, evidence.cutters[worst.move]
    assert isinstance(body, HeadSolid)
    clear = body.near - worst.gap
    return folded(evidence, "head-strike", strikes, 0.0, cutter=cutter.label, part=body.part,
                  how=worst.branch.said, overlap=-worst.gap, stay=_no_lower(evidence, worst, clear),
                  deeper=clear, keep=body.near)


def _no_lower(evidence: Evidence, worst: Approach, clear: float) -> Phrase:
    """Where a cut, or the way between the holes of a cycle, has to stay."""
    motion, lowest = evidence.motion, {"lowest": shown_z(evidence, worst, clear)}
    between = motion.cycle[worst.move] and not motion.is_feed[worst.move]
    return Phrase(("Retract between the holes" if between else "Go") +
                  " no lower than Z {lowest:length} (as the control shows it)", lowest)


def _head_near(evidence: Evidence, near: Sequence[Approach]) -> Finding:
    worst = min(near, key=lambda a: a.gap)
    body = worst.body
    assert isinstance(body, HeadSolid)
    over = worst.at[2] - body.top >= worst.gap - NOISE
    what = "The cover left over" if over and evidence.motion.is_feed[worst.move] else "The gap to"
    return folded(evidence, "head-near", near, body.near, what=f"{what} the {body.part} of",
                   fix=_farther_from_head(evidence, worst, over))


def _farther_from_head(evidence: Evidence, worst: Approach, over: bool) -> Phrase:
    """Over a head less depth gives room; beside it only distance does, or going over it."""
    body = worst.body
    assert isinstance(body, HeadSolid)
    if over:
        return Phrase("Go {short:length} less deep there, or sink {about} by that much more",
                      {"short": body.near - worst.gap, "about": body.about})
    lowest = evidence.motion.shown(worst.move, (*worst.at[:2], body.top + body.near))[2]
    return Phrase("Keep {short:length} farther from {about}, or go over it at Z {lowest:length} or higher "
                  "(as the control shows it)",
                  {"short": body.near - worst.gap, "about": body.about, "lowest": lowest})


def clamps(evidence: Evidence) -> Iterator[Said]:
    """clamp-strike and clamp-near."""
    if not evidence.job.clamps:
        yield Unchecked("strikes on clamps", "the job gives no [[clamps]]")
    yield from _standing(evidence, "clamp", "clamp-strike", "clamp-near")


def obstacles(evidence: Evidence) -> Iterator[Said]:
    """obstacle-strike and obstacle-near."""
    yield from _standing(evidence, "obstacle", "obstacle-strike", "obstacle-near")


def _standing(evidence: Evidence, kind: str, strike: str, near_miss: str) -> Iterator[Finding]:
    """Strikes and near misses of what stands about the board."""
    for group in met(evidence, kind):
        strikes = [a for a in group if a.strikes]
        near = [a for a in group if a.gap < _limit(a) - NOISE]
        if strikes:
            yield _strike(evidence, strike, strikes)
        elif near:
            yield _near(evidence, near_miss, near)


def _limit(approach: Approach) -> float:
    """More is wanted beside a clamp than over it when it is set down by hand."""
    body = approach.body
    assert isinstance(body, ClampSolid)
    return body.beside if approach.at[2] < body.top + NEAR_CLAMP else body.near


def _strike(evidence: Evidence, kind: str, strikes: Sequence[Approach]) -> Finding:
    worst = min(strikes, key=lambda a: a.gap)
    body, cutter = worst.body, evidence.cutters[worst.move]
    assert isinstance(body, ClampSolid)
    return folded(evidence, kind, strikes, 0.0, cutter=cutter.label, overlap=-worst.gap,
                   how=worst.branch.said, over=higher(evidence, worst, -worst.gap + body.near))


def higher(evidence: Evidence, worst: Approach, lift: float) -> Phrase:
    """The Z that goes over a body; between the holes of a cycle that is where it retracts to."""
    motion, lowest = evidence.motion, {"lowest": shown_z(evidence, worst, lift)}
    if motion.cycle[worst.move] and not motion.is_feed[worst.move]:
        return Phrase("retract to Z {lowest:length} or higher between the holes (as the control shows it: "
                      "the cycle's R with G99; with G98 where it starts from)", lowest)
    return Phrase("go over it at Z {lowest:length} or higher (as the control shows it)", lowest)


def _near(evidence: Evidence, kind: str, near: Sequence[Approach]) -> Finding:
    worst = max(near, key=lambda a: _limit(a) - a.gap)
    limit, body = _limit(worst), worst.body
    assert isinstance(body, ClampSolid)
    what = "Move the clamp" if kind == "clamp-near" else "Keep"
    beside = Phrase(what + " {short:length} farther away", {"short": limit - worst.gap})
    over = higher(evidence, worst, body.top + body.near - worst.at[2])
    return folded(evidence, kind, near, limit, cutter=evidence.cutters[worst.move].label,
                   how=worst.branch.said, fix=beside if worst.at[2] < body.top else over, worst=worst)


def bed(evidence: Evidence) -> Iterator[Said]:
    """bed-strike; a soft underlay may be marked."""
    if evidence.bed_top is None:
        yield Unchecked("strikes on the bed", "neither bed.top nor board.thickness is given")
    for group in met(evidence, "bed"):
        body = group[0].body
        assert isinstance(body, BedSolid)
        allowed = SOFT if body.soft else 0.0
        strikes = [a for a in group if a.gap < -allowed - STRIKE]
        if strikes:
            worst = min(strikes, key=lambda a: a.gap)
            cutter = evidence.cutters[worst.move]
            yield folded(evidence, "bed-strike", strikes, 0.0 - allowed, cutter=cutter.label,
                          overlap=-worst.gap, how=worst.branch.said,
                          lowest=shown_z(evidence, worst, -worst.gap - allowed),
                          more=more_room(evidence, [a.move for a in strikes]))


def more_room(evidence: Evidence, moves: Sequence[int]) -> Phrase | str:
    """Where the bed is met by holes that are wanted through: what no depth gives them, and what would."""
    struck = set(moves)
    barred = [each for each in breakthroughs(evidence).values()
              if not each.possible and struck.intersection(each.hole.moves)]
    if not barred or not any(table.through for table in evidence.stage.holes):
        return ""
    worst = max(barred, key=lambda each: each.ring)
    return Phrase("; no depth gives holes of {wide:length} through here without touching metal: the mouths "
                  "under them have to be {mouth:length} wide, or a sheet of {ring:length} has to lie under "
                  "the board",
                  {"wide": worst.hole.diameter, "mouth": worst.mouth, "ring": worst.ring})


def folded(evidence: Evidence, kind: str, group: Sequence[Approach], limit: float, *,
            worst: Approach | None = None, **numbers: Any) -> Finding:
    """One finding for all moves of a group: the first one's place, the worst one's numbers."""
    motion, first = evidence.motion, group[0]
    worst = worst or min(group, key=lambda a: a.gap)
    lines = motion.line[[a.move for a in group]]
    said = finding(kind, line=int(lines[0]), at=first.at, shown=motion.shown(first.move, first.at),
                   value=worst.gap, limit=limit, about=first.about, **numbers)
    return replace(said, count=len(group), last_line=int(lines.max()))


def shown_z(evidence: Evidence, approach: Approach, lift: float) -> float:
    """Z on the control's display when the tip is so much higher than it was there."""
    x, y, z = approach.at
    return evidence.motion.shown(approach.move, (x, y, z + lift))[2]


CHECKS = (heads, clamps, obstacles, bed)
