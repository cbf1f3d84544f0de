"""Whether the wanted holes are drilled: all of them, where, how wide, how deep, and no others.

The law: in stages with `holes` only. A counterbore over its own clearance hole is neither extra nor of
wrong size; a tip that comes through is not a hole that does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from ...parser.finding import Finding, Phrase, Severity, finding
from ...parser.reading import Unchecked
from ..breakthrough import Breakthrough, breakthroughs
from ..evidence import Check, Evidence, Said
from ..holes import FoundHole
from ..pairing import Pairing, WantedHole
from ..pattern import pairing_of, what_mends
from ..plan import SIZE_ALLOWED, disc
from ..stage_figures import HoleFigures
from .alike import together

Place = tuple[float, float, float]

EXACT = 1e-4  # mm: how far short of its depth a hole may end
NEARLY = 1e-6  # mm
ONE_AXIS = 0.2  # mm: holes no farther apart share an axis


def holes(evidence: Evidence) -> Iterator[Said]:
    """Every wanted and every drilled hole of the stage."""
    if not evidence.stage.holes:
        return
    pairing, mends = pairing_of(evidence), what_mends(evidence)
    yield from unchecked(evidence)
    for wanted in pairing.missing:
        yield missing(evidence, wanted, mends)
    for number, found in enumerate(without_counterbores(pairing), 1):
        yield extra(evidence, found, number, mends, pairing)
    yield from together(said for pair in pairing.pairs for said in wrong(evidence, *pair, mends))
    for wanted, found in pairing.pairs:
        yield from doubled(evidence, wanted, found)
    yield from never_through(evidence, pairing)


def unchecked(evidence: Evidence) -> Iterator[Unchecked]:
    """What a stage's holes cannot be held against."""
    for table in evidence.stage.holes:
        if table.diameter is None:
            yield Unchecked("hole size", f"a diameter of the holes of {evidence.stage.name} is not given")
        if table.through and any(piece.underside is None for piece in evidence.lying):
            yield Unchecked("whether holes come through", "board.thickness is not given")
        if not table.through and table.depth is None:
            yield Unchecked("hole depth", f"neither depth nor through is given in {evidence.stage.name}")


def deepest_wanted(evidence: Evidence, wanted: WantedHole) -> float | None:
    """Z down to which the full diameter has to reach, None where nothing says it."""
    if wanted.table.through:
        return evidence.piece_at(wanted.at).underside
    return None if wanted.table.depth is None else evidence.piece_at(wanted.at).top - wanted.table.depth


def without_counterbores(pairing: Pairing) -> list[FoundHole]:
    """Drilled holes that nobody wants, but for a counterbore and the clearance hole under it."""
    return [hole for hole in pairing.extra
            if not any(counterbored(hole, other) or counterbored(other, hole) for _, other in pairing.pairs)]


def counterbored(wide: FoundHole, narrow: FoundHole) -> bool:
    """Whether one hole is a counterbore over another: on one axis, wider and less deep."""
    apart = np.hypot(wide.at[0] - narrow.at[0], wide.at[1] - narrow.at[1])
    return bool(apart <= ONE_AXIS and wide.diameter > narrow.diameter and wide.bottom > narrow.bottom)


def over_earlier_hole(evidence: Evidence, wanted: WantedHole, found: FoundHole) -> bool:
    """Whether a wider hole is a counterbore over a wanted one that an earlier stage drilled."""
    if wanted.diameter is None or found.diameter <= wanted.diameter:
        return False
    return bool(shapely.covers(evidence.drilled, disc(wanted.at, wanted.diameter / 2 - SIZE_ALLOWED)))


def wrong(evidence: Evidence, wanted: WantedHole, found: FoundHole, mends: Phrase | None
          ) -> Iterator[Finding]:
    """What is wrong with a hole that is drilled where one is wanted."""
    if wanted.from_(found) > wanted.table.tolerance + NEARLY:
        yield off(evidence, wanted, found, mends)
    if over_earlier_hole(evidence, wanted, found):
        return
    limit = deepest_wanted(evidence, wanted)
    if limit is not None and found.bottom > limit + EXACT and not barred(evidence, wanted, found):
        yield shallow(evidence, wanted, found, limit)
    if wanted.diameter is not None and abs(found.diameter - wanted.diameter) > SIZE_ALLOWED + NEARLY:
        yield size(evidence, wanted, found)


def missing(evidence: Evidence, wanted: WantedHole, mends: Phrase | None) -> Finding:
    at = (*wanted.at, evidence.piece_at(wanted.at).top)
    shown = shown_of(evidence, at)
    return finding("hole-missing", at=at, shown=shown, about=str(wanted.number), wanted=shown[:2],
                   fix=mends or Phrase("Add a hole at {wanted:place}, or take it out of the stage's holes",
                                       {"wanted": shown[:2]}))


def extra(evidence: Evidence, found: FoundHole, number: int, mends: Phrase | None, pairing: Pairing
          ) -> Finding:
    at = (*found.at, found.bottom)
    shown = shown_of(evidence, at, found)
    beside = next((wanted for wanted, other in pairing.pairs if wanted.from_(found) < other.diameter), None)
    what = "where none is wanted" if beside is None else (
        f"where none is wanted, into hole {beside.number}: it is drilled twice")
    return finding("hole-extra", line=found.line, at=at, shown=shown, about=f"extra {number}",
                   diameter=found.diameter, where=shown[:2], what=what,
                   fix=mends or Phrase("Take the hole at {where:place} out of the program, or add it to the "
                                       "stage's holes", {"where": shown[:2]}))


def doubled(evidence: Evidence, wanted: WantedHole, found: FoundHole) -> Iterator[Finding]:
    """A hole that the program comes back to without going deeper: a line too many, and often one too few."""
    motion, rows = evidence.motion, np.array(found.moves)
    visits = [visit for visit in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
              if motion.is_feed[visit].any() and motion.arc[visit].max() < 0]
    for before, again in pairwise(visits):
        between = motion.end[before[-1] + 1:again[0], :2]
        away = np.hypot(*(between - found.at).T).max(initial=0.0) > found.diameter
        deeper = motion.end[again, 2].min() < motion.end[before, 2].min() - EXACT
        if away and not deeper and evidence.cutter(int(before[0])) is evidence.cutter(int(again[0])):
            yield once_more(evidence, wanted, found, int(before[0]), again)


def once_more(evidence: Evidence, wanted: WantedHole, found: FoundHole, before: int,
              again: NDArray[np.intp]) -> Finding:
    motion, row = evidence.motion, int(again[0])
    at, line = (*found.at, float(motion.end[again, 2].min())), int(motion.line[row])
    shown = motion.shown(row, at)
    return finding("hole-extra", severity=Severity.NOTE, line=line, at=at, shown=shown,
                   about=f"{wanted.number} again", diameter=found.diameter, where=shown[:2],
                   what=f"a second time (hole {wanted.number}, line {int(motion.line[before])})",
                   fix=Phrase("Take line {line} out, or give it the place of the hole that it was meant for",
                              {"line": line}))


def off(evidence: Evidence, wanted: WantedHole, found: FoundHole, mends: Phrase | None) -> Finding:
    at = (*found.at, found.bottom)
    shift = wanted.at[0] - found.at[0], wanted.at[1] - found.at[1]
    there = shown_of(evidence, (*wanted.at, found.bottom), found)[:2]
    return finding("hole-off", line=first_line(evidence, found), at=at, shown=shown_of(evidence, at, found),
                   value=wanted.from_(found), limit=wanted.table.tolerance, about=str(wanted.number),
                   which=f"Hole {wanted.number}", where="where it is wanted", allowed="is allowed",
                   fix=mends or Phrase("Drill it at {wanted:place}: move it by {shift:place}",
                                       {"wanted": there, "shift": shift}))


def shallow(evidence: Evidence, wanted: WantedHole, found: FoundHole, limit: float) -> Finding:
    at, deeper = (*found.at, found.bottom), found.bottom - limit
    tip = shown_of(evidence, (*found.at, found.tip), found)[2]
    why = "to come through; the tip alone is not enough" if wanted.table.through else "for the wanted depth"
    return finding("hole-shallow", line=found.line, at=at, shown=shown_of(evidence, at, found),
                   value=found.bottom, limit=limit, about=str(wanted.number), which=f"Hole {wanted.number}",
                   why=why, fix=Phrase(
                       "Drill {deeper:length} deeper: program Z {wanted:length} instead of "
                       "{programmed:length}",
                       {"deeper": deeper, "wanted": tip - deeper, "programmed": tip}))


def barred(evidence: Evidence, wanted: WantedHole, found: FoundHole) -> Breakthrough | None:
    """Where `through` cannot be had: the point touches the bed before the full diameter is through."""
    over = breakthroughs(evidence).get(found.moves) if wanted.table.through else None
    return over if over is not None and not over.possible else None


def never_through(evidence: Evidence, pairing: Pairing) -> Iterator[Finding]:
    """One finding for all holes that stop short where no depth gives them a full diameter."""
    short = [(wanted, found, over) for wanted, found in pairing.pairs
             if (over := barred(evidence, wanted, found)) and found.bottom > (
                 deepest_wanted(evidence, wanted) or -np.inf) + EXACT]
    if not short:
        return
    wanted, found, over = max(short, key=lambda each: each[2].ring)
    at, lines = (*found.at, found.bottom), [hole.line for _, hole, _ in short]
    which = f"Hole {wanted.number}" if len(short) == 1 else f"Each of {len(short)} holes"
    said = finding("hole-shallow", line=min(lines), at=at, shown=shown_of(evidence, at, found),
                   value=found.bottom, limit=deepest_wanted(evidence, wanted),
                   about="holes through to the bed", which=which, fix=room_for_the_point(evidence, over),
                   why=Phrase("to come through, and no depth gives it: the point touches metal "
                              "{touches:length} under the bed's face and would have to go {needs:length} "
                              "under it", {"touches": over.touches, "needs": over.needs}))
    yield replace(said, count=len(short), last_line=max(lines))


def room_for_the_point(evidence: Evidence, over: Breakthrough) -> Phrase:
    """What lets a drill through, and what it comes to without."""
    piece = evidence.piece_at(over.hole.at)
    depth = (piece.thickness or 0.0) - over.ring
    bed = ("Chamfer the mouths of the bed's holes to {mouth:length}" if over.opening is not None
           else "Give the bed its holes, {mouth:length} wide, where there are any")
    return Phrase(bed + ", or lay a sheet of {ring:length} or more under the board; else want "
                  "depth = {depth:length} and clear the ring of {ring:length} by hand",
                  {"mouth": over.mouth, "ring": over.ring, "depth": depth})


def size(evidence: Evidence, wanted: WantedHole, found: FoundHole) -> Finding:
    at, diameter = (*found.at, found.bottom), wanted.diameter or 0.0
    turned = any(evidence.motion.arc[row] >= 0 for row in found.moves)
    fix, number = ("Use a cutter of", diameter) if not turned else (
        "Correct the radius of its path by", (diameter - found.diameter) / 2)
    return finding("hole-size", line=found.line, at=at, shown=shown_of(evidence, at, found),
                   value=found.diameter, limit=diameter, about=str(wanted.number),
                   which=f"Hole {wanted.number}", fix=fix, number=number)


def first_line(evidence: Evidence, found: FoundHole) -> int:
    return int(evidence.motion.line[found.moves[0]])


def shown_of(evidence: Evidence, at: Place, found: FoundHole | None = None) -> Place:
    """A place as the control shows it while a hole is drilled (None: any of the stage's)."""
    if found is None and evidence.found:
        found = evidence.found[0]
    if found is not None:
        return evidence.motion.shown(found.moves[0], at)
    x, y, z = evidence.stage.zero
    return at[0] - x, at[1] - y, at[2] - z


def hole_figures(evidence: Evidence) -> list[HoleFigures]:
    """The drilled holes of a stage that wants holes, in the order in which the program comes to them."""
    if not evidence.stage.holes:
        return []
    pairing = pairing_of(evidence)
    wanted = {found.moves: want for want, found in pairing.pairs}
    drilled = sorted([*(found for _, found in pairing.pairs), *pairing.extra], key=lambda hole: hole.moves[0])
    return [_figures(evidence, hole, wanted.get(hole.moves)) for hole in drilled]


def _figures(evidence: Evidence, hole: FoundHole, wanted: WantedHole | None) -> HoleFigures:
    under = evidence.piece_at(hole.at).underside
    return HoleFigures(
        at=hole.at, wanted=wanted.at if wanted else None, diameter=hole.diameter, bottom=hole.bottom,
        through=under is not None and hole.bottom <= under + EXACT,
        error=wanted.from_(hole) if wanted else None, line=hole.line,
        ring=ring(under, hole))


def ring(under: float | None, hole: FoundHole) -> float | None:
    """Height of the ring that stays at the bottom where the tip comes through and the full diameter does not;
    None where there is none."""
    if under is None or hole.tip >= under - EXACT or hole.bottom <= under + EXACT:
        return None
    return hole.bottom - under


CHECKS: tuple[Check, ...] = (holes,)
