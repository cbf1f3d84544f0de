"""What happens along each program, move by move: depth of cut, chip load, removal rate, the feed really
reached, height over the screw heads.

The law: depths, volumes and times are the simulation's, chip loads F/(S·edges) of the moves that it saw cut;
what is not known is a gap and never a nought. Values are in the unit that the series names; places in
millimetres. A long program's moves are put together in runs that keep the extremes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...parser.job import Cutter, Job, Stage
from ...parser.motion import Motion
from ...parser.units import Units
from ...sim.effort import removal_rates
from ...sim.result import Result, StageRecord
from ...sim.stage_figures import StageFigures

Floats = NDArray[np.float64]
MOST_ROWS = 6000  # of a chart: more than a screen has columns
PLUNGE = 1e-6  # mm: a move no longer than this in plan goes straight down


def charts_of(result: Result) -> list[dict[str, Any]]:
    """Each reported stage's rows, where the result kept its moves."""
    if len(result.records) != len(result.stages):
        return []
    made = (chart(result, number) for number in range(len(result.stages)))
    return [each for each in made if each is not None]


def chart(result: Result, number: int) -> dict[str, Any] | None:
    """Columns of one stage: line, move, end (mm travelled at its end), x, y, and the series with limits."""
    record, figures = result.records[number], result.stages[number]
    stage = next(s for s in result.job.stages if s.name == figures.name)
    motion = record.reading.motion
    way = np.linalg.norm(motion.end - motion.start, axis=1)
    rows = np.flatnonzero(motion.placed & (way > 0))
    if record.cut is None or not len(rows):
        return None
    runs = runs_of(len(rows))
    worst = worst_of(record.cut.depth[rows], runs)
    at = place(record, motion)[rows][worst]
    cutters, units = cutters_of(result.job, stage, motion), result.job.units
    return {"stage": number, "line": motion.line[rows][worst].tolist(), "move": rows[worst].tolist(),
            "x": listed(at[:, 0]), "y": listed(at[:, 1]),
            "end": listed(np.add.reduceat(way[rows], runs).cumsum()),
            "series": [*lengths(record, figures, cutters, rows, runs, units),
                       *rates(record, rows, runs, units)]}


def runs_of(n: int) -> NDArray[np.int64]:
    """Where each run of moves begins: as many runs as moves, MOST_ROWS at most."""
    return np.unique(np.linspace(0, n, min(n, MOST_ROWS) + 1).astype(np.int64))[:-1]


def worst_of(depth: Floats, runs: NDArray[np.int64]) -> NDArray[np.int64]:
    """The deepest cut of each run: the one that its line and place are taken from."""
    ends = [*runs[1:], len(depth)]
    return np.array([a + int(depth[a:b].argmax()) for a, b in zip(runs, ends, strict=True)])


def lengths(record: StageRecord, figures: StageFigures, cutters: list[Cutter | None],
            rows: NDArray[np.int64], runs: NDArray[np.int64], units: Units) -> Iterator[dict[str, Any]]:
    """The series that are lengths, each with its limits. `cutters`: one for each of the motion's states."""
    motion, most, least = record.reading.motion, np.fmax.reduceat, np.fmin.reduceat
    state, scale, sign = motion.state[rows], units.scale, units.sign()
    low, high = (np.array([window(c, which, figures) for c in cutters])[state] for which in (0, 1))
    deepest = np.array([np.nan if c is None or c.deepest_pass is None else c.deepest_pass for c in cutters])
    chip = chip_loads(record, motion, cutters)[rows]
    yield series("Depth of cut", sign, scale, most(record.cut.depth[rows], runs),
                 high=least(deepest[state], runs), limit="deepest pass")
    yield series("Chip load, each edge", sign, scale, most(chip, runs), low=most(low, runs),
                 high=least(high, runs), limit="what is right for it")
    yield series("Tip over the highest screw head", sign, scale,
                 least(over_heads(record, motion)[rows], runs))


def rates(record: StageRecord, rows: NDArray[np.int64], runs: NDArray[np.int64],
          units: Units) -> Iterator[dict[str, Any]]:
    """Removal rate, and the feed that a move's length and time come to beside the one that it asks for."""
    if record.seconds is None:
        return
    motion, spent = record.reading.motion, record.seconds
    big, sign = (units.scale**3, "in³/min") if units is Units.INCH else (1000.0, "cm³/min")
    rate = removal_rates(record.cut, spent) if record.effort is None else record.effort.rate
    yield series("Removal rate", sign, big, np.fmax.reduceat(rate[rows], runs))
    fed = motion.is_feed & (spent > 0)
    real = np.divide(motion.length() * 60, spent, out=np.full(len(motion), np.nan), where=fed)[rows]
    yield series("Feed really reached, mean of a move", units.sign("feed"), units.scale,
                 np.fmin.reduceat(real, runs), high=np.fmin.reduceat(motion.feed[rows], runs),
                 limit="as programmed")


def series(name: str, sign: str, scale: float, values: Floats, *, low: Floats | None = None,
           high: Floats | None = None, limit: str = "") -> dict[str, Any]:
    bounds = {which: listed(each / scale) for which, each in (("low", low), ("high", high))
              if each is not None and np.isfinite(each).any()}
    return {"name": name, "sign": sign, "values": listed(values / scale), "limit": limit if bounds else "",
            **bounds}


def listed(values: Floats) -> list[float | None]:
    return [round(float(v), 5) if np.isfinite(v) else None for v in values]


def cutters_of(job: Job, stage: Stage, motion: Motion) -> list[Cutter | None]:
    """The cutter of each of a motion's states; where the program names none, the stage's or the only one."""
    only = job.cutters[0].number if len(job.cutters) == 1 else None
    return [job.cutter(next((n for n in (state.cutter, stage.cutter, only) if n is not None), None))
            for state in motion.states]


def chip_loads(record: StageRecord, motion: Motion, cutters: list[Cutter | None]) -> Floats:
    """(n,) mm for each edge, NaN where nothing is cut, anything is unknown, or a cutter that is no drill goes
    straight down."""
    edges = np.array([np.nan if c is None or c.edges is None else c.edges for c in cutters])[motion.state]
    drills = np.array([c is not None and c.shape == "drill" for c in cutters])[motion.state]
    speed = np.array([s.speed or np.nan for s in motion.states])[motion.state]
    level = np.linalg.norm((motion.end - motion.start)[:, :2], axis=1) > PLUNGE
    return np.where((record.cut.volume > 0) & (level | drills), motion.feed / (speed * edges), np.nan)


def window(cutter: Cutter | None, which: int, figures: StageFigures) -> float:
    """The lower (0) or upper (1) end of a cutter's chip load window, as the stage's figures have it."""
    if cutter is None:
        return np.nan
    windows = [f.window for f in figures.feeds if f.cutter == cutter.label and f.window is not None]
    return windows[0][which] if windows else np.nan


def over_heads(record: StageRecord, motion: Motion) -> Floats:
    """(n,) lowest tip of each move over the highest head that is in at some time; NaN with no head."""
    tops = [head.top for solids in record.solids for head in solids.heads]
    return np.minimum(motion.start[:, 2], motion.end[:, 2]) - (max(tops) if tops else np.nan)


def place(record: StageRecord, motion: Motion) -> Floats:
    """(n, 2) where a move cut deepest, its end where it cut nothing."""
    return np.where(np.isfinite(record.cut.deepest_at), record.cut.deepest_at, motion.end[:, :2])
