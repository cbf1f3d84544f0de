"""What stands when: which screws, clamps and cutter a stage starts with, and what changes on the way.

The law: a setup follows from the job, what the stage before left standing, and where the program really
stops. A screw keeps the height at which it was fitted until it is taken out; a change at a stop that is
never reached is an error of the job, told at its key.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import nan

import numpy as np
import shapely
from numpy.typing import NDArray

from ..parser.frames import system_number
from ..parser.job import Change, Clamp, Cutter, Fastener, Job, Stage
from ..parser.mistakes import JobError, mistake_in
from ..parser.motion import Happening, Motion
from ..parser.reading import UNKNOWN, OperatorAct, Place, Reading, Setting
from .cut import cut_stage
from .doubt import doubtful
from .evidence import Phase
from .fitting import fitted_heads, seated_on_the_cut, stands
from .parts import Piece, Spot, lying, pieces_of
from .solids import HeadSolid, Solids, bed_of, bed_top_of, clamps_of, obstacles_of, spots
from .surface import Surface
from .tram import tilt_of
from .unserved import assumed, unserved

__all__ = ["Standing", "assumed", "cutters_of", "phases", "setting_for", "unserved"]

MACHINE_ZERO: Place = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Standing:
    """What a stage leaves on the machine: the heads of each fitted group as they sit, the names of the
    clamps, the number of the cutter (None: none known), and of the job's first, with which the machine's
    origin was measured. None for heads and clamps: no stage has run yet. pieces: names of the board's pieces
    that lay there."""

    heads: Mapping[str, tuple[HeadSolid, ...]] | None = None
    clamps: frozenset[str] | None = None
    cutter: int | None = None
    measured: int | None = None
    pieces: frozenset[str] = frozenset()


# --- what the interpreter is told ---------------------------------------------------------------------

def setting_for(job: Job, stage: Stage, left: Standing) -> Setting:
    """The state of machine and control when a stage's program starts."""
    machine = job.machine
    home = MACHINE_ZERO if machine.origin is not None else None
    numbers = frozenset() if job.one_cutter else frozenset(c.number for c in job.cutters)
    return Setting(
        offsets=offsets_of(job, stage), position=stage.start or UNKNOWN,
        cutter=first_cutter(job, stage, left), cutters=numbers,
        lengths={c.number: c.length for c in job.cutters if c.length is not None},
        diameters={c.number: c.diameter for c in job.cutters if c.diameter is not None},
        machine_origin=machine.origin, measured=measuring_cutter(job, left),
        home28=home, home30=home, at_stop=acts(stage, "at_stop"),
        at_line=acts(stage, "at_line"), block_delete=stage.block_delete, optional_stop=stage.optional_stop,
        spindle_by_hand=_speed_by_hand(job, stage), parameters=job.known, program=stage.number)


def offsets_of(job: Job, stage: Stage) -> dict[int, Place]:
    """The origin of each work system by its number, in the board frame: G54 is the stage's zero."""
    numbered = ((system_number(name), place) for name, place in job.zeros.items())
    return {1: stage.zero, **{number: place for number, place in numbered if number is not None}}


def first_cutter(job: Job, stage: Stage, left: Standing) -> int | None:
    """The cutter at the start: as said, else the job's only one, else what the last stage ended with."""
    if stage.cutter is not None:
        return stage.cutter
    return job.cutters[0].number if len(job.cutters) == 1 else left.cutter


def measuring_cutter(job: Job, left: Standing, cutters: Iterable[Cutter | None] = ()) -> int | None:
    """The first stage's first cutter: as its stage says, the job's only one, or the first that it loads."""
    said = first_cutter(job, job.stages[0], Standing())
    if said is None:
        said = left.measured
    return next((c.number for c in cutters if c is not None), None) if said is None else said


def acts(stage: Stage, when: str) -> dict[int, OperatorAct]:
    """What the operator changes at each stop ("at_stop") or line ("at_line"), for the program's meaning."""
    found: dict[int, OperatorAct] = {}
    for change in stage.changes:
        at = getattr(change, when)
        if at is not None:
            before = found.get(at, OperatorAct())
            found[at] = OperatorAct(cutter=before.cutter if change.cutter is None else change.cutter,
                                    zero=before.zero if change.zero is None else change.zero)
    return found


def _speed_by_hand(job: Job, stage: Stage) -> float | None:
    """rpm that the operator has switched on, NaN where nothing says it; None: the program switches."""
    if job.machine.spindle_by != "hand":
        return None
    return nan if stage.rpm is None else stage.rpm


def cutters_of(job: Job, reading: Reading) -> NDArray[np.object_]:
    """(n,) the Cutter in the spindle at each move, None where none is known."""
    states = np.empty(len(reading.motion.states), object)
    states[:] = [job.cutter(state.cutter) for state in reading.motion.states]
    return states[reading.motion.state]


# --- what the cutter may meet -------------------------------------------------------------------------

def phases(job: Job, stage: Stage, reading: Reading, surface: Surface, began: Standing, *,
           must_reach: bool = True) -> tuple[tuple[Phase, ...], Standing]:
    """The stage's moves split where the operator changes what stands, and what stands at its end.

    `surface` is the board before the stage. Raises JobError where a change is at a stop or line that the
    program does not reach, where a clamp or group is taken off that is not there or put on that is, and
    where a screw has no head or no board to sit on. With `must_reach` false (another reading of the same
    program) what cannot be done is left undone.
    """
    crew = Crew(job, stage, reading, surface, must_reach).begin(began)
    found, first = [], 0
    for row, number, change in changes_in_order(job, stage, reading, must_reach):
        if row > first:
            found.append(Phase(first, row, crew.solids()))
            first = row
        crew.carry_out(change, number, row)
    found.append(Phase(first, len(reading.motion), crew.solids()))
    return tuple(p for p in found if p.stop > p.first), crew.standing()


def changes_in_order(job: Job, stage: Stage, reading: Reading, must_reach: bool
                     ) -> Iterator[tuple[int, int, Change]]:
    """(the move before which it happens, its number in the stage, the change), as the program runs."""
    reached = rows_reached(stage, reading)
    order = []
    for number, change in enumerate(stage.changes):
        when = ("at_stop", change.at_stop) if change.at_stop is not None else ("at_line", change.at_line)
        if when in reached:
            order.append((reached[when], number, change))
        elif must_reach:
            raise _never(job, stage, reading, number, change)
    yield from sorted(order, key=lambda each: each[:2])


def rows_reached(stage: Stage, reading: Reading) -> dict[tuple[str, int | None], int]:
    """("at_stop", n) and ("at_line", line) of the job's changes to the move before which they happened."""
    done = [e for e in reading.motion.events if e.kind is Happening.OPERATOR]
    lines = sorted({c.at_line for c in stage.changes if c.at_line is not None})
    at_line = zip(lines, (e for e in done if e.code == "at_line"), strict=False)
    reached: dict[tuple[str, int | None], int] = {("at_line", line): e.before for line, e in at_line}
    return reached | {("at_stop", int(e.value)): e.before for e in done if e.code == "at_stop"}


def _never(job: Job, stage: Stage, reading: Reading, number: int, change: Change) -> JobError:
    path = ("stages", job.stages.index(stage), "changes", number)
    if change.at_stop is None:
        return mistake_in(job, (*path, "at_line"), f"line {change.at_line} is never reached",
                          f"{stage.program} has {reading.source.count} lines")
    stops = [e.line for e in reading.motion.events
             if e.kind in (Happening.STOP, Happening.OPTIONAL_STOP) and e.value]
    where = ", ".join(map(str, stops[:8])) + (", …" if len(stops) > 8 else "")
    has = f"{stage.program} " + (f"stops {len(stops)} times, at line {where}" if stops else "never stops")
    return mistake_in(job, (*path, "at_stop"), f"stop {change.at_stop} is never reached", has)


@dataclass
class Crew:
    """The operator of one stage: puts on and takes off while its program runs."""

    job: Job
    stage: Stage
    reading: Reading
    surface: Surface
    strict: bool = True
    heads: dict[str, tuple[HeadSolid, ...]] = field(default_factory=dict)
    clamps: frozenset[str] = frozenset()

    def begin(self, began: Standing) -> Crew:
        """What stands before the first move."""
        kept, groups = began.heads or {}, [f.name for f in self.job.fasteners]
        fitted = kept if self.stage.fitted == "as left" else self.stage.fitted
        wanted = set(groups if fitted is None else fitted)
        self.heads = {g: heads for g in groups if g in wanted
                      and (heads := self._fitted(g, self._still_in(kept.get(g, ()), began.pieces)))}
        left = began.clamps or frozenset()
        clamps = left if self.stage.clamps == "as left" else self.stage.clamps
        there = {piece.part for piece in self.pieces} | {None}
        every = frozenset(c.name for c in self.job.clamps if c.part in there)
        self.clamps = every if clamps is None else frozenset(clamps)
        return self

    def _still_in(self, kept: tuple[HeadSolid, ...], lay: frozenset[str]) -> tuple[HeadSolid, ...]:
        """The heads whose piece has stayed: where another lies there now, its screws are driven in anew."""
        if {piece.name for piece in self.pieces} <= lay:
            return kept
        new = [piece.outline for piece in self.pieces if piece.name not in lay]
        return tuple(head for head in kept
                     if not any(shapely.intersects_xy(outline, *head.at) for outline in new))

    def _fitted(self, group: str, kept: tuple[HeadSolid, ...]) -> tuple[HeadSolid, ...]:
        """A group's heads: those that stood before stay as they sat, what comes with its piece is fitted."""
        stand = {name for name, (_, screws, at) in screws_of(self.job).items()
                 if screws.name == group and stands(self.job, screws, at, self.pieces)}
        sat = tuple(head for head in kept if head.about in stand)
        if {head.about for head in sat} == stand:
            return sat
        new = fitted_heads(self.job, group, self.surface, self.pieces)
        sitting = {head.about for head in sat}
        new = tuple(head for head in new if head.about not in sitting)
        return tuple(sorted((*sat, *new), key=lambda head: head.number))

    @property
    def pieces(self) -> tuple[Piece, ...]:
        return lying(self.job, self.stage)

    def carry_out(self, change: Change, number: int, row: int) -> None:
        """One change before move `row`."""
        self._must(number, "remove", change.remove, self.clamps, False)
        self.clamps -= set(change.remove)
        self._must(number, "add", change.add, self.clamps, True)
        self.clamps |= set(change.add)
        self._must(number, "unfit", change.unfit, self.heads, False)
        self.heads = {g: heads for g, heads in self.heads.items() if g not in change.unfit}
        self._must(number, "fit", change.fit, self.heads, True)
        for group in change.fit:
            self.heads[group] = fitted_heads(self.job, group, self._surface_then(group, row), self.pieces)

    def _must(self, number: int, key: str, names: tuple[str, ...], there: Collection[str], absent: bool
              ) -> None:
        """A thing is taken off only where it is, and put on only where it is not."""
        for place, name in enumerate(names):
            if (name in there) is absent and self.strict:
                path = ("stages", self.job.stages.index(self.stage), "changes", number, key, place)
                found = "is already there" if absent else "is not there"
                raise mistake_in(self.job, path, f'"{name}" {found} at that time',
                                 f"what stands is: {', '.join(sorted(there)) or 'nothing'}")

    def _surface_then(self, group: str, row: int) -> Surface:
        """The board as the moves before `row` have left it, where the group's height hangs on that."""
        if row == 0 or not seated_on_the_cut(self.job, group):
            return self.surface
        before, cutters = first_moves(self.reading.motion, row), cutters_of(self.job, self.reading)
        then = self.surface.copy()
        cut_stage(then, before, list(cutters[:row]), tilt=tilt_of(self.job), keep_before=False)
        return then

    def solids(self) -> Solids:
        """Everything that stands now, as bodies, each as far toward the cutter as it may be."""
        bed_top = bed_top_of(self.job)
        moved = {name for change in self.stage.changes for name in (*change.add, *change.remove)}
        clamps = [solid for c in self.job.clamps if c.name in self.clamps
                  for solid in clamps_of(c, bed_top, top_under(self.job, c), by_hand=c.name in moved)]
        order = [f.name for f in self.job.fasteners if f.name in self.heads]
        heads = tuple(h for group in order for h in self.heads[group])
        return doubtful(Solids(heads, tuple(clamps), bed_of(self.job), obstacles_of(self.job)), self.job)

    def standing(self) -> Standing:
        """What is left for the next stage."""
        return Standing(dict(self.heads), self.clamps, self.reading.final.cutter,
                        pieces=frozenset(piece.name for piece in self.pieces))


def top_under(job: Job, clamp: Clamp) -> float:
    """Z of the board's top that a clamp is measured from: its part's."""
    return next((piece.top for piece in pieces_of(job) if piece.part == clamp.part), job.board.top)


def screws_of(job: Job) -> dict[str, tuple[int, Fastener, Spot]]:
    """Every screw of the job by what it is called ("edge screws 2"): its number, its group, its place."""
    return {f"{screws.name} {number}": (number, screws, at) for screws in job.fasteners
            for number, (at, _) in enumerate(spots(screws.at, screws.grid), 1)}


def first_moves(motion: Motion, count: int) -> Motion:
    """The first `count` moves of a motion, with its states and arcs."""
    columns = ("line", "kind", "start", "end", "feed", "state", "arc", "cycle")
    return replace(motion, events=(), **{name: getattr(motion, name)[:count] for name in columns})
