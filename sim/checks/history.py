"""What is known of the board's past: facings written down, against the thickness that the job gives.

The law: a facing's thickness is what was left after it. Facings count in the order of their dates, or as they
are written where one has none; the job is judged once, with its first stage. Millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from ...parser.finding import Finding, Phrase, finding
from ...parser.job import Facing
from ...parser.reading import Unchecked
from ..evidence import Check, Evidence, Said

ALLOWED = 0.2  # mm
NEARLY = 1e-9  # mm


class Why(NamedTuple):
    """What a thickness is held against, and what may be wrong."""

    leaves: str
    fix: str


COUNTED = Why("the facings before it leave", "a facing of {off:length} may be counted twice or left out")
MEASURED = Why("lie between the bed's top and the middle of the measured board",
               "or correct bed.top or the heights by {off:length}")


def history_doubt(evidence: Evidence) -> Iterator[Said]:
    """Thicknesses that do not follow from the one before and what was faced off since."""
    job, expected = evidence.job, None
    if evidence.stage is not job.stages[0] or not job.board.history:
        return
    for number, facing in enumerate(in_order(job.board.history), 1):
        if expected is not None:
            expected -= facing.depth or 0.0
        if facing.thickness is not None:
            yield from differing(f"facing {number} of the history", facing.thickness, expected)
            expected = facing.thickness
    if job.board.thickness is None or expected is None:
        yield Unchecked("past facings", "board.thickness is not given" if job.board.thickness is None
                        else "no facing of board.history gives the thickness it left")
        return
    yield from differing("board.thickness", job.board.thickness, expected)


def heights_doubt(evidence: Evidence) -> Iterator[Said]:
    """A measured board stands over its bed by another thickness than the job gives."""
    job, bed = evidence.job, evidence.job.bed.top if evidence.job.bed else None
    measured = job.board.survey is not None or job.board.surface is not None
    if evidence.stage is job.stages[0] and measured and bed is not None and job.board.thickness is not None:
        yield from differing("board.thickness", job.board.thickness, job.board.top - bed, MEASURED)


def in_order(history: tuple[Facing, ...]) -> list[Facing]:
    """The oldest facing first."""
    if any(facing.date is None for facing in history):
        return list(history)
    return sorted(history, key=lambda facing: facing.date or date.min)


def differing(about: str, thickness: float, expected: float | None, why: Why = COUNTED) -> Iterator[Finding]:
    if expected is not None and abs(thickness - expected) > ALLOWED + NEARLY:
        off = abs(thickness - expected)
        yield finding("history-doubt", about=about, value=thickness, limit=expected, off=off,
                      side="more" if thickness > expected else "less", leaves=why.leaves,
                      fix=Phrase(why.fix, {"off": off}))


CHECKS: tuple[Check, ...] = (history_doubt, heights_doubt)
