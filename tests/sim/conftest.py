"""A stage to judge: a small board, a few moves, and what cutting them really gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from proveout.parser.finding import Finding
from proveout.parser.job import Board, Cutter, Job, Machine, Stage
from proveout.parser.jobfile import read_job
from proveout.parser.motion import Happening, MotionBuilder, Move, Spindle, State
from proveout.parser.reading import Reading
from proveout.parser.source import Source
from proveout.sim.cut import cut_stage
from proveout.sim.evidence import Evidence
from proveout.sim.fitting import KNOWN
from proveout.sim.result import Result
from proveout.sim.surface import Surface
from proveout.sim.verify import verify

ON = State(cutter=1, spindle=Spindle.CLOCKWISE, speed=12500.0)
FACING = Cutter(number=1, shape="facing", diameter=25.0, edges=2, name="facing cutter")


class Program(MotionBuilder):
    """Moves written one after the other, then judged as one stage on a board with its top at Z 0."""

    line = 0
    at = (0.0, 0.0, 10.0)

    def set(self, **changes) -> Program:
        self.state(replace(self._states[-1], **changes))
        return self

    def feed(self, x: float, y: float, z: float, feed: float = 2000.0) -> Program:
        return self._to(Move.FEED, (x, y, z), feed)

    def rapid(self, x: float, y: float, z: float) -> Program:
        return self._to(Move.RAPID, (x, y, z), float("nan"))

    def _to(self, kind: Move, end: tuple, feed: float) -> Program:
        self.line += 1
        self.move(kind, self.line, self.at, end, feed=feed)
        self.at = end
        return self

    def switch(self, direction: Spindle, code: str) -> Program:
        self.line += 1
        self.event(Happening.SPINDLE, self.line, float(direction), code)
        return self.set(spindle=direction)

    def evidence(self, *, cutters: tuple = (FACING,), size: tuple = (200.0, 100.0), stage: dict | None = None,
                 board: dict | None = None, units: str = "mm", findings: tuple = (), **machine) -> Evidence:
        motion, outline = self.motion(), shapely.box(0, 0, *size)
        surface = Surface.of_board(outline, 0.0, 1.0)
        numbers = motion.column("cutter")
        known = {cutter.number: cutter for cutter in cutters}
        used = np.empty(len(motion), object)
        used[:] = [known.get(number) for number in numbers.tolist()]
        cut = cut_stage(surface, motion, used.tolist(), threads=1)
        written = Stage(name="face", program="face.nc", **(stage or {}))
        job = Job(board=Board(x=(0, size[0]), y=(0, size[1]), **({"material": "MDF"} | (board or {}))),
                  cutters=cutters, stages=(written,), machine=Machine(**machine), units=units)
        reading = Reading(Source("face.nc", b"G0"), "standard", motion, findings)
        nothing = shapely.Polygon()
        return Evidence(job=job, stage=written, reading=reading, phases=(),
                        cutters=used, seconds=np.zeros(len(motion)), cut=cut, clearances=None, board=outline,
                        recesses=nothing, drilled=nothing, bed_top=None, surface=surface)


@pytest.fixture(scope="session")
def new_program():
    """Gives a fresh program each time, 10 mm over the board's corner; unless said, 12 500 rpm clockwise."""
    def begun(state: State = ON) -> Program:
        program = Program()
        program.state(state)
        return program
    return begun


@pytest.fixture
def program(new_program) -> Program:
    return new_program()


JOB = """
[machine]
dialect = "{dialect}"
{machine}
[bed]
top = {bed_top}
{bed}
[board]
material = "{material}"
{outline}
thickness = {thickness}
cell = {cell}
{board}
{cutters}
{more}
[[stages]]
name = "work"
program = "work.nc"
{start}
cutter = 1
{stage}
"""
CUTTERS = """
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = 25.0
edges = 2
[[cutters]]
number = 2
name = "drill 6.6"
shape = "drill"
diameter = 6.6
edges = 2
[[cutters]]
number = 3
name = "mill 6"
shape = "flat"
diameter = 6.0
edges = 2
"""
USUAL = {"dialect": "standard", "cell": "1.0", "cutters": CUTTERS, "material": "MDF", "thickness": "18",
         "bed_top": "-18", "start": "start = [0, 0, 30]", "outline": "x = [0, 200]\ny = [0, 100]"}
BEGIN, END = "G21 G90 G17 G94 G54\nS12500 M3\nG0 Z20\n", "G0 Z20\nM5\nM30\n"


@pytest.fixture
def judged(tmp_path):
    """Verifies a whole small job: lines of a program on a board of 200 x 100 x 18, its top at Z 0.

    Tables that are given go into the job file; `then` is a second stage with the same program.
    """
    def verified(lines: str, *, begin: str = BEGIN, end: str = END, then: str = "", **tables: str) -> Result:
        nothing = dict.fromkeys(("machine", "bed", "board", "more", "stage"), "")
        text = JOB.format(**(USUAL | nothing | tables))
        if then:
            text += ('[[stages]]\nname = "then"\nprogram = "work.nc"\nstart = [0, 0, 30]\ncutter = 1\n'
                     f"{then}\n")
        (tmp_path / "work.nc").write_text(begin + lines + end)
        (tmp_path / "job.toml").write_text(text)
        return verify(read_job(tmp_path / "job.toml", KNOWN), threads=1)
    return verified


@pytest.fixture
def found(judged):
    """As `judged`, but gives the findings of one kind alone."""
    def of(kind: str, lines: str, **tables: str) -> list[Finding]:
        return [each for each in judged(lines, **tables).findings if each.kind == kind]
    return of
