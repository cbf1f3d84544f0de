"""Cutters that are hardly meant for what they do, or that need a second look before they turn.

The law: each doubt is told once for a cutter and says what it rests on. A length offset that was not renewed
after a change is told where the program is read.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...parser.finding import Finding, Phrase, finding
from ...parser.job import Cutter
from ..evidence import Check, Evidence
from ..feeds import by_cutter, cutting
from ..plan import SIZE_ALLOWED
from .holes import over_earlier_hole, pairing_of, shown_of
from .repeats import repeated

NEARLY = 1e-6  # mm


def drilled_by_facing(evidence: Evidence) -> Iterator[Finding]:
    """A drilling cycle runs with a facing cutter in the spindle."""
    for cutter, rows in by_cutter(evidence, evidence.motion.cycle & evidence.motion.is_feed):
        if cutter.shape == "facing":
            yield repeated("cutter-doubtful", evidence, rows, rows[0], about=cutter.label,
                           what=Phrase("A drilling cycle runs with {cutter} in the spindle",
                                       {"cutter": cutter.label}),
                           fix=Phrase("Load the drill (T and M6) before line {line}",
                                      {"line": int(evidence.motion.line[rows[0]])}))


def narrower_holes(evidence: Evidence) -> Iterator[Finding]:
    """Wanted holes that are narrower than the cutter that makes them."""
    for wanted, found in pairing_of(evidence).pairs if evidence.stage.holes else ():
        cutter: Cutter = evidence.cutters[found.moves[0]]
        width, meant = cutter.diameter or 0.0, wanted.diameter or np.inf
        if width > meant + SIZE_ALLOWED + NEARLY and not over_earlier_hole(evidence, wanted, found):
            at = (*found.at, found.tip)
            yield finding(
                "cutter-doubtful", line=found.line, at=at, shown=shown_of(evidence, at, found), value=width,
                limit=meant, about=f"{cutter.label} in narrow holes",
                what=Phrase("{cutter}, {width:length} wide, drills hole {hole}, meant {meant:length} wide",
                            {"cutter": cutter.label, "width": width, "hole": wanted.number, "meant": meant}),
                fix=Phrase("Put a cutter of {meant:length} in the spindle before line {line}",
                           {"meant": meant, "line": found.line}))


def inserts_removed(evidence: Evidence) -> Iterator[Finding]:
    """A cutter that turns with some of its inserts taken out."""
    for cutter, _ in by_cutter(evidence, cutting(evidence)):
        if cutter.seats and cutter.edges and cutter.edges < cutter.seats:
            yield finding("cutter-doubtful", about=f"inserts of {cutter.label}",
                          what=Phrase("{cutter} turns with {edges} of its {seats} inserts: out of balance it "
                                      "shakes, and a loose seat throws its insert",
                                      {"cutter": cutter.label, "edges": cutter.edges, "seats": cutter.seats}),
                          fix="Take inserts out in opposite pairs of equal mass only, 2 at a time, and never "
                              "fewer than its maker allows")


CHECKS: tuple[Check, ...] = (drilled_by_facing, narrower_holes, inserts_removed)
