"""The page's tables: screws, holes, stages, how the machine must stand, what nobody checked, the inputs.

The law: figures come from the Result, in the job's unit; nothing is left out to make a table short.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import dist
from typing import Any, NamedTuple

from ...sim.budget import facings, wanted_cover
from ...sim.plan import hole_spots
from ...sim.result import Result
from ...sim.stage_figures import ClearanceFigures, HoleFigures, StageFigures
from ..bodies import Bodies, bodies_of
from ..cautions import cautions
from ..feed_rows import clock, knob_cells, speed_cells, time_words
from ..layout import Row, clean
from ..slack_rows import holder_rows, slack_rows
from ..stage_rows import budget_rows, cut_rows, stand_rows
from ..standing import screw_place
from ..stop_rows import fit_rows, stop_rows
from ..terminal import quiet_rows

NOTHING = 1e-6  # mm: a lower ridge is none, two places as near are one
FELT = 0.01  # mm: a step under this is seen and not felt (common practice, no published source)

LONG = 60.0  # s: what takes less is told with a tenth of a second



class Place(NamedTuple):
    """A text that leads to a place of the board, "x,y" in mm of the board frame."""

    text: str
    at: str


Cells = tuple[str | Place, ...]


def figures_of(result: Result) -> dict[str, Any]:
    """Every table of the page."""
    return {
        "screws": list(screws(result)), "bodies": list(other_bodies(result)), "holes": list(holes(result)),
        "stages": [stage(result, number) for number in range(len(result.stages))],
        "times": list(times(result)), "limits": list(limits(result)),
        "budget": [clean(row.text) for row in budget_rows(result)],
        "cautions": [clean(text) for text in cautions(result)],
        "unchecked": [(clean(each.what), clean(each.why)) for each in result.unchecked],
        "quiet": [clean(row.text) for row in quiet_rows(result)],
        "inputs": [(clean(each.file), each.sha256) for each in result.inputs],
    }


def gaps_of(result: Result) -> dict[str, tuple[ClearanceFigures, StageFigures]]:
    """Each body's smallest gap over the reported stages, and the stage it is in; nearest first."""
    every = [(gap, stage) for stage in result.stages for gap in stage.clearances]
    every.sort(key=lambda pair: pair[0].clearance)
    found: dict[str, tuple[ClearanceFigures, StageFigures]] = {}
    for gap, stage in every:
        found.setdefault(gap.about, (gap, stage))
    return found


def screws(result: Result) -> Iterator[Cells]:
    """(screw, its place, clearance, where, cover over it, facings left) of each screw, the nearest first."""
    heads = heads_about(bodies_of(result))
    for about, (gap, stage) in gaps_of(result).items():
        if about in heads or screw_place(result.job, about):
            yield (clean(about), screw_place(result.job, about), gap_words(result, gap),
                   line_words(gap, stage), length(result, gap.cover), left(result, gap.cover))


def other_bodies(result: Result) -> Iterator[Cells]:
    """(body, clearance, where) of clamps, obstacles and the bed, the nearest first."""
    heads = heads_about(bodies_of(result))
    for about, (gap, stage) in gaps_of(result).items():
        if about not in heads and not screw_place(result.job, about):
            yield clean(about), gap_words(result, gap), line_words(gap, stage)


def heads_about(bodies: Bodies) -> set[str]:
    return {head.about for head in bodies.heads}


def gap_words(result: Result, gap: ClearanceFigures) -> str:
    units = result.job.units
    if gap.clearance < 0:
        return f"{units.text(-gap.clearance)} too low"
    return f"{units.text(gap.clearance)} free"


def line_words(gap: ClearanceFigures, stage: StageFigures) -> Place:
    return Place(clean(f"{stage.program} {gap.line}"), f"{gap.at[0]:.4f},{gap.at[1]:.4f}")


def length(result: Result, value: float | None) -> str:
    return "not known" if value is None else result.job.units.text(value)


def left(result: Result, cover: float | None) -> str:
    """How many facings of the last depth a screw leaves room for."""
    depth = result.budget.depth
    if cover is None or not depth:
        return "not known"
    return str(facings(cover - wanted_cover(result.job), depth))


def limits(result: Result) -> Iterator[Cells]:
    """(what may end the facings, what may still be taken there, in how many facings), the first first."""
    for each in result.budget.limits:
        yield clean(each.about), length(result, each.left), str(each.facings)


def holes(result: Result) -> Iterator[Cells]:
    """(number, wanted, drilled, off by, diameter, full diameter ends at, through, where) of each hole; those
    that are wanted and were not drilled come last in their stage."""
    units = result.job.units
    for stage in result.stages:
        for number, hole in enumerate(stage.holes, 1):
            yield (str(number), spot(result, hole.wanted), spot(result, hole.at), length(result, hole.error)
                   if hole.wanted is not None else "not wanted", units.text(hole.diameter),
                   f"Z{units.digits(hole.bottom)}", "yes" if hole.through else "no", hole_line(hole, stage))
        for x, y, diameter in undrilled(result, stage):
            yield ("missing", spot(result, (x, y)), "none", "", length(result, diameter), "", "", Place(
                "show it", f"{x:.4f},{y:.4f}"))


def undrilled(result: Result, figures: StageFigures) -> list[tuple[float, float, float | None]]:
    """(x, y, diameter) of each wanted hole that no drilled one is paired with."""
    stage = next(s for s in result.job.stages if s.name == figures.name)
    left = [(x, y, holes.diameter) for holes in stage.holes for x, y in hole_spots(holes, result.job)]
    for hole in figures.holes:
        here = [each for each in left if hole.wanted is not None and dist(each[:2], hole.wanted) < NOTHING]
        if here:
            left.remove(min(here, key=lambda each: abs((each[2] or hole.diameter) - hole.diameter)))
    return left


def hole_line(hole: HoleFigures, stage: StageFigures) -> Place:
    return Place(clean(f"{stage.program} {hole.line}"), f"{hole.at[0]:.4f},{hole.at[1]:.4f}")


def spot(result: Result, at: tuple[float, float] | None) -> str:
    if at is None:
        return "none"
    return f"X{result.job.units.digits(at[0])} Y{result.job.units.digits(at[1])}"


def stage(result: Result, number: int) -> dict[str, Any]:
    """A stage: its name, program, checksum, time, how the machine must stand, what is cut."""
    figures = result.stages[number]
    written = next(s for s in result.job.stages if s.name == figures.name)
    kept = len(result.records) == len(result.stages)
    reading = result.records[number].reading if kept else None
    return {"name": clean(figures.name), "program": clean(figures.program), "sha256": figures.sha256,
            "time": time_words(figures, result.job.units), "lengths": lengths(result, figures),
            "stand": texts(stand_rows(result, written, reading)),
            "stops": texts(stop_rows(figures, result.job.units)),
            "fits": texts(fit_rows(figures, result.job.units)),
            "cut": texts(cut_rows(result, figures, everything=True)),
            "slack": slack(result, figures),
            "lines": ridge_words(result, figures), "knobs": list(knobs(result, figures)),
            "passes": list(passes(result, figures)), "last": number == len(result.stages) - 1}


def knobs(result: Result, figures: StageFigures) -> Iterator[tuple[str, Cells, list[Cells]]]:
    """(what it is, head, rows) of each table over a knob whose range was asked for."""
    for feeds in figures.feeds:
        if feeds.overrides:
            yield (f"{clean(feeds.cutter)}: what the feed knob makes of it",
                   ("Feed knob", "chip an edge", "time of the stage", "power", "that is"),
                   [knob_cells(each, result.job.units) for each in feeds.overrides])
        if feeds.speeds:
            yield (f"{clean(feeds.cutter)}: what the knob for the spindle's speed makes of it",
                   ("Speed knob", "chip an edge", "turns", "its rim", "that is"),
                   [speed_cells(each, result.job.units) for each in feeds.speeds])


def passes(result: Result, figures: StageFigures) -> Iterator[Cells]:
    """(number, line, from, to, time) of each pass, numbered as the plan does."""
    units = result.job.units
    for number, each in enumerate(figures.time.passes if figures.time else (), 1):
        yield (str(number), str(each.line), spot(result, each.start[:2]), spot(result, each.end[:2]),
               f"Z{units.digits(each.start[2])}", clock(each.seconds) if each.seconds >= LONG
               else units.text(each.seconds, "time"))


def times(result: Result) -> Iterator[Cells]:
    """(stage, program, time, ways at feed and at rapid, what it takes off) of each stage, and of all."""
    units, every = result.job.units, result.stages
    for name, program, some in (*((s.name, s.program, (s,)) for s in every), ("all", "", every)):
        cut, fast, off = (sum(getattr(each, what) for each in some)
                          for what in ("cut_length", "rapid_length", "removed_volume"))
        yield (clean(name), clean(program), clock(sum(each.seconds for each in some)), units.text(round(cut)),
               units.text(round(fast)), units.text(off, "volume"))


def slack(result: Result, figures: StageFigures) -> list[str]:
    """What rides above the cutter, how much may be wrong, what another zero would do."""
    units = result.job.units
    rows = (*holder_rows(figures, units, False), *slack_rows(figures, units, True))
    return [clean(f"{row.label.capitalize()}: {row.text}" if row.label else row.text) for row in rows]


def texts(rows: Iterator[Row]) -> list[str]:
    return [clean(row.text) for row in rows]


def lengths(result: Result, figures: StageFigures) -> str:
    units = result.job.units
    cut, fast = (units.text(round(value)) for value in (figures.cut_length, figures.rapid_length))
    return f"{cut} at feed, {fast} at rapid"


def ridge_words(result: Result, figures: StageFigures) -> str:
    """What the eye will see and the finger will not, and why."""
    ridge = figures.face.ridge_height if figures.face is not None else None
    if ridge is None or ridge != ridge or ridge >= FELT:
        return ""
    units = result.job.units
    if ridge < NOTHING:
        return ("No ridge stands between the passes in this model. Lines may still be seen, since light "
                "shows where the cutter passed in another direction; none is felt.")
    return (f"Ridges of {units.text(ridge, 'fine')}: lines may be seen, none is felt. A step "
            f"under {units.text(FELT)} is too low for a finger; light still shows where the cutter passed in "
            "another direction.")
