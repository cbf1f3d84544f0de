"""The bench a job runs on: the board as the stages leave it, and what has been found so far.

The law: the bench alone changes while a job is verified. A stage goes over it in four steps (read,
stand, run, judge), each from the job and what the stages before left behind.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..parser.closing import RETURN
from ..parser.dialect import Dialect
from ..parser.doubts import doubted, other_readings
from ..parser.finding import Finding, fold, registry
from ..parser.interpreter import read_program
from ..parser.job import Job, Stage
from ..parser.reading import Reading, Setting, Unchecked
from .board import all_recesses, board_outline, outline_of, piece_of
from .budget import Lowered, budget, budget_low, lowering
from .checks import holder, strikes
from .checks.every import CHECKS
from .clearance import Clearances, clearances
from .clock import seconds, untimed
from .control import dialect_of, rapid_path, with_board
from .cover import lowest_over
from .cut import cut_stage
from .effort import effort_of
from .evidence import Evidence, Phase, Said
from .figures import figures_of
from .fitting import check_names, stands
from .holes import FoundHole, facing_moves, holes_in
from .knobs import Knobs
from .laid import faces_before, gone_after, lay_board
from .lifted import Store, untouched
from .looks import looks_of
from .pairing import holes_meant
from .parts import Piece, lying
from .plan import disc, joined
from .result import Result, StageRecord
from .seating import head_discs
from .setup import Standing, assumed, cutters_of, measuring_cutter, phases, screws_of, setting_for, unserved
from .silence import silenced
from .solids import bed_top_of
from .stage_figures import StageFigures
from .surface import Surface
from .touching import read_touching, zeroed
from .tram import tilt_of

Progress = Callable[[str, float], None]
AT_THE_BORDER = frozenset({"rapid-cut", "plunge-no-centre"})  # hang on where the board ends
STRIKING = (*strikes.CHECKS, *holder.OF_BODIES)  # the checks that another reading is held against
STRIKES = frozenset({"head-strike", "clamp-strike", "obstacle-strike", "bed-strike", "holder-strike"})
# all that another reading can add


@dataclass
class Bench:
    """A job half verified."""

    job: Job
    dialect: Dialect
    surface: Surface
    store: Store  # the pieces of the board, those that are off the machine with their cells
    threads: int | None
    tell: Progress
    standing: Standing  # as the last stage left it
    began: Standing  # as the stage on the bench found it
    knobs: Knobs = field(default_factory=Knobs)
    drilled: dict[str, BaseGeometry] = field(default_factory=dict)  # holes in plan, by piece
    faces: dict[str, float] = field(default_factory=dict)  # Z of the virtual face over each head
    moves: int = 0
    said: list[Said] = field(default_factory=list)
    stages: list[Evidence] = field(default_factory=list)
    figures: list[StageFigures] = field(default_factory=list)
    pieces: tuple[Piece, ...] = ()  # that lie on the machine, and their outline
    board: BaseGeometry = field(default_factory=shapely.Polygon)
    stage: Stage | None = None  # that has begun, and how its program was read
    setting: Setting = field(default_factory=Setting)
    lowered: Lowered | None = None  # by the last facing
    under: dict[str, str] = field(default_factory=dict)  # the piece that each screw went through last
    over: dict[tuple[str, str], float] = field(default_factory=dict)  # faces of the pieces that are off

    @classmethod
    def set_up(cls, job: Job, *, threads: int | None, progress: Progress, knobs: Knobs) -> Bench:
        """The board on the bed with its recesses, before anything turns."""
        check_names(job)
        job = with_board(job)
        board = board_outline(job)
        laid = lay_board(job, board)
        laid.surface.threads = threads
        faces = dict(untouched(laid.job)) | faces_before(laid)
        store = Store.of_board(laid.job, laid.surface)
        bench = cls(laid.job, dialect_of(job), laid.surface, store, threads, progress, Standing(), Standing(),
                    faces=faces, knobs=knobs)
        bench.said += [*unserved(job), *assumed(job), *laid.said]
        return bench

    def begin(self, number: int) -> Stage:
        """The pieces of a stage laid on the machine, and Z touched off: the stage with its zero as it then
        is."""
        stage = self.job.stages[number]
        self.pieces = lying(self.job, stage)
        self.store.lay(self.pieces)
        self.board = outline_of(self.pieces)
        self.change_faces()
        self.stage = zeroed(self.job, stage, self.standing, self.surface)
        stages = (*self.job.stages[:number], self.stage, *self.job.stages[number + 1:])
        self.job = replace(self.job, stages=stages)
        return self.stage

    def change_faces(self) -> None:
        """Over a screw whose piece of the board was swapped lies that piece's face, as it was left."""
        if not self.job.board.parts:
            return
        for about, (_, screws, at) in screws_of(self.job).items():
            piece = piece_of(self.job, screws, at, self.pieces)
            if piece is None or self.under.get(about, piece.name) == piece.name:
                self.under[about] = self.under.get(about, "") if piece is None else piece.name
                continue
            self.over[about, self.under[about]] = self.faces[about]
            self.faces[about] = self.over.get((about, piece.name), piece.top)
            self.under[about] = piece.name

    def read(self) -> Reading:
        """The program of the stage that has begun, from the state that the machine is in."""
        stage = self.stage
        assert stage is not None
        self.tell(f"{stage.name}: reading", 0.0)
        source = self.job.sources[stage.name]
        self.setting, reading = read_touching(
            self.job, stage, setting_for(self.job, stage, self.standing), self.surface,
            lambda setting: read_program(source, self.dialect, setting, told=self.made))
        return reading

    def made(self, done: int, of: int) -> None:
        """A long program goes on: how many of its lines are read, or (of 0) how many moves it has made."""
        name = "" if self.stage is None else self.stage.name
        self.tell(f"{name}: reading" if of else f"{name}: reading, {done:,} moves", done / of if of else 0.0)

    def run(self, stage: Stage, reading: Reading) -> Evidence:
        """Let the stage's moves cut the board, and measure what they do."""
        self.began, cutters = self.standing, cutters_of(self.job, reading)
        ways = rapid_path(self.job, self.dialect)
        stands, after = phases(self.job, stage, reading, self.surface, self.began)
        self.standing = replace(after, measured=measuring_cutter(self.job, self.began, cutters))
        cut = cut_stage(self.surface, reading.motion, list(cutters), first_id=self.moves, rapid=ways,
                        tilt=tilt_of(self.job), threads=self.threads,
                        looks=looks_of(self.job, reading.motion, cutters, self.surface),
                        progress=lambda part: self.tell(f"{stage.name}: cutting", part))
        self.tell(f"{stage.name}: measuring distances", 0.0)
        found = holes_meant(stage, holes_in(self.pieces, reading.motion, cutters))
        evidence = Evidence(
            job=self.job, stage=stage, reading=reading, phases=stands, cutters=cutters,
            seconds=seconds(reading.motion, self.job.machine.rapid, self.job.machine.acceleration), cut=cut,
            clearances=self.near(stage, reading, cutters, stands, found), board=self.board,
            recesses=all_recesses(self.job, stage), drilled=self.drilled_before(),
            bed_top=bed_top_of(self.job), surface=self.surface, rapid=ways,
            found=found if stage.holes else (), knobs=self.knobs, pieces=self.pieces,
            measured=self.standing.measured)
        self.leave(evidence, found)
        return evidence

    def near(self, stage: Stage, reading: Reading, cutters: NDArray[np.object_], stands: tuple[Phase, ...],
             found: tuple[FoundHole, ...]) -> Clearances:
        """How near every move comes to every body; drilling a hole does not lower the virtual face."""
        facing = facing_moves(reading.motion, cutters, found)
        return clearances(reading.motion, cutters, stands, rapid=rapid_path(self.job, self.dialect),
                          counted=facing & reading.motion.is_feed, board_top=np.inf,
                          earlier=self.faces, machine=self.job.machine, zero=stage.zero[2],
                          tilt=tilt_of(self.job))

    def leave(self, evidence: Evidence, found: tuple[FoundHole, ...]) -> None:
        """What the next stage starts from."""
        self.moves += len(evidence.motion)
        self.faces.update(evidence.clearances.face)
        self.lower_over_absent(evidence, facing_moves(evidence.motion, evidence.cutters, found))
        for piece in self.pieces:
            mine = [disc(hole.at, hole.diameter / 2) for hole in found
                    if shapely.distance(piece.outline, shapely.Point(hole.at)) < hole.diameter / 2]
            if mine:
                self.drilled[piece.name] = joined([self.drilled.get(piece.name, shapely.Polygon()), *mine])
        self.stages.append(evidence)

    def drilled_before(self) -> BaseGeometry:
        """The holes that earlier stages drilled, in the pieces that lie on the machine."""
        mine = (self.drilled.get(piece.name, shapely.Polygon()) for piece in self.pieces)
        return joined([self.surface.gone, *mine])

    def lower_over_absent(self, evidence: Evidence, facing: NDArray[np.bool_]) -> None:
        """The virtual face over heads that do not stand yet, so that their cover is right when they do."""
        absent = [(about, disc) for about, disc in head_discs(self.job)
                  if about not in evidence.clearances.face and self.lies_under(about)]
        counted = facing & evidence.motion.is_feed
        lowest = lowest_over(evidence.motion, evidence.cutters, [disc for _, disc in absent], counted,
                             tilt_of(self.job))
        for (about, _), z in zip(absent, lowest.tolist(), strict=True):
            self.faces[about] = min(self.faces.get(about, self.job.board.top), z)

    def lies_under(self, about: str) -> bool:
        """Whether the piece that a screw goes through is on the machine."""
        _, screws, at = screws_of(self.job)[about]
        return stands(self.job, screws, at, self.pieces)

    def judge(self, evidence: Evidence) -> None:
        """Everything that the language and the checks have to say about a stage."""
        reading = evidence.reading
        self.say(evidence, [*reading.findings, *reading.unchecked])
        self.say(evidence, untimed(reading.motion, self.job.machine.rapid, self.job.machine.acceleration))
        for number, check in enumerate(CHECKS):
            self.tell(f"{evidence.stage.name}: checking", number / len(CHECKS))
            self.say(evidence, check(evidence))
        self.figures.append(figures_of(evidence))  # before the next stage cuts the same cells
        if evidence.stage.face:
            self.lowered = lowering([evidence], 0)

    def judge_other_readings(self, evidence: Evidence) -> None:
        """Where the program goes on another control or with the other switch, and what it meets there."""
        setting = self.setting
        others = other_readings(evidence.reading, self.dialect, setting)
        self.say(evidence, doubted(others))
        known = {(f.kind, f.about) for f in self.said
                 if isinstance(f, Finding) and f.stage == evidence.stage.name}
        for reading in [*self.switched(evidence, setting), *(other.reading for other in others)]:
            other = self.as_read(evidence, reading)
            found = [said for check in STRIKING for said in check(other)]
            self.say(other, [said for said in found if isinstance(said, Finding) and said.kind in STRIKES
                             and (said.kind, said.about) not in known])

    def switched(self, evidence: Evidence, setting: Setting) -> Iterator[Reading]:
        """A program with block delete marks, with the switch the other way; one that drills and names neither
        G98 nor G99, as it runs where the last one left G99."""
        if evidence.reading.uses_block_delete:
            other = replace(setting, block_delete=not setting.block_delete)
            yield read_program(evidence.reading.source, self.dialect, other)
        if any(f.kind == "start-state" and f.about == RETURN.what for f in evidence.reading.findings):
            yield read_program(evidence.reading.source, self.dialect, replace(setting, left_in_g99=True))

    def as_read(self, evidence: Evidence, reading: Reading) -> Evidence:
        """The same stage with another reading of its program, as far as strikes go."""
        cutters = cutters_of(self.job, reading)
        board = replace(self.surface, heights=evidence.cut.before)
        stands, _ = phases(self.job, evidence.stage, reading, board, self.began, must_reach=False)
        return replace(evidence, reading=reading, phases=stands, cutters=cutters,
                       clearances=self.near(evidence.stage, reading, cutters, stands, ()))

    def say(self, evidence: Evidence, said: Iterable[Said]) -> None:
        """Keep what was found, with the stage and program that it is about."""
        stage = evidence.stage
        if self.job.one_cutter:
            said = map(self.sure_of_the_board, said)
        self.said += [replace(each, stage=stage.name, program=stage.program) if isinstance(each, Finding)
                      else each for each in said]

    def sure_of_the_board(self, said: Said) -> Said:
        """Where the board is only what the program sweeps, nobody knows what lies at its border."""
        if not isinstance(said, Finding) or said.kind not in AT_THE_BORDER or said.at is None:
            return said
        rim = (self.job.cutters[0].diameter or 0.0) / 2 + self.surface.cell
        if self.board.boundary.distance(shapely.Point(said.at[:2])) > 2 * rim:
            return said
        return Unchecked(f"{said.kind} at the board's border", "without a job file nobody says where it is")

    def result(self) -> Result:
        """The whole answer, worst first."""
        left = budget(self.job, self.stages, self.lowered)
        self.said += budget_low(self.job, left)
        said = fold(each for each in self.said if isinstance(each, Finding))
        findings, quieted = silenced(self.job, said)
        unchecked = dict.fromkeys(each for each in self.said if isinstance(each, Unchecked))
        gone = gone_after(self.surface, [all_recesses(self.job), *self.drilled.values()])
        return Result(
            job=self.job, findings=tuple(sorted(findings, key=self.fear)), budget=left,
            stages=tuple(self.figures), unchecked=tuple(unchecked), quieted=quieted,
            surface=replace(self.surface, gone=gone), kept=self.kept(gone), knobs=self.knobs,
            records=tuple(map(record_of, self.stages)))

    def kept(self, gone: BaseGeometry) -> Surface | None:
        """The surface with the parts that are off the machine, to be saved; None: none is off."""
        return replace(self.store.whole(), gone=gone) if self.store.off else None

    def fear(self, found: Finding) -> tuple[int, int, int, int]:
        """Sort key: severest first, then as the registry orders kinds, then as the job runs."""
        stages = [stage.name for stage in self.job.stages]
        return (-found.severity, list(registry()).index(found.kind),
                stages.index(found.stage) if found.stage in stages else len(stages), found.line)


def record_of(evidence: Evidence) -> StageRecord:
    """What is kept of a stage after it was judged."""
    return StageRecord(
        evidence.reading, evidence.cut, tuple(phase.solids for phase in evidence.phases),
        tuple(phase.first for phase in evidence.phases), evidence.cutters, evidence.seconds, evidence.rapid,
        tilt_of(evidence.job), effort_of(evidence))
