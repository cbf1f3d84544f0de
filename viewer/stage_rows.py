"""The first screen's part about each stage: how the machine must stand, the gaps, what is cut.

The law: figures come from StageFigures and Budget, names from the job; here they are only put in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isfinite

from ..parser.job import Stage, Tram
from ..parser.motion import Happening
from ..parser.reading import Reading
from ..parser.units import Units
from ..sim.parts import lying
from ..sim.result import Result, Verdict
from ..sim.stage_figures import ClearanceFigures, FaceFigures, StageFigures
from .feed_rows import clock, feed_words, knob_rows, more_words, reach, time_words
from .layout import Row
from .section_rows import histogram_rows
from .slack_rows import holder_rows, slack_rows
from .standing import screw_place, spots, standing, stops, touch_words, zero_words
from .stop_rows import fit_rows, stop_rows

GAPS, FEW = 3, 2  # smallest gaps of a stage on the first screen; where there are reasons


def stage_rows(result: Result, everything: bool) -> Iterator[Row]:
    """The stage that the worst reason is about (the first, where there is none) in full, the others in a
    row each; with `everything`, each in full. Then the budget after the last. Where there are reasons they
    need the room: what other zeros would do and what gives more facings is told where there are none."""
    kept = len(result.records) == len(result.stages)
    roomy = result.verdict is Verdict.CLEAR
    worst = result.findings[0].stage if result.findings else ""
    names = [figures.name for figures in result.stages]
    for number, figures in enumerate(result.stages):
        if not everything and names.index(worst if worst in names else names[0]) != number:
            yield Row("STAGE", brief(result, figures), one_line=True)
            continue
        stage = next(s for s in result.job.stages if s.name == figures.name)
        stand = stand_rows(result, stage, result.records[number].reading if kept else None)
        if len(result.stages) > 1 and everything:
            yield Row("STAGE", figures.name)
        elif len(result.stages) > 1:
            first = next(stand)
            yield replace(first, text=f"{figures.name}: {first.text}")
        yield from stand
        if everything:
            yield from stop_rows(figures, result.job.units)
            yield from fit_rows(figures, result.job.units)
        yield from gap_rows(result, figures, everything, GAPS if roomy else FEW)
        yield from holder_rows(figures, result.job.units, everything)
        if everything or roomy:
            yield from slack_rows(figures, result.job.units, everything)
        yield from cut_rows(result, figures, everything, everything)
        knobs = [row for feeds in figures.feeds for row in knob_rows(feeds, result.job.units)]
        yield from knobs
        yield Row("TIME", time_words(figures, result.job.units, everything),
                  beside=not everything and not knobs)  # a table's last row stands alone
    yield from budget_rows(result, everything or roomy)


def brief(result: Result, figures: StageFigures) -> str:
    """A stage in a row: its nearest body, its time, and the call that shows it in full."""
    nearest = min(figures.clearances, key=lambda gap: gap.clearance, default=None)
    gap = f", {_gap(result, nearest, short=True)}" if nearest is not None else ""
    return f"--stage \"{figures.name}\" shows it: {clock(figures.seconds)}{gap}"


def stand_rows(result: Result, stage: Stage, reading: Reading | None) -> Iterator[Row]:
    """Cutter, zero, screws, clamps, stops to attend."""
    job, now = result.job, standing(result.job, stage.name)
    groups = [f"{f.name} ({len(spots(f))})" for f in job.fasteners if f.name in now.fitted]
    yield Row("STAND", f"{_cutters(result, stage, reading)}; zero {zero_words(job, stage)}")
    if stage.touch:
        yield Row("", f"Z touched off: {touch_words(job, stage)}")
    if job.fasteners or job.clamps:
        screws, clamps = (", ".join(names) or "none" for names in (groups, now.clamps))
        yield Row("", f"screws in: {screws}; clamps on: {clamps}", beside=True)
    if job.board.parts:
        on = dict.fromkeys(piece.part for piece in lying(job, stage))
        off = ", ".join(part.name for part in job.board.parts if part.name not in on)
        yield Row("", f"parts on: {', '.join(on) or 'none'}" + (f"; off the machine: {off}" if off else ""))
    if job.machine.tram is not None:
        yield Row("", lean_words(job.machine.tram, job.units))
    attended = list(stops(stage, reading, job.units))
    yield Row("", "stops: " + ("; ".join(attended) if attended else "none in the program"), beside=True)


def lean_words(tram: Tram, units: Units) -> str:
    """That the spindle does not stand square, and that it was reckoned with."""
    reads = [f"{units.text(each, 'fine')} in {axis}" for axis, each in (("X", tram.x), ("Y", tram.y)) if each]
    return f"spindle out of tram, counted: {' and '.join(reads) or 'nothing'} over {units.text(tram.swing)}"


def _cutters(result: Result, stage: Stage, reading: Reading | None) -> str:
    """The cutters in the order in which they come into the spindle."""
    job, numbers = result.job, [stage.cutter]
    if reading is not None:
        numbers += [int(e.value) for e in reading.motion.events if e.kind == Happening.CUTTER]
        numbers += [state.cutter for state in reading.motion.states]
    if stage.cutter is None and len(job.cutters) == 1:
        numbers.append(job.cutters[0].number)
    used = dict.fromkeys(number for number in numbers if number is not None)
    labels = [cutter.label for number in used if (cutter := job.cutter(number)) is not None]
    return ", then ".join(labels) or "cutter as the last stage left it"


def gap_rows(result: Result, figures: StageFigures, everything: bool, most: int = GAPS) -> Iterator[Row]:
    """The smallest gaps, nearest first."""
    near = sorted(figures.clearances, key=lambda gap: gap.clearance)
    shown = near if everything else near[:most]
    for number, gap in enumerate(shown):
        yield Row("GAPS" if number == 0 else "", _gap(result, gap), one_line=not everything,
                  beside=number > 0 and not everything)


def _gap(result: Result, gap: ClearanceFigures, short: bool = False) -> str:
    units, screw = result.job.units, screw_place(result.job, gap.about)
    name = f"{gap.about} ({screw})" if screw and not short else gap.about
    free = f"{units.text(gap.clearance)} free"
    said = free if gap.clearance >= 0 else f"{units.text(-gap.clearance)} TOO LOW"
    told = gap.cover is not None and gap.cover >= 0 and units.text(gap.cover) != units.text(gap.clearance)
    cover = f", {units.text(gap.cover)} of board over it" if told and gap.cover is not None else ""
    return f"{name}: {said} at line {gap.line}{cover}"


def cut_rows(result: Result, figures: StageFigures, everything: bool = False, bars: bool = False
             ) -> Iterator[Row]:
    """What is cut: face and holes, each cutter's chips; with `bars` the face's area by height."""
    units = result.job.units
    said = ", ".join([*_face(figures, units, everything), *_holes(figures, units)])
    yield Row("CUT", said or "no face and no holes are wanted")
    if bars and figures.face is not None and figures.face.histogram is not None:
        yield from histogram_rows(figures.face.histogram, units)
    for feeds in figures.feeds:
        yield Row("", feed_words(feeds, units))
        if everything and (more := more_words(feeds, units)):
            yield Row("", more)


def _face(figures: StageFigures, units: Units, everything: bool) -> Iterator[str]:
    face = figures.face
    if face is None:
        return
    yield f"face {units.text(face.area, 'area')}, {units.text(face.missed_area, 'area')} uncut"
    if face.lowest is not None and face.highest is not None:
        yield f"Z {reach((face.lowest, face.highest), units, 'length')}{_flat(face, units) * everything}"
    if face.ridge_height is not None and isfinite(face.ridge_height):
        yield f"ridges {units.text(face.ridge_height, 'fine')}"


def _flat(face: FaceFigures, units: Units) -> str:
    """The band that most of a face lies in, where it is not what all of it lies in."""
    if not face.flatness or face.band is None:
        return ""
    band, whole = (units.text(each, "fine") for each in (face.band, face.flatness))
    return "" if band == whole else f" (95% of it within {band})"


def _holes(figures: StageFigures, units: Units) -> Iterator[str]:
    for size in sorted({round(hole.diameter, 3) for hole in figures.holes}):
        same = [hole for hole in figures.holes if round(hole.diameter, 3) == size]
        through = sum(hole.through for hole in same)
        yield f"{len(same)} holes of {units.text(size)} ({through or 'none'} through)"


def budget_rows(result: Result, gains_too: bool = True) -> Iterator[Row]:
    """How many facings are left, what ends them, and what would give more."""
    budget, units = result.budget, result.job.units
    if budget.facings_left is None:
        return
    each = "" if budget.depth is None else f" of {units.text(budget.depth)}"
    ends = "" if budget.limited_by is None else f"; {budget.limited_by} ends them"
    more = "facing" if budget.facings_left == 1 else "facings"
    screw = screw_place(result.job, budget.limited_by or "")
    yield Row("LEFT", f"{budget.facings_left} more {more}{each}{ends}" + (f" ({screw})" if screw else ""))
    gains = list(gain_words(result)) if gains_too else []
    if gains:
        yield Row("", "; ".join(gains))


def gain_words(result: Result) -> Iterator[str]:
    """What would give more facings, and how deep the wear goes."""
    budget, units = result.budget, result.job.units
    if budget.deeper is not None:
        deeper = budget.deeper
        yield f"{deeper.about} sunk {units.text(deeper.by)} deeper: {deeper.facings}, then {deeper.then}"
    if budget.heads:
        head = budget.heads[0]
        yield f"with {head.screw} heads, {units.text(head.lower)} lower: {head.facings}"
    if budget.clean:
        yield f"the lowest place lies {units.text(budget.clean)} under the middle of the face"
