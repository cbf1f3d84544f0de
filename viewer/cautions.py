"""The usual cautions, short, those that this job calls for: what it cuts, turns, moves and holds.

The law: each is common practice, no published source, and stands below what the makers of machine and cutter,
licensed practice and the rules of the place say. None says that anything is safe.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..parser.job import Cutter, Job
from ..parser.motion import Happening
from ..sim.materials import material
from ..sim.result import Result

WIDE = 20.0  # mm: a facing cutter from here on is loud
STUFF = {
    "wood": "Dust of wood board harms lungs: extraction on, a respirator. Fine dust and a hot spark burn in "
            "the collector; empty hot dust outside, an extinguisher near.",
    "plastic": "Chips of plastic are long and soften with heat: do not let the cutter stand in the cut, and "
               "keep them from winding round it.",
    "metal": "Chips of metal are hot and sharp: eyes covered, and none of them into a collector that holds "
             "wood dust.",
}


def cautions(result: Result) -> list[str]:
    """The cautions for a job, as sentences."""
    return [*_stuff(result.job), *_cutters(result), *_hands(result), *_holding(result.job)]


def _stuff(job: Job) -> Iterator[str]:
    said = (job.board.material, *(part.material for part in job.board.parts))
    families = dict.fromkeys(stuff.family for name in said if (stuff := material(name)) is not None)
    yield from (STUFF[family] for family in families)


def _cutters(result: Result) -> Iterator[str]:
    labels = {feeds.cutter for stage in result.stages for feeds in stage.feeds}
    used = [cutter for cutter in result.job.cutters if cutter.label in labels]
    for cutter in used:
        yield from _cutter(cutter, result.job)
    if any(cutter.shape == "facing" and (cutter.diameter or 0.0) >= WIDE for cutter in used):
        yield "A wide cutter and an extractor together are louder than ears bear for long: cover them."


def _cutter(cutter: Cutter, job: Job) -> Iterator[str]:
    if cutter.max_rpm is not None:
        most = job.units.text(cutter.max_rpm, "speed")
        yield f"{_opened(cutter.label)}: never faster than the {most} marked on it, the knob counted in."
    else:
        yield f"{_opened(cutter.label)}: read the speed marked on it, and never turn it faster."
    if cutter.seats and cutter.edges and cutter.edges < cutter.seats:
        yield (f"{_opened(cutter.label)} turns with {cutter.edges} of {cutter.seats} inserts: only opposite "
               "pairs of equal mass come out, never more than its maker allows.")


def _hands(result: Result) -> Iterator[str]:
    changes = any(stage.changes for stage in result.job.stages)
    events = [event for record in result.records for event in record.reading.motion.events]
    if changes or any(event.kind in (Happening.STOP, Happening.OPTIONAL_STOP) for event in events):
        yield "At a stop the spindle coasts on: hands stay away until it stands."
    if any(event.kind is Happening.CUTTER for event in events):
        yield "Isolate the spindle before a hand goes to a cutter."


def _holding(job: Job) -> Iterator[str]:
    if job.fasteners:
        yield "Lay a straightedge on every screw head before each facing: vibration and swelling move them."
    if job.clamps:
        yield "Clamps hold against lifting and sideways pull only where they are tight on firm board."


def _opened(text: str) -> str:
    return text[:1].upper() + text[1:]
