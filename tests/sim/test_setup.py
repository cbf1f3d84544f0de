"""What stands when: settings, phases, screws as fitted, and what was taken or left out.

Oracles: the design's words on stages and changes, and hand calculation (beside each check).
"""

from __future__ import annotations

from math import isnan, nan
from pathlib import Path

import pytest
import shapely
from proveout.parser.dialect import load_dialect
from proveout.parser.interpreter import read_program
from proveout.parser.job import Job
from proveout.parser.jobfile import job_from_program, read_job
from proveout.parser.mistakes import JobError
from proveout.parser.reading import Reading
from proveout.sim.cut import cut_stage
from proveout.sim.evidence import Phase
from proveout.sim.fitting import check_names
from proveout.sim.setup import Standing, cutters_of, first_cutter, phases, setting_for
from proveout.sim.surface import Surface
from proveout.sim.unserved import NOT_SERVED, assumed, unserved

HEAD = "G21 G90 G17 G94 G54\n"
BOARD = """
[board]
x = [0, 200]
y = [0, 100]
thickness = 18
"""
CUTTER = """
[[cutters]]
number = 1
shape = "flat"
diameter = 16
"""
SECOND = """
[[cutters]]
number = 2
shape = "drill"
diameter = 6
"""
CLAMPS = """
[[clamps]]
name = "front"
x = [0, 20]
y = [0, 20]
z = [0, 15]
[[clamps]]
name = "back"
at = [190, 90]
diameter = 10
above = 12
[[clamps]]
name = "back"
x = [180, 200]
y = [80, 100]
z = [-18, 2]
"""
SCREWS = """
[[fasteners]]
name = "edge"
head = { diameter = 14, height = 5 }
at = [[50, 50], [150, 50]]
"""
STAGE = '[[stages]]\nname = "{0}"\nprogram = "{0}.nc"\n'


class Bench:
    """A job in a folder, and its stages run one after the other on a real surface."""

    def __init__(self, folder: Path, text: str, **programs: str) -> None:
        for name, program in programs.items():
            (folder / f"{name}.nc").write_text(HEAD + program + "\nM30\n", encoding="utf-8")
        (folder / "job.toml").write_text(text, encoding="utf-8")
        self.job = read_job(folder / "job.toml")
        self.surface = Surface.of_board(shapely.box(0, 0, 200, 100), self.job.board.top, 0.5)
        self.left = Standing()

    def read(self, number: int = 0) -> Reading:
        stage = self.job.stages[number]
        setting = setting_for(self.job, stage, self.left)
        return read_program(self.job.sources[stage.name], load_dialect("standard"), setting)

    def run(self, number: int = 0, **how) -> tuple[Phase, ...]:
        """The phases of a stage; its moves then cut the board, and the next may come."""
        reading = self.read(number)
        stands, self.left = phases(self.job, self.job.stages[number], reading, self.surface, self.left, **how)
        cut_stage(self.surface, reading.motion, list(cutters_of(self.job, reading)))
        return stands


def clamps(phase: Phase) -> list[str]:
    return [clamp.about for clamp in phase.solids.clamps]


def heads(phase: Phase) -> list[str]:
    return [head.about for head in phase.solids.heads]


TWO_STOPS = "G0 Z20\nG0 X10 Y10\nM0\nG0 X50\nG0 X60\nM1\nG0 X70"


# --- settings -----------------------------------------------------------------------------------------

@pytest.mark.parametrize(("cutters", "said", "left", "wanted"), [
    (CUTTER, "", None, 1),  # the job's only cutter
    (CUTTER, "", 7, 1),
    (CUTTER + SECOND, "cutter = 2", 1, 2),  # as said
    (CUTTER + SECOND, "", 2, 2),  # else what the last stage ended with
    (CUTTER + SECOND, "", None, None),  # else none
])
def test_the_cutter_at_the_start(tmp_path, cutters, said, left, wanted):
    job = Bench(tmp_path, BOARD + cutters + STAGE.format("a") + said, a="").job
    assert first_cutter(job, job.stages[0], Standing(cutter=left)) == wanted


def test_a_setting_says_what_the_job_says(tmp_path):
    text = BOARD + CUTTER + SECOND.replace("6\n", "6\nlength = 12.5\n") + STAGE.format("a") + (
        'zero = [1, 2, 3]\nstart = [0, 0, 30]\nblock_delete = true\noptional_stop = false\n'
        'changes = [ { at_stop = 2, cutter = 2 }, { at_stop = 2, zero = [4, 5, 6] },'
        ' { at_line = 9, cutter = 1 } ]\n'
        '[zeros]\nG55 = [100, 0, 0]\n"G59.1" = [0, 9, 0]\n[machine]\norigin = [10, 20, -30]\n')
    job = Bench(tmp_path, text, a="").job
    setting = setting_for(job, job.stages[0], Standing())
    assert setting.offsets == {1: (1, 2, 3), 2: (100, 0, 0), 7: (0, 9, 0)}
    assert (setting.position, setting.machine_origin) == ((0, 0, 30), (10, 20, -30))
    assert (setting.block_delete, setting.optional_stop) == (True, False)
    assert setting.lengths == {2: 12.5}
    assert setting.cutters == {1, 2}
    assert (setting.at_stop[2].cutter, setting.at_stop[2].zero) == (2, (4, 5, 6))
    assert setting.at_line[9].cutter == 1
    assert setting.spindle_by_hand is None


def test_positions_are_unknown_until_said(tmp_path):
    job = Bench(tmp_path, BOARD + CUTTER + STAGE.format("a"), a="").job
    setting = setting_for(job, job.stages[0], Standing())
    assert all(map(isnan, setting.position))
    assert (setting.machine_origin, setting.home28) == (None, None)


@pytest.mark.parametrize(("said", "wanted"), [("rpm = 9000", 9000.0), ("", nan)])
def test_a_spindle_that_the_operator_switches_turns(tmp_path, said, wanted):
    text = BOARD + CUTTER + STAGE.format("a") + said + '\n[machine]\nspindle_by = "hand"\n'
    job = Bench(tmp_path, text, a="").job
    assert setting_for(job, job.stages[0], Standing()).spindle_by_hand == pytest.approx(wanted, nan_ok=True)


def test_cutters_of_each_move(tmp_path):
    program = "G0 Z5\nT2 M6\nG0 X1\nT9 M6\nG0 X2"
    bench = Bench(tmp_path, BOARD + CUTTER + SECOND + STAGE.format("a"), a=program)
    assert [c and c.number for c in cutters_of(bench.job, bench.read())] == [None, 2, None]


def test_with_no_job_file_every_cutter_is_the_one(tmp_path):
    (tmp_path / "a.nc").write_text(HEAD + "G0 Z5\nT9 M6\nG0 X2\nM30\n", encoding="utf-8")
    job = job_from_program(tmp_path / "a.nc", "flat 6")
    setting = setting_for(job, job.stages[0], Standing())
    reading = read_program(job.sources["a"], load_dialect("union"), setting)
    assert [c.diameter for c in cutters_of(job, reading)] == [6.0, 6.0]
    assert [f.kind for f in reading.findings if f.kind == "cutter-unknown"] == []


# --- phases -------------------------------------------------------------------------------------------

def test_everything_stands_where_nothing_is_said(tmp_path):
    bench = Bench(tmp_path, BOARD + CUTTER + CLAMPS + SCREWS + STAGE.format("a"), a=TWO_STOPS)
    (phase,) = bench.run()
    assert (phase.first, phase.stop) == (0, 5)
    assert clamps(phase) == ["front", "back", "back"]
    assert heads(phase) == ["edge 1", "edge 2"]
    assert phase.solids.bed is not None
    assert phase.solids.bed.top == -18.0  # the board's top less its thickness


def test_clamps_change_at_a_stop(tmp_path):
    """Moves: Z20 | X10 | stop | X50 | X60 | X70: the stop lies before row 2."""
    text = BOARD + CUTTER + CLAMPS + SCREWS + STAGE.format("a") + (
        'fitted = []\nclamps = ["front"]\n'
        'changes = [ { at_stop = 1, remove = ["front"], add = ["back"] }, { at_stop = 2, fit = ["edge"] } ]')
    bench = Bench(tmp_path, text, a=TWO_STOPS)
    first, second, third = bench.run()
    assert [(p.first, p.stop) for p in (first, second, third)] == [(0, 2), (2, 4), (4, 5)]
    assert [clamps(p) for p in (first, second, third)] == [["front"], ["back", "back"], ["back", "back"]]
    assert [heads(p) for p in (first, second, third)] == [[], [], ["edge 1", "edge 2"]]
    assert (bench.left.clamps, set(bench.left.heads or ())) == ({"back"}, {"edge"})


def test_changes_of_one_stop_come_together(tmp_path):
    text = BOARD + CUTTER + CLAMPS + STAGE.format("a") + (
        'changes = [ { at_stop = 1, remove = ["front"] }, { at_stop = 1, remove = ["back"] } ]')
    first, second = Bench(tmp_path, text, a=TWO_STOPS).run()
    assert (clamps(first), clamps(second)) == (["front", "back", "back"], [])


def test_clamps_change_before_a_line(tmp_path):
    """Line 1 is the head; line 3 is "G0 X10 Y10", the second move."""
    text = BOARD + CUTTER + CLAMPS + STAGE.format("a") + 'changes = [ { at_line = 3, remove = ["front"] } ]'
    first, second = Bench(tmp_path, text, a=TWO_STOPS).run()
    assert [(first.first, first.stop), (second.first, second.stop)] == [(0, 1), (1, 5)]
    assert clamps(second) == ["back", "back"]


def test_a_change_before_the_first_move_leaves_no_empty_phase(tmp_path):
    text = BOARD + CUTTER + CLAMPS + STAGE.format("a") + 'changes = [ { at_stop = 1, remove = ["front"] } ]'
    (phase,) = Bench(tmp_path, text, a="M0\nG0 Z5").run()
    assert clamps(phase) == ["back", "back"]


def test_as_left_is_as_the_last_stage_ended(tmp_path):
    text = BOARD + CUTTER + CLAMPS + SCREWS + STAGE.format("a") + (
        'fitted = []\nclamps = ["front"]\nchanges = [ { at_stop = 1, remove = ["front"], add = ["back"] } ]\n'
    ) + STAGE.format("b") + 'fitted = "as left"\nclamps = "as left"\n'
    bench = Bench(tmp_path, text, a=TWO_STOPS, b="G0 Z5")
    bench.run(0)
    (phase,) = bench.run(1)
    assert (clamps(phase), heads(phase)) == (["back", "back"], [])


def test_the_cutter_that_a_stage_ends_with_is_left_in_the_spindle(tmp_path):
    text = BOARD + CUTTER + SECOND + STAGE.format("a") + STAGE.format("b")
    bench = Bench(tmp_path, text, a="T2 M6\nG0 Z5", b="G0 Z5")
    bench.run(0)
    assert bench.left.cutter == 2
    assert [c.number for c in cutters_of(bench.job, bench.read(1))] == [2]


def error_of(bench: Bench, number: int = 0) -> JobError:
    """As verify goes: names first, then the stage."""
    with pytest.raises(JobError) as caught:
        check_names(bench.job) or bench.run(number)
    return caught.value


@pytest.mark.parametrize(("said", "words"), [
    ("at_stop = 3", "changes[1].at_stop: stop 3 is never reached; a.nc stops 2 times, at line 4, 7"),
    ("at_line = 900", "changes[1].at_line: line 900 is never reached; a.nc has 9 lines"),
    ('at_stop = 1, add = ["front"]', 'changes[1].add[1]: "front" is already there at that time'),
    ('at_stop = 1, unfit = ["edge"]', 'changes[1].unfit[1]: "edge" is not there at that time'),
])
def test_a_change_that_cannot_be_made_is_the_jobs_mistake(tmp_path, said, words):
    text = BOARD + CUTTER + CLAMPS + SCREWS + STAGE.format("a") + f"fitted = []\nchanges = [ {{ {said} }} ]\n"
    bench = Bench(tmp_path, text, a=TWO_STOPS)
    error = error_of(bench)
    assert words in str(error)
    assert error.mistakes[0].line == text.split("\n").index(f"changes = [ {{ {said} }} ]") + 1
    assert len(bench.run(must_reach=False)) >= 1


def test_a_stop_that_the_switch_lets_pass_is_not_counted(tmp_path):
    """M1 with the switch off does not stop, so the second stop is never reached."""
    text = BOARD + CUTTER + CLAMPS + STAGE.format("a") + (
        'optional_stop = false\nchanges = [ { at_stop = 2, remove = ["front"] } ]')
    assert "a.nc stops 1 times, at line 4" in str(error_of(Bench(tmp_path, text, a=TWO_STOPS)))


# --- screws as they sit -------------------------------------------------------------------------------

def tops(phase: Phase) -> list[float]:
    return [pytest.approx(head.top, abs=1e-5) for head in phase.solids.heads]


WIDE = CUTTER.replace("16", "120")
FACE = "G0 Z5\nG0 X-70 Y50\nG1 Z-2 F1000\nG1 X270\nG0 Z5"  # the whole board 2 deep


def test_a_screw_keeps_its_height_while_it_stays(tmp_path):
    """Sunk 3 under the top at Z0: head top -3, also after facing has left the surface at -2 (where a new
    reading of the gauge would put it at -5). Taken out and fitted again it sits at -2 - 3 = -5."""
    text = BOARD + WIDE + SCREWS + "sunk = 3\n" + STAGE.format("a") + STAGE.format("b") + STAGE.format(
        "c") + "fitted = []\n" + STAGE.format("d")
    bench = Bench(tmp_path, text, a=FACE, b="G0 Z5", c="G0 Z5", d="G0 Z5")
    assert tops(bench.run(0)[0]) == [-3.0, -3.0]
    assert tops(bench.run(1)[0]) == [-3.0, -3.0]
    assert bench.run(2)[0].solids.heads == ()
    assert tops(bench.run(3)[0]) == [-5.0, -5.0]


def test_a_screw_fitted_at_a_stop_rests_on_what_was_cut_before_it(tmp_path):
    """Counterbore 16 wide to Z-7 at both places, stop, screws with heads 5 high: tops at -2. The board that
    the next stage meets is not changed by looking ahead."""
    bore = "G0 Z5\nG0 X50 Y50\nG1 Z-7 F500\nG0 Z5\nG0 X150\nG1 Z-7\nG0 Z5\nM0\nG0 X0"
    text = BOARD + CUTTER + SCREWS + 'seat = "floor"\n' + STAGE.format("a") + (
        'fitted = []\nchanges = [ { at_stop = 1, fit = ["edge"] } ]')
    bench = Bench(tmp_path, text, a=bore)
    before = bench.surface.copy()
    reading = bench.read()
    first, second = phases(bench.job, bench.job.stages[0], reading, bench.surface, bench.left)[0]
    assert first.solids.heads == ()
    assert tops(second) == [-2.0, -2.0]
    assert (bench.surface.heights == before.heights).all()


@pytest.mark.parametrize(("old", "new", "path", "words"), [
    ("head = { diameter = 14, height = 5 }", 'screw = "ISO 7380-1 M88"', "fasteners[1].screw", "the nearest"),
    ("at = [[50, 50], [150, 50]]", 'at = [[50, 50]]\nwasher = "M6"', "fasteners[1].washer", "the nearest"),
    ("[150, 50]", "[450, 50]", "fasteners[1].seat", "give its seat as a Z"),
])
def test_a_screw_that_cannot_be_fitted_is_the_jobs_mistake(tmp_path, old, new, path, words):
    text = BOARD + CUTTER + SCREWS.replace(old, new) + STAGE.format("a")
    (mistake,) = error_of(Bench(tmp_path, text, a="G0 Z5")).mistakes
    assert mistake.key_path == path
    assert words in mistake.message


# --- what was taken or left out ------------------------------------------------------------------------


def test_every_key_of_the_job_file_is_served():
    assert NOT_SERVED == {}


def test_a_key_that_is_given_and_not_served_is_said(tmp_path, monkeypatch):
    monkeypatch.setitem(NOT_SERVED, "fasteners.*.lift", "heads are taken not to rise")
    said = unserved(Bench(tmp_path, BOARD + CUTTER + SCREWS + "lift = 0.1\n" + STAGE.format("a"), a="").job)
    assert [(each.what, each.why) for each in said] == [("fasteners[1].lift", "heads are taken not to rise")]


def test_a_short_job_tells_what_was_taken_for_it(tmp_path):
    job = Bench(tmp_path, BOARD + CUTTER + SECOND + STAGE.format("a"), a="").job
    what = [each.what for each in assumed(job)]
    assert what == ["board.top", "bed.top", "machine.dialect", "travel", "cutters[2].angle", "holder",
                    "screws", "clamps", "zero"]


def full(job_text: str) -> str:
    return job_text.replace("thickness = 18", "thickness = 18\ntop = 0") + (
        '[machine]\ndialect = "standard"\norigin = [0, 0, -50]\ntravel = { x = [0, 300] }\n'
        "nose = [ { diameter = 40, length = 20 } ]\n[bed]\ntop = -18\n")


def test_what_is_said_is_not_taken(tmp_path):
    text = full(BOARD + CUTTER + "stickout = 30\n" + CLAMPS + SCREWS + "seat = -9\n") + STAGE.format("a") + (
        "zero = [0, 0, 0]\nholes = { at = [[1, 1]], diameter = 6, through = true }\n")
    assert assumed(Bench(tmp_path, text, a="").job) == ()


def test_stored_positions_are_taken_as_machine_zero_where_a_program_goes_there(tmp_path):
    text = full(BOARD + CUTTER) + STAGE.format("a")
    home = Bench(tmp_path, text, a="G91 G28 Z0\nG90")
    assert "G28 and G30" in [each.what for each in assumed(home.job)]
    assert home.read().position[2] == 50.0  # machine Z 0 is 50 above the board's zero at machine Z -50
    away = Bench(tmp_path, text, a="G0 X280 (G280)")
    assert "G28 and G30" not in [each.what for each in assumed(away.job)]


def test_with_no_job_file_the_boards_border_is_not_checked(tmp_path):
    (tmp_path / "a.nc").write_text(HEAD, encoding="utf-8")
    job: Job = job_from_program(tmp_path / "a.nc", "drill 6")
    what = [each.what for each in assumed(job)]
    assert {"board", "face and rapids at the board's border", "bed.top", "cutters[1].angle"} <= set(what)
