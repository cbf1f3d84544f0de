"""A Result made by hand: known figures, so that what is said about them can be checked word by word.

The law: nothing here is simulated; these are stand-ins for what sim would have found.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from proveout.parser.finding import Severity, finding
from proveout.parser.job import (
    Bed,
    Board,
    Change,
    Clamp,
    Cutter,
    Face,
    Fastener,
    Grid,
    Head,
    Input,
    Job,
    Opening,
    Recess,
    Stage,
)
from proveout.parser.motion import Happening, MotionBuilder, Move, Spindle, State
from proveout.parser.reading import Reading, Unchecked
from proveout.parser.source import Source
from proveout.parser.units import Units
from proveout.sim.result import Budget, Result, StageRecord
from proveout.sim.seating import heads_of
from proveout.sim.solids import Solids, clamps_of
from proveout.sim.stage_figures import ClearanceFigures, FaceFigures, HoleFigures, StageFigures
from proveout.sim.surface import Surface
from proveout.sim.work_figures import FeedFigures, OverrideFigures, PassFigures, TimeFigures, WaitFigures

FACE = b"%\nO2 (FACE)\nG21 G90\nM3 S12500\nG0 X-26 Y10\nM0 (CLAMP OFF)\nG1 Z-4. F500\nG1 X126 F2000\nM30\n%\n"
SHA = "0123456789abcdef" * 4


def job(units: Units = Units.MM) -> Job:
    return Job(
        title="North half", units=units,
        board=Board(material="MDF", x=(0, 100), y=(0, 80), thickness=18.0),
        bed=Bed(top=-18.0, openings=(Opening(name="tapped holes", diameter=5.0, at=((20, 20), (80, 20))),)),
        cutters=(Cutter(number=1, name="facing cutter", shape="facing", diameter=25.4, core=14.0, edges=2),),
        fasteners=(Fastener(name="edge screws", head=Head(diameter=10.5, height=3.3), seat=-8.0,
                            grid=Grid(start=(20, 20), count=(2, 2), pitch=(60, 40)),
                            recess=Recess(diameter=13, depth=8)),),
        clamps=(Clamp(name="front left", x=(40, 60), y=(-30, 10), z=(-18, 22)),),
        stages=(Stage(name="face", program="face.nc", cutter=1, clamps=("front left",), face=(Face(z=-0.4),),
                      changes=(Change(at_stop=1, remove=("front left",)),)),),
        sources={"face": Source("face.nc", FACE)}, inputs=(Input(file="face.nc", sha256=SHA),))


def motion():
    build = MotionBuilder()
    build.state(State(cutter=1, spindle=Spindle.CLOCKWISE, speed=12500.0))
    build.move(Move.RAPID, 5, (0, 0, 30), (-26, 10, 30))
    build.event(Happening.STOP, 6, code="M0")
    build.move(Move.FEED, 7, (-26, 10, 30), (-26, 10, -4), feed=500.0)
    build.move(Move.FEED, 8, (-26, 10, -4), (126, 10, -4), feed=2000.0)
    build.event(Happening.END, 9)
    return build.motion()


def surface() -> Surface:
    made = Surface(0.0, 0.0, 1.0, np.full((80, 100), -0.4, np.float32), np.full((80, 100), 2, np.int32))
    made.heights[:20] = -4.0
    made.heights[60:, 50:] = 0.0
    return made


def findings():
    strike = finding("head-strike", line=8, column=1, end_column=3, at=(20, 10, -4), shown=(20, 10, -4),
                     value=-1.1, limit=0.0, about="edge screws 1", stage="face", program="face.nc",
                     **blanks("head-strike", cutter="facing cutter", overlap=1.1, lowest=-2.9, deeper=1.1))
    deep = finding("deep-pass", line=7, at=(30, 10, -4), shown=(30, 10, -4), value=4.0, limit=1.0,
                   about="facing cutter", stage="face", program="face.nc",
                   **blanks("deep-pass", cutter="facing cutter", what="deepest_pass", passes=4, each=1.0))
    late = finding("chip-thin", line=7, value=0.02, limit=0.03, about="facing cutter", stage="face",
                   program="face.nc", severity=Severity.NOTE,
                   **blanks("chip-thin", feed=750.0, speed=8000.0))
    return strike, replace(deep, count=3, last_line=8), late


def blanks(kind: str, **known):
    """The kind's placeholders, whatever they are called today, filled with what is known of them."""
    from proveout.parser.finding import OWN_FIELDS, registry
    return {name: known.get(name, 1.0) for name in registry()[kind].placeholders - OWN_FIELDS}


def figures() -> StageFigures:
    return StageFigures(
        name="face", program="face.nc", sha256=SHA, seconds=761.2, cut_length=186.0, rapid_length=50.0,
        removed_volume=1234.5, lowest_cut=-4.0, extents=((-26, 126), (0, 10), (-4, 30)),
        face=FaceFigures(area=8000.0, missed_area=1000.0, over_area=2000.0, highest=0.0, lowest=-4.0,
                         ridge_height=float("nan")),
        holes=(HoleFigures(at=(20, 20), wanted=(20, 20), diameter=6.6, bottom=-18.2, through=True, error=0.0,
                           line=7),
               HoleFigures(at=(50, 40), wanted=None, diameter=6.6, bottom=-9.0, through=False, error=None,
                           line=7)),
        clearances=(ClearanceFigures("edge screws 1", -1.1, 8, (20, 10, -4), -1.1),
                    ClearanceFigures("edge screws 4", 17.6, 8, (80, 10, -4), 2.5),
                    ClearanceFigures("front left", 12.25, 5, (50, 10, 30)),
                    ClearanceFigures("edge screws 2", 25.0, 8, (80, 10, -4), 2.5)),
        feeds=(FeedFigures("facing cutter", 12500.0, (500.0, 2000.0), (0.02, 0.08), (0.03, 0.25), 4.0, 20.0,
                           78.7, surface_speed=16.6, down=(500.0, 500.0), removal=203200.0, power=0.2032,
                           rubbing=4.1, slowing=0.2, longest_slow=0.1, speed_override=144.0,
                           overrides=(OverrideFigures(50.0, (0.01, 0.04), 1500.0, 0.1016, "thin"),
                                      OverrideFigures(100.0, (0.02, 0.08), 761.2, 0.2032, "thin"))),),
        time=TimeFigures((PassFigures(8, 8, (-26, 10, -4), (126, 10, -4), 152.0, 4.56),), 4.56, 744.64, 10.0,
                         2.0, (WaitFigures(6, "M0", None, 3.0),), True))


def reading() -> Reading:
    return Reading(Source("face.nc", FACE), "standard", motion(), (), ended=True)


def result_of(made: Job) -> Result:
    cut = None  # nothing in viewer reads a stage's cut
    return Result(made, findings(), (figures(),), Budget(-1.1, 3, "edge screws 1", 0.4),
                  (Unchecked("holder", "machine.nose is not given"),
                   Unchecked("power", "spindle_power is not given")),
                  surface(), (StageRecord(reading(), cut),))  # type: ignore[arg-type]


@pytest.fixture
def result() -> Result:
    """A facing that meets a screw, cuts too deep, and leaves a corner."""
    return result_of(job())


@pytest.fixture
def inch_result() -> Result:
    """The same in inches."""
    return result_of(job(Units.INCH))


@pytest.fixture
def clear_result(result) -> Result:
    """The same with nothing found."""
    return replace(result, findings=())


@pytest.fixture
def standing_result(result) -> Result:
    """The same with the bodies that its job describes: a clamp that goes at the stop, four screws."""
    heads = heads_of(result.job.fasteners[0], result.surface)
    clamps = clamps_of(result.job.clamps[0], -18.0, 0.0)
    record = replace(result.records[0], solids=(Solids(heads, clamps), Solids(heads)))
    return replace(result, records=(record,))
