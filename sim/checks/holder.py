"""What rides above the cutter and meets something: a wide shank, the nut, the spindle's nose, the dust shoe.

The law: against bodies the stage's exact clearances are read, against the board what the cut was asked on the
way: the board as it then is. All moves that bring one part against one thing are one finding; of several
parts over one cutter the one that stands deepest is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import numpy as np

from ...parser.finding import Finding, Phrase, finding
from ...parser.job import Cutter
from ...parser.reading import Unchecked
from ..approach import Approach, Approaches, Solid
from ..evidence import Check, Evidence, Said, once
from ..holder import part_at
from ..shoe import HARD, Layer, layers_of, shoe_of
from ..solids import BedSolid, HeadSolid
from ..underboard import Under, under_board
from .strikes import folded, higher
from .ways import name_of

KEEP = 2.0  # mm wanted between what turns and anything else: common practice, no published source
BOARD = "the board"


def holder_on_bodies(evidence: Evidence) -> Iterator[Finding]:
    """holder-strike: shank, nut and nose against heads, clamps, obstacles and bed."""
    for group in by_body(evidence.clearances.above.contacts):
        worst = min(group, key=lambda a: a.gap)
        cutter = evidence.cutters[worst.move]
        part = part_at(worst, cutter, evidence.job.machine).part
        yield _on_body(evidence, group, worst, part, _more(cutter, part, KEEP - worst.gap))


def shoe_on_bodies(evidence: Evidence) -> Iterator[Finding]:
    """holder-strike: the dust shoe's hard part against the same."""
    for group in by_body(evidence.clearances.above.shoe):
        worst = min(group, key=lambda a: a.gap)
        yield _on_body(evidence, group, worst, HARD, _off(evidence, group, KEEP - worst.gap))


def by_body(contacts: Approaches) -> Iterator[list[Approach]]:
    """Strikes, one list for each body, in program order."""
    some = sorted(contacts, key=lambda a: (a.about, a.move))
    for _, group in groupby(some, key=lambda a: a.about):
        yield list(group)


def _on_body(evidence: Evidence, group: Sequence[Approach], worst: Approach, part: str, fix: Phrase
             ) -> Finding:
    over = higher(evidence, worst, KEEP - worst.gap)
    return folded(evidence, "holder-strike", group, 0.0, part=part, cutter=evidence.cutters[worst.move].label,
                  thing=thing(worst.body), how=worst.branch.said, overlap=-worst.gap,
                  fix=Phrase("{fix}, or {over}", {"fix": fix, "over": over}))


def thing(body: Solid) -> str:
    """What a part meets, with its article."""
    if isinstance(body, BedSolid):
        return "the bed"
    return f"the {body.part} of {body.about}" if isinstance(body, HeadSolid) else name_of(body)


def _more(cutter: Cutter, part: str, short: float) -> Phrase:
    if part == "shank":
        return Phrase("Take a cutter whose flutes are {short:length} longer", {"short": short})
    return Phrase("Let the cutter stand out {short:length} farther (stickout {stickout:length})",
                  {"short": short, "stickout": (cutter.stickout or 0.0) + short})


def _off(evidence: Evidence, group: Sequence[Approach], short: float) -> Phrase:
    lines = evidence.motion.line[[a.move for a in group]]
    return _shoe_off(int(lines.min()), int(lines.max()), short)


def _shoe_off(first: int, last: int, short: float) -> Phrase:
    return Phrase("Set the dust shoe {short:length} higher or take it off for lines {first} to {last}",
                  {"short": short, "first": first, "last": last})


# --- against the board --------------------------------------------------------------------------------

def holder_on_board(evidence: Evidence) -> Iterator[Finding]:
    """holder-strike: shank, nut and nose against the board as it then is."""
    for cutter in evidence.used:
        touches = [(part, rows, depth) for part, rows, depth in board_touches(evidence)
                   if evidence.cutters[rows[0]] is cutter]
        if touches:
            part, rows, depth = max(touches, key=lambda each: each[2].max())
            short = float(depth.max()) + KEEP
            yield _on_board(evidence, part, rows, depth, _more(cutter, part, short))


@once
def board_touches(evidence: Evidence) -> list[tuple[str, np.ndarray, np.ndarray]]:
    """(part, moves that bring it below the board, by how much) of each disc over each cutter."""
    found = []
    for look, depth, _ in evidence.cut.looked:
        rows = np.flatnonzero(depth > 0)
        if len(rows) and not look.after:
            found.append((look.name, rows, depth[rows]))
    return found


def shoe_on_board(evidence: Evidence) -> Iterator[Finding]:
    """holder-strike: the dust shoe's hard part against the board."""
    under = hard_under_board(evidence)
    if under is not None and len(under.rows):
        lines = evidence.motion.line[under.rows]
        fix = _shoe_off(int(lines.min()), int(lines.max()), float(under.depth.max()) + KEEP)
        yield _on_board(evidence, HARD, under.rows, under.depth, fix)


@once
def hard_under_board(evidence: Evidence) -> Under | None:
    """Where the shoe's hard part is below the board; None where there is no shoe."""
    layers = layers_of(shoe_of(evidence.job.machine, evidence.cutters))
    return under_board(evidence, layers[0]) if layers else None


def _on_board(evidence: Evidence, part: str, rows: np.ndarray, depth: np.ndarray, fix: Phrase) -> Finding:
    first, worst = int(rows[0]), int(rows[np.argmax(depth)])
    deep = float(depth.max())
    lowest = evidence.motion.shown(worst, (0.0, 0.0, low_end(evidence, worst)[2] + deep + KEEP))[2]
    fix = Phrase("{fix}, or go no lower than Z {lowest:length} there (as the control shows it)",
                 {"fix": fix, "lowest": lowest})
    return _moved(evidence, rows, finding(
        "holder-strike", value=-deep, limit=0.0, about=BOARD, part=part, **_where(evidence, first),
        cutter=evidence.cutters[worst].label, thing=BOARD, how="", overlap=deep, fix=fix))


def _where(evidence: Evidence, row: int) -> dict:
    at = low_end(evidence, row)
    return {"line": int(evidence.motion.line[row]), "at": at, "shown": evidence.motion.shown(row, at)}


def low_end(evidence: Evidence, row: int) -> list[float]:
    """The lower end of a move."""
    ends = evidence.motion.start[row].tolist(), evidence.motion.end[row].tolist()
    return min(ends[::-1], key=lambda end: end[2])


def _moved(evidence: Evidence, rows: np.ndarray, found: Finding) -> Finding:
    return replace(found, count=len(rows), last_line=int(evidence.motion.line[rows].max()))


# --- brushes ------------------------------------------------------------------------------------------

def shoe_brush(evidence: Evidence) -> Iterator[Finding]:
    """Brushes bent more than they may be, or over a screw that stands out of the board; what the hard part
    strikes is told already."""
    shoe, struck = evidence.job.machine.shoe, {a.about for a in evidence.clearances.above.shoe}
    for group in by_body(evidence.clearances.above.brushes):
        if group[0].about in struck:
            continue
        worst = min(group, key=lambda a: a.gap)
        body, cutter = worst.body, evidence.cutters[worst.move].label
        limit = 0.0 if isinstance(body, HeadSolid) or shoe is None else shoe.bend
        said = folded(evidence, "shoe-brush", group, limit, cutter=cutter, thing=thing(body),
                      fix=_off(evidence, group, -worst.gap - limit))
        yield replace(said, value=-worst.gap)
    hard = hard_under_board(evidence)
    brushes = layers_of(shoe_of(evidence.job.machine, evidence.cutters))[1:]
    for layer in brushes if hard is None or not len(hard.rows) else ():
        yield from _on_the_board(evidence, layer, under_board(evidence, layer))


def _on_the_board(evidence: Evidence, layer: Layer, under: Under) -> Iterator[Finding]:
    if not len(under.rows):
        return
    lines, most = evidence.motion.line[under.rows], float(under.depth.max())
    yield _moved(evidence, under.rows, finding(
        "shoe-brush", value=most, limit=layer.slack, about=BOARD, thing=BOARD,
        cutter=evidence.cutters[int(under.rows[0])].label, **_where(evidence, int(under.rows[0])),
        fix=_shoe_off(int(lines.min()), int(lines.max()), most - layer.slack)))


def not_known(evidence: Evidence) -> Iterator[Said]:
    """What keeps the shank and the shoe from being looked at."""
    machine = evidence.job.machine
    for cutter in evidence.used:
        wide = cutter.shank is not None and cutter.diameter is not None and cutter.shank > cutter.diameter
        if wide and cutter.flute_length is None:
            yield Unchecked(f"shank of {cutter.label}", "the cutter's flute_length is not given")
        if machine.shoe is not None and cutter.stickout is None:
            yield Unchecked(f"dust shoe with {cutter.label}", "the cutter's stickout is not given")
    if machine.shoe is not None and not machine.shoe.moves:
        yield Unchecked("height of the dust shoe",
                        "it does not ride with Z: taken as it is with the tip at the stage's zero")


OF_BODIES: tuple[Check, ...] = (holder_on_bodies, shoe_on_bodies)
CHECKS: tuple[Check, ...] = (*OF_BODIES, holder_on_board, shoe_on_board, shoe_brush, not_known)
