"""Chips in deep holes: how far a drill goes before it comes up to clear them, and cutters that stand still.

The law: depth counts from the surface before the stage to the tip, and afresh from where the tip was when it
last came out of the board. A dwell counts where the tip ends a feed move in material.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from ...parser.finding import Phrase, finding
from ...parser.motion import Floats, Happening
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Said
from ..feeds import cutting
from ..holes import FoundHole, holes_in
from ..materials import material
from ..seating import cells_between

DEEPEST = {"wood": 4.0, "plastic": 2.0}  # diameters drilled in one go: common practice, no published source
PECK = 1.5  # diameters: one to two are usual in wood-based board; common practice, no published source
LONGEST = 0.5  # s that a cutter may stand in wood: common practice, no published source
SLACK = 1e-6  # mm


def chips_packed(evidence: Evidence) -> Iterator[Said]:
    """A drill that goes too deep without coming out."""
    holes = [hole for hole in drilled(evidence) if evidence.cutters[hole.moves[0]].diameter]
    for number, hole in enumerate(holes, 1):
        stuff = material(evidence.piece_at(hole.at).material)
        if stuff is None or stuff.family not in DEEPEST:
            yield Unchecked("chips in deep holes", "board.material is not given, or no rule is known for it")
            continue
        drill = evidence.cutters[hole.moves[0]]
        run, row = longest_run(evidence.motion.end[list(hole.moves), 2], hole.moves, surface(evidence, hole))
        deepest = DEEPEST[stuff.family] * drill.diameter
        if run > deepest + SLACK:
            at = evidence.motion.end[row]
            yield finding("chips-packed", line=int(evidence.motion.line[row]), at=at,
                          shown=evidence.motion.shown(row, at), value=run, limit=deepest,
                          about=f"drilled hole {number}",
                          what=Phrase("{drill} goes {run:length} deep without coming out: its chips pack", {
                              "drill": drill.label, "run": run}),
                          fix=Phrase("Come out of the board every {peck:length} (G83 with Q)", {
                              "peck": PECK * drill.diameter}))


def drilled(evidence: Evidence) -> tuple[FoundHole, ...]:
    """The holes that drills make, also in stages that want none."""
    if not any(cutter.shape == "drill" for cutter in evidence.used):
        return ()
    holes = evidence.found or holes_in(evidence.lying, evidence.motion, evidence.cutters)
    return tuple(hole for hole in holes if evidence.cutters[hole.moves[0]].shape == "drill")


def surface(evidence: Evidence, hole: FoundHole) -> float:
    """Z of the board where a hole begins: the highest cell about the drill's middle before the stage."""
    before = replace(evidence.surface, heights=evidence.cut.before)
    under = cells_between(before, hole.at, 0.0, hole.diameter / 4)
    return float(under.max()) if len(under) else evidence.piece_at(hole.at).top


def longest_run(z: Floats, moves: Sequence[int], top: float) -> tuple[float, int]:
    """The greatest depth drilled without coming out, and the move that made it."""
    deepest, cleared, best, row = top, top, 0.0, moves[0]
    for height, move in zip(z.tolist(), moves, strict=True):
        deepest = min(deepest, height)
        if cleared - deepest > best + SLACK:
            best, row = cleared - deepest, move
        if height >= top - SLACK:
            cleared = deepest
    return best, row


def standing(evidence: Evidence) -> Iterator[Said]:
    """A cutter that stands in wood: it burns."""
    taken, motion = cutting(evidence), evidence.motion
    for event in motion.events:
        row = event.before - 1
        if event.kind is Happening.DWELL and event.value > LONGEST + SLACK and row >= 0 and taken[row]:
            at = motion.end[row]
            stuff = material(evidence.piece_at((float(at[0]), float(at[1]))).material)
            if stuff is None or stuff.family != "wood":
                continue
            cutter = evidence.cutters[row].label
            yield finding("chips-packed", line=event.line, at=at, shown=motion.shown(row, at),
                          about=f"dwell of {cutter}", what=Phrase(
                              "{cutter} stands in the wood for {wait:time} and burns it",
                              {"cutter": cutter, "wait": event.value}),
                          fix=Phrase("Let it stand for {most:time} at most", {"most": LONGEST}))


CHECKS: tuple[Check, ...] = (chips_packed, standing)
