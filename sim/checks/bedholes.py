"""Drilled holes over the bed's holes: whether the screws that go through them find their thread.

The law: asked where a screw's thread is known and the bed has an opening under the hole; the play is half of
what the hole is wider than the thread. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...parser.finding import Finding, Phrase, Severity, finding
from ..breakthrough import breakthroughs
from ..evidence import Check, Evidence
from ..holes import FoundHole
from ..pairing import WantedHole
from ..pattern import over_bed, pairing_of
from ..seating import head_size
from ..solids import spots
from .alike import together
from .holes import NEARLY, first_line, shown_of

SCREW_AT = 0.5  # mm: a screw no farther from a hole goes through it


def off_the_bed(evidence: Evidence) -> Iterator[Finding]:
    """Holes for screws that lie farther from the bed's holes under them than the screws have play."""
    yield from together(each_off_the_bed(evidence))


def each_off_the_bed(evidence: Evidence) -> Iterator[Finding]:
    """A finding for each."""
    if not evidence.stage.holes or evidence.bed_top is None:
        return
    pairing, threads = pairing_of(evidence), list(screws(evidence))
    for wanted, found in pairing.pairs:
        over = breakthroughs(evidence).get(found.moves)
        thread = next((size for at, size in threads if wanted.from_(found) <= wanted.table.tolerance + NEARLY
                       and np.hypot(at[0] - wanted.at[0], at[1] - wanted.at[1]) <= SCREW_AT), None)
        if over is None or over.opening is None or thread is None or found.diameter <= thread:
            continue
        play = (found.diameter - thread) / 2
        if over.off > play + NEARLY:
            yield beside_the_bed(evidence, wanted, found, over.opening.at, play)


def screws(evidence: Evidence) -> Iterator[tuple[tuple[float, float], float]]:
    """The places and threads of the job's screws, as far as their threads are known."""
    for group in evidence.job.fasteners:
        thread = head_size(group).thread
        if thread is not None:
            yield from ((at, thread) for at, _ in spots(group.at, group.grid))


def beside_the_bed(evidence: Evidence, wanted: WantedHole, found: FoundHole, opening: tuple[float, float],
                   play: float) -> Finding:
    at = (*found.at, found.bottom)
    shift = opening[0] - found.at[0], opening[1] - found.at[1]
    fit = over_bed(evidence)
    fix = Phrase("Drill it at {there:place}: move it by {shift:place}", {
        "there": shown_of(evidence, (*opening, found.bottom), found)[:2], "shift": shift})
    if fit is not None and fit.left <= play + NEARLY:
        fix = Phrase("Move the zero by {back:place}: then the worst hole is {left:length} off the bed's",
                     {"back": fit.back, "left": fit.left})
    return finding("hole-off", severity=Severity.CAUTION, line=first_line(evidence, found), at=at,
                   shown=shown_of(evidence, at, found), value=float(np.hypot(*shift)), limit=play,
                   about=f"{wanted.number} over the bed", which=f"Hole {wanted.number}",
                   where="the bed's hole under it", allowed="is the play of its screw", fix=fix)


CHECKS: tuple[Check, ...] = (off_the_bed,)
