"""The holes of a stage as one pattern, so that one number mends them all: the zero, the spacing, a turn.

The law: a pattern is explained only where every wanted hole is drilled and what is said leaves all of them
within their tolerance. Millimetres, degrees.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely

from ..parser.finding import Phrase
from .breakthrough import breakthroughs
from .evidence import Evidence, once
from .fit import Fit, alike, fitted
from .pairing import Pairing, holes_wanted, paired
from .stage_figures import FitFigures

NEARLY = 1e-6  # mm
NARROW = 1e-3  # degrees: less is no turn
EVEN = 1e-4  # of a scale: less is no difference


@once
def pairing_of(evidence: Evidence) -> Pairing:
    """Wanted and drilled holes of the stage; what the axis made beside the board is no hole."""
    on_board = [hole for hole in evidence.found
                if shapely.distance(evidence.board, shapely.Point(hole.at)) < hole.diameter / 2]
    return paired(holes_wanted(evidence.stage, evidence.job), on_board)


@once
def pattern(evidence: Evidence) -> Fit | None:
    """How all the drilled holes of a stage lie against all the wanted ones, where they are one pattern."""
    pairing = pairing_of(evidence)
    within = tolerance(pairing)
    if not pairing.missing:
        return fitted([wanted.at for wanted, _ in pairing.pairs], [found.at for _, found in pairing.pairs])
    every = [*(wanted for wanted, _ in pairing.pairs), *pairing.missing]
    drilled = [*(found for _, found in pairing.pairs), *pairing.extra]
    return alike([w.at for w in every], [f.at for f in drilled], within)


def tolerance(pairing: Pairing) -> float:
    """The least that a wanted hole may be off."""
    tables = [*(wanted.table for wanted, _ in pairing.pairs), *(wanted.table for wanted in pairing.missing)]
    return min((table.tolerance for table in tables), default=0.0)


def what_mends(evidence: Evidence) -> Phrase | None:
    """What mends every hole of the stage at once; None where nothing does."""
    fit, within = pattern(evidence), tolerance(pairing_of(evidence))
    if fit is None or fit.usual <= within + NEARLY:  # a few that are off are no pattern that is
        return None
    if fit.left <= within + NEARLY:
        return Phrase("Move the zero by {back:place}: then the worst of all {count} holes is {left:length} "
                      "off", {"back": fit.back, "count": fit.count, "left": fit.left})
    if fit.rest <= within + NEARLY and fit.mixed:
        have, want = ("25.4", "25") if fit.scale > 1 else ("25", "25.4")
        return Phrase("The spacing of all {count} holes is off as {have} is to {want}, an inch pitch for a "
                      "metric one or the other way round: divide it by {scale}",
                      {"count": fit.count, "have": have, "want": want, "scale": f"{fit.scale:.4f}"})
    if fit.rest <= within + NEARLY:
        return Phrase("All {count} holes fit when the pattern is {how}",
                      {"count": fit.count, "how": turned(fit)})
    return None


def turned(fit: Fit) -> Phrase:
    """A pattern's turn and scale, as far as there are any."""
    turn = "turned by {angle:angle}" if abs(fit.angle) > NARROW else ""
    scale = "scaled by {scale}" if abs(fit.scale - 1) > EVEN else ""
    return Phrase(" and ".join(filter(None, (turn, scale, "moved by {back:place} in its middle"))), {
        "angle": -fit.angle, "scale": f"{1 / fit.scale:.5f}", "back": (-fit.shift[0], -fit.shift[1])})


@once
def over_bed(evidence: Evidence) -> Fit | None:
    """How the drilled holes lie against the bed's openings under them."""
    over = [each for each in breakthroughs(evidence).values() if each.opening is not None]
    return fitted([each.opening.at for each in over if each.opening], [each.hole.at for each in over])


def fit_figures(evidence: Evidence) -> Iterator[FitFigures]:
    """The stage's holes against the wanted ones and against the bed's, each as one pattern."""
    if evidence.stage.holes:
        for against, fit in (("wanted", pattern(evidence)), ("bed", over_bed(evidence))):
            if fit is not None:
                yield FitFigures(against, fit.count, fit.shift, fit.angle, fit.scale, fit.error, fit.back,
                                 fit.left, fit.rest)
