"""A stage's Evidence as the figures that reports show.

The law: nothing is judged here; lengths are of placed moves only. Millimetres, board frame.
"""

from __future__ import annotations

import numpy as np

from ..parser.motion import Motion
from .checks.face import face_figures
from .checks.holes import hole_figures
from .clock import dwell_seconds
from .edgework import feed_figures
from .effort import hardest
from .evidence import Evidence
from .held import hold_figures
from .holder import part_at
from .pattern import fit_figures
from .schedule import time_figures
from .stage_figures import ClearanceFigures, StageFigures
from .stops import stop_figures
from .zeroing import slack_figures, zero_figures

Extents = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def figures_of(evidence: Evidence) -> StageFigures:
    """Everything measured in one stage."""
    motion, source = evidence.motion, evidence.reading.source
    length = np.where(motion.placed, motion.length(), 0.0)
    return StageFigures(
        name=evidence.stage.name, program=evidence.stage.program, sha256=source.sha256,
        seconds=float(evidence.seconds.sum()) + dwell_seconds(motion),
        cut_length=float(length[motion.is_feed].sum()), rapid_length=float(length[~motion.is_feed].sum()),
        removed_volume=float(evidence.cut.volume.sum()), lowest_cut=evidence.cut.lowest,
        extents=extents(motion), face=face_figures(evidence), holes=tuple(hole_figures(evidence)),
        clearances=tuple(clearance_figures(evidence)), holder=tuple(holder_figures(evidence)),
        held=hold_figures(evidence), slack=slack_figures(evidence), zeros=zero_figures(evidence),
        feeds=tuple(feed_figures(evidence)),
        time=time_figures(evidence), stops=tuple(stop_figures(evidence)), hardest=hardest(evidence),
        fits=tuple(fit_figures(evidence)))


def extents(motion: Motion) -> Extents | None:
    """The whole path's box in the board frame, None where no move is placed. Arcs by their bulges."""
    boxes = motion.boxes()[motion.placed]
    if not len(boxes):
        return None
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    x, y, z = ((float(a), float(b)) for a, b in zip(low, high, strict=True))
    return x, y, z


def clearance_figures(evidence: Evidence) -> list[ClearanceFigures]:
    """The smallest gap of each body over the whole stage, smallest first."""
    least: dict[str, ClearanceFigures] = {}
    for approach in evidence.clearances.closest:
        figures = ClearanceFigures(
            approach.about, approach.gap, int(evidence.motion.line[approach.move]), approach.at,
            evidence.clearances.cover.get(approach.about))
        if figures.about not in least or figures.clearance < least[figures.about].clearance:
            least[figures.about] = figures
    return sorted(least.values(), key=lambda each: each.clearance)


def holder_figures(evidence: Evidence) -> list[ClearanceFigures]:
    """The same of what rides above the cutter."""
    least: dict[str, ClearanceFigures] = {}
    for approach in evidence.clearances.above.closest:
        if approach.about in least and least[approach.about].clearance <= approach.gap:
            continue
        part = part_at(approach, evidence.cutters[approach.move], evidence.job.machine).part
        least[approach.about] = ClearanceFigures(
            approach.about, approach.gap, int(evidence.motion.line[approach.move]), approach.at, part=part)
    return sorted(least.values(), key=lambda each: each.clearance)
