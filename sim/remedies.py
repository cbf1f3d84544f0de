"""What keeps a ridge down: the passes' heights, their distance, or the spindle's lean, whichever made it.

The law: what alone would leave at least half of a ridge is what made it; each remedy is a number. mm.
"""

from __future__ import annotations

from math import cos, hypot, pi, sin

from ..parser.finding import Phrase
from .bends import Ridge
from .cutters import profile_of
from .faced import Faced
from .leftovers import Leftover
from .tram import along_and_across, ridge_between, tilt_of, widest_step

HEADINGS = [k * pi / 36 for k in range(36)]  # of passes that bend
CLOSER = "Bring the passes to {closer:length} apart or less"
SHIM = ("The spindle leans: shim it {shim:fine} for each {apart:length} between its mounting screws, until "
        "the indicator differs by {most:fine} or less over {swing:length} {way} the passes (now {now:fine}); "
        "or bring the passes to {step:length} apart or less")
LEANS_LESS = (CLOSER + ", or tram the spindle until the indicator differs by {most:fine} or less over "
              "{swing:length}")
APART = 100.0  # mm between the spindle's mounting screws that a shim is said for


def remedy(face: Faced, ridge: Ridge) -> Phrase:
    """The number to change."""
    if uneven(face, ridge) >= ridge.height / 2:
        return Phrase("Cut both passes to one height: take the higher {number:length} down",
                      {"number": ridge.height})
    heading, leant = worst_heading(face, ridge)
    if leant >= ridge.height / 2:
        return tram(face, ridge, heading, leant)
    return Phrase(CLOSER, {"closer": closer(face, ridge)})


def narrower(face: Faced, piece: Leftover, step: float) -> Phrase:
    """What closes a strip between two passes: nearer ones, or a spindle that leans less where it leans."""
    numbers = {"closer": max(0.0, step - piece.width)}
    stamps, spindle = {stamp.row for stamp in face.passes.stamps}, face.evidence.job.machine.tram
    rows = [row for row in piece.flanks if row in stamps and profile_of(face.evidence.cutters[row]).flat]
    if spindle is None or not rows:
        return Phrase(CLOSER, numbers)
    slack = face.wanted.highest - float(face.evidence.motion.end[rows[0], 2])
    most = slack / (2 * profile_of(face.evidence.cutters[rows[0]]).radius) * spindle.swing
    return Phrase(LEANS_LESS, numbers | {"most": most, "swing": spindle.swing})


def uneven(face: Faced, ridge: Ridge) -> float:
    """How much higher one of the two passes was programmed."""
    motion = face.evidence.motion
    heights = [min(motion.start[row, 2], motion.end[row, 2]) for row in (ridge.crest, ridge.trough)]
    return float(abs(heights[0] - heights[1]))


def worst_heading(face: Faced, ridge: Ridge) -> tuple[float, float]:
    """The direction of the passes (of those that bend the worst one), and the ridge that the lean leaves."""
    tilt, radius = tilt_of(face.evidence.job), flat_radius(face, ridge)
    headings = HEADINGS if ridge.heading is None else [ridge.heading]
    leant = [ridge_between(radius, *along_and_across(tilt, each), ridge.step) for each in headings]
    worst = max(range(len(headings)), key=leant.__getitem__)
    return headings[worst], leant[worst]


def flat_radius(face: Faced, ridge: Ridge) -> float:
    return profile_of(face.evidence.cutters[ridge.crest]).flat_radius


def closer(face: Faced, ridge: Ridge) -> float:
    """The step at which a cutter's own rounding leaves no more than is wanted."""
    profile = profile_of(face.evidence.cutters[ridge.crest])
    return 2 * profile.reach(face.wanted.ridge) if not profile.flat else min(ridge.step, 2 * profile.radius)


def tram(face: Faced, ridge: Ridge, heading: float, leant: float) -> Phrase:
    """How true the spindle has to stand (a ridge grows as its lean does), or which step would do."""
    spindle, wanted = face.evidence.job.machine.tram, face.wanted.ridge
    assert spindle is not None
    part, tilt = min(1.0, wanted / leant), tilt_of(face.evidence.job)
    step = widest_step(flat_radius(face, ridge), *along_and_across(tilt, heading), wanted)
    across = -sin(heading) * spindle.x + cos(heading) * spindle.y
    side = abs(across) > 0.25 * hypot(spindle.x, spindle.y)
    reading = abs(across if side else cos(heading) * spindle.x + sin(heading) * spindle.y)
    return Phrase(SHIM, {
        "shim": reading / spindle.swing * APART, "apart": APART, "most": reading * part, "now": reading,
        "swing": spindle.swing, "way": "across" if side else "along", "step": step})
