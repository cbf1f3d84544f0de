"""Going on in the middle of a program, against the interpreter: from an entry, with the codes that are named,
the rest of the program makes the very moves that it makes when it runs from its beginning.
"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import numpy as np
import pytest
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.jobfile import read_job
from proveout.parser.motion import Move, Spindle
from proveout.parser.reading import Setting
from proveout.parser.source import Source
from proveout.sim.fitting import KNOWN
from proveout.sim.resume import NoResume, entered, highest_over, resume_at
from proveout.sim.verify import verify

from .shops import SHOPS

COLUMNS = ("line", "kind", "start", "end", "feed", "state", "arc", "cycle")
STANDARD = load_dialect("standard")


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """The result of a shop's sound job, and its programs."""
    def checked(name: str):
        folder = tmp_path_factory.mktemp(name)
        for file, text in SHOPS[name]().items():
            (folder / file).write_text(text)
        return verify(read_job(folder / "job.toml", KNOWN))
    return checked


def gone_on(record, resume) -> str:
    """The program from its entry, after what a person is told to set and how to get there."""
    x, y, z = resume.back.shown
    state, lines = resume.state, record.reading.source.lines
    words = [" ".join(resume.codes), f"S{state.speed:g} M3" if state.spindle == Spindle.CLOCKWISE else "",
             f"F{resume.feed / (25.4 if 'G20' in resume.codes else 1):.9g}" if resume.feed else ""]
    scale = 25.4 if "G20" in resume.codes else 1.0
    way = [f"G90 G0 Z{z / scale + 1:.9f}", f"X{x / scale:.9f} Y{y / scale:.9f}", f"Z{z / scale:.9f}"]
    modes = [code for code in resume.codes if code in ("G91", "G99", "G98")]
    return "\n".join([f"T{state.cutter or 1} M6", *words, *way, " ".join(modes), "G0",
                      *lines[resume.back.line - 1:]]) + "\n"


@pytest.mark.parametrize(("name", "stage"), [("north", 0), ("north", 1), ("inch", 0), ("inch", 1),
                                             ("compact", 0), ("halves", 0)])
def test_the_rest_of_the_program_is_the_same(shop, name, stage):
    result = shop(name)
    record, job = result.records[stage], result.job
    motion = record.reading.motion
    lines = np.unique(motion.line)
    asked = lines[::max(1, len(lines) // 12)].tolist()
    dialect = STANDARD if name != "compact" else load_dialect("compact")
    resumed = 0
    for line in asked:
        resume = resume_at(record, line, dialect)
        if resume.back is None:
            continue
        setting = Setting(offsets={1: job.stages[stage].zero, 2: job.zeros.get("G55", (0, 0, 0))})
        text = gone_on(record, resume) if name != "compact" else gone_on(record, resume).split("\n", 1)[1]
        again = read_program(Source("x.nc", text.encode()), dialect, setting).motion
        rest = (motion.line >= resume.back.line) & (motion.length() > 1e-9)
        count = int(rest.sum())
        again = replace(again, **{name: getattr(again, name)[again.length() > 1e-9] for name in COLUMNS})
        assert again.end[-count:] == pytest.approx(motion.end[rest], abs=1e-6), line
        assert (again.kind[-count:] == motion.kind[rest]).all()
        fed = motion.feed[rest]
        assert again.feed[-count:][np.isfinite(fed)] == pytest.approx(fed[np.isfinite(fed)])
        resumed += 1
    assert resumed > 3


def test_entries_begin_above_all_that_stands(shop):
    result = shop("north")
    for record in result.records:
        motion = record.reading.motion
        top, _ = highest_over(record, 0)
        lines = {entry.line for entry in entered(record, top)}
        assert lines
        for row in range(len(motion)):
            begins = row == 0 or motion.line[row] != motion.line[row - 1]
            if begins and int(motion.line[row]) in lines:
                assert motion.start[row, 2] > top
                assert motion.kind[row] == Move.RAPID


@pytest.mark.parametrize(("stage", "line", "why"), [
    (1, "N110", "cut"), (0, "N150", "cycle"), (1, "N100", "cut"), (1, "N80", "")])
def test_where_one_may_not_go_on(shop, stage, line, why):
    record = shop("north").records[stage]
    number = next(n for n, text in enumerate(record.reading.source.lines, 1) if text.startswith(f"{line} "))
    resume = resume_at(record, number, STANDARD)
    assert resume.why_not == why
    assert resume.back is not None
    assert resume.back.line <= number
    assert resume.forth is None or resume.forth.line > number
    tallest = max([0.0, *(body.top for body in record.solids[0].tall)])  # its board's top is 0
    assert resume.above + resume.state.shift[2] >= tallest + 5
    assert resume.above >= resume.back.shown[2]


def test_what_the_lines_before_had_set(shop):
    """north's facing: by hand from its first lines."""
    record = shop("north").records[1]
    number = next(n for n, text in enumerate(record.reading.source.lines, 1) if text.startswith("N250 "))
    resume = resume_at(record, number, STANDARD)
    assert resume.codes == ("G21", "G17", "G90", "G94", "G40", "G43 H1", "G54", "G0")
    state = resume.state
    assert (state.cutter, state.speed, state.flood, resume.feed) == (1, 12500, True, 2000)
    assert (resume.highest, resume.over) == (0.0, "the board")
    assert 0 < resume.back.before < resume.seconds
    assert isfinite(resume.back.at[2])


@pytest.mark.parametrize(("name", "line", "words"), [("macro", 10, "run more than once"),
                                                     ("labelled", 3, "run more than once"),
                                                     ("north", 9999, "no move is made at line 9999")])
def test_where_nothing_can_be_said(shop, name, line, words):
    with pytest.raises(NoResume, match=words):
        resume_at(shop(name).records[-1], line, STANDARD)


@pytest.fixture
def small(tmp_path):
    """The record of a program on a board of 100 x 40 x 18 with a mill of 6."""
    def checked(text: str):
        (tmp_path / "a.nc").write_text(text)
        (tmp_path / "job.toml").write_text(
            "board = { x = [0, 100], y = [0, 40], thickness = 18 }\nmachine = { dialect = 'standard' }\n"
            'cutters = [{ number = 1, shape = "flat", diameter = 6 }]\n'
            'stages = [{ name = "a", program = "a.nc", cutter = 1, start = [0, 0, 30] }]\n')
        return verify(read_job(tmp_path / "job.toml", KNOWN)).records[0]
    return checked


BEGIN = "G21 G90 G17 G94 G54\nT1\nS9000 M3\nG0 Z20\n"


def test_zeros_that_the_program_itself_moved_are_named(small):
    record = small(BEGIN + "G0 X0 Y0\nG92 X5 Y0 Z20\nG0 X30\nG1 Z-1 F300\nG0 Z20\nG0 X60\nG1 Z-1\nG0 Z20\n"
                           "G92.1\nM30\n")
    assert resume_at(record, 11, STANDARD).moved == ("G92 on line 6",)
    assert resume_at(record, 5, STANDARD).moved == ()


def test_nobody_enters_where_the_cutters_radius_is_counted(small):
    record = small(BEGIN + "G0 X0 Y0\nG41 D1 G0 X10 Y10\nG0 X20 Y10\nG1 Z-1 F300\nG0 Z20\nG40 G0 X30 Y0\n"
                           "G0 X40\nG1 Z-1\nG0 Z20\nM30\n")
    assert resume_at(record, 9, STANDARD).back.line <= 6
    assert resume_at(record, 12, STANDARD).back.line == 11
