"""Whole jobs through `verify`: from the files that a person writes to the verdict.

The law: a strike is exact at a hundredth, a strip is found whatever the cell, and how a program is
written (units, increments, side) changes nothing.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from proveout.parser.jobfile import read_job
from proveout.sim.fitting import KNOWN
from proveout.sim.result import Result, Verdict
from proveout.sim.verify import verify

JOB = """
format = 1
units = "{units}"
[machine]
dialect = "standard"
[bed]
top = {bed}
[board]
material = "MDF"
x = [0, {x}]
y = [0, {y}]
thickness = {thickness}
keep_over_heads = {keep}
{board}
[[cutters]]
number = 1
name = "facing cutter"
shape = "facing"
diameter = {diameter}
core = {core}
edges = 2
deepest_pass = {pass_}
max_rpm = 18000
{more}
[[stages]]
name = "face"
program = "face.nc"
start = [{sx}, {sy}, {sz}]
cutter = 1
{stage}
"""
MM = {"units": "mm", "bed": -18, "x": 120, "y": 80, "thickness": 18, "keep": 1, "diameter": 25, "core": 14,
      "pass_": 1, "sx": -30, "sy": 0, "sz": 30}
FINE = "cell = 0.5"
FACE = "face = { z = -0.4 }"
HEAD = """
[[fasteners]]
name = "screws"
head = {{ diameter = 14, height = 4.4 }}
seat = {seat}
at = [[60, 40]]
recess = {{ diameter = 17, depth = {depth} }}
"""
CLEAR_OF_ALL = "G21 G90 G17 G94 G54\nS12500 M3\nG0 Z20\n"
END = "G0 Z20\nM5\nM30\n"


def passes(*across: float, z: float = -0.4, feed: float = 2000) -> str:
    """Level passes along X from beside the board, at these Y."""
    lines = (f"G0 X-20 Y{y}\nG0 Z3\nG1 Z{z} F500\nG1 X140 F{feed}\nG0 Z20\n" for y in across)
    return CLEAR_OF_ALL + "".join(lines) + END


def job_of(folder: Path, program: str, *, file: str = "face.nc", job: str = JOB, **numbers) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / file).write_text(program)
    values = {**MM, "board": "", "more": "", "stage": "", **numbers}
    (folder / "job.toml").write_text(job.format(**values))
    return folder / "job.toml"


def head(seat: float) -> str:
    """A screw in a recess as deep as it sits."""
    return HEAD.format(seat=f"{seat:.4f}", depth=f"{-seat:.4f}")


def check(folder: Path, program: str, **numbers) -> Result:
    return verify(read_job(job_of(folder, program, **numbers), KNOWN))


def kinds(result: Result) -> set[str]:
    return {f.kind for f in result.findings}


@pytest.mark.parametrize(("above", "stops"), [(0.01, True), (0.0, False), (-0.01, False)])
def test_a_head_a_hundredth_too_high_stops_the_job(tmp_path, above, stops):
    """Seat + 4.4 mm of head against passes at Z -0.4: worked by hand."""
    seat = -0.4 - 4.4 + above
    result = check(tmp_path, passes(0, 20, 40, 60, 80), more=head(seat))
    assert ("head-strike" in kinds(result)) is stops
    assert (result.verdict is Verdict.STOP) is stops
    if stops:
        strike = next(f for f in result.findings if f.kind == "head-strike")
        assert strike.value == pytest.approx(-above, abs=1e-9)
        assert strike.line == 17  # the pass at Y40, by counting lines of the program
        assert strike.about == "screws 1"
        assert result.findings[0] is strike
    else:
        assert "head-near" in kinds(result)


@pytest.mark.parametrize("cell", [0.1, 0.25, 1.0, 5.0])
def test_a_strip_of_half_a_tenth_is_found_at_any_cell(tmp_path, cell):
    """Passes 25.05 mm apart with a cutter of 25 mm leave 0.05 mm over the 120 mm of the board: 6 mm²."""
    result = check(tmp_path, passes(10, 35.05, 60.05, 80), board=f"cell = {cell}", stage=FACE)
    strips = [f for f in result.findings if f.kind == "ridge"]
    assert len(strips) == 1
    assert strips[0].value == pytest.approx(0.05, abs=1e-4)
    assert result.stages[0].face.missed_area == pytest.approx(6.0, rel=1e-3)
    touching = check(tmp_path, passes(10, 35, 60, 80), board=f"cell = {cell}", stage=FACE)
    assert not {"ridge", "missed-area", "edge-left"} & kinds(touching)


def test_a_clean_facing_is_clear_and_says_what_it_cut(tmp_path):
    result = check(tmp_path, passes(0, 20, 40, 60, 80), board=FINE, stage=FACE)
    assert [f.kind for f in result.findings] == []
    assert result.verdict is Verdict.CLEAR
    figures = result.stages[0]
    assert figures.removed_volume == pytest.approx(120 * 80 * 0.4, rel=1e-6)
    assert figures.lowest_cut == pytest.approx(-0.4, abs=1e-6)
    assert figures.face.highest == pytest.approx(-0.4, abs=1e-6)


def test_the_deep_one_of_two_readings_of_block_delete_is_a_strike(tmp_path):
    program = passes(0, 20, 40, 60, 80).replace("G1 X140 F2000\nG0 Z20\nG0 X-20 Y60",
                                                "/G1 Z-2 F500\nG1 X140 F2000\nG0 Z20\nG0 X-20 Y60")
    screw = head(-6)
    as_set = check(tmp_path / "on", program, more=screw, stage="block_delete = true")
    assert "head-strike" in kinds(as_set)
    assert "head-strike" in kinds(check(tmp_path / "off", program, more=screw))
    without = program.replace("/G1 Z-2 F500\n", "")
    assert "head-strike" not in kinds(check(tmp_path / "none", without, more=screw))


def test_another_control_that_would_go_lower_is_a_doubt_and_its_strike_a_strike(tmp_path):
    """After a hole under G99 the last G98 goes back to Z 2 (line by line) or to Z 30 (the series); a clamp 22
    high stands in the way of the rapid after it in one of the two readings, so both are checked."""
    job = JOB.replace('dialect = "standard"', "")
    program = ("G21 G90 G17 G94 G54\nS12500 M3\nG0 Z30\nG98 G81 X20 Y40 Z-0.2 R2 F200\nG99 X30\nG98 X40\n"
               "G80\nG0 X100\nM5\nM30\n")
    clamp = '[[clamps]]\nname = "bar"\nx = [60, 70]\ny = [20, 60]\nabove = 22\n'
    result = check(tmp_path, program, job=job, board=FINE, more=clamp)
    assert "word-doubtful" in kinds(result)
    assert "clamp-strike" in kinds(result)


def test_stages_run_in_order_on_one_board(tmp_path):
    """The second stage cuts 0.4 below the first: each takes 0.4, together 0.8."""
    job = JOB + ('[[stages]]\nname = "again"\nprogram = "again.nc"\nstart = [-30, 0, 30]\n'
                 "face = {{ z = -0.8 }}\n")
    (tmp_path / "again.nc").write_text(passes(0, 20, 40, 60, 80, z=-0.8))
    result = check(tmp_path, passes(0, 20, 40, 60, 80), job=job, board=FINE, stage=FACE)
    assert [s.removed_volume for s in result.stages] == pytest.approx([3840, 3840], rel=1e-5)
    assert result.budget.depth == pytest.approx(0.4, abs=1e-6)
    assert np.nanmax(result.surface.heights) == pytest.approx(-0.8, abs=1e-6)


def test_a_facing_before_a_screw_is_fitted_takes_from_its_cover(tmp_path):
    """Faced to -2 with no screw in; then one with its head's top at -4.6 (-9 + 4.4): 2.6 are left over it,
    though the second stage passes nowhere near."""
    job = JOB + ('[[stages]]\nname = "again"\nprogram = "again.nc"\nstart = [-30, 0, 30]\n')
    (tmp_path / "again.nc").write_text(passes(0, z=-2.2))
    result = check(tmp_path, passes(0, 20, 40, 60, 80, z=-2), job=job, board=FINE, more=head(-9),
                   stage="fitted = []\nface = {{ z = -2 }}".format())
    assert not [c for c in result.stages[0].clearances if "screw" in c.about]
    cover = {c.about: c.cover for c in result.stages[1].clearances}
    assert cover["screws 1"] == pytest.approx(2.6, abs=1e-6)
    assert result.budget.cover_over_heads == pytest.approx(2.6, abs=1e-6)


def test_the_number_of_threads_changes_nothing(tmp_path):
    path = job_of(tmp_path, passes(0, 17, 40, 63, 80), board="cell = 0.2", stage=FACE)
    one, two = (verify(read_job(path), threads=threads) for threads in (1, 2))
    assert one.findings == two.findings
    assert one.stages == two.stages
    assert np.array_equal(one.surface.heights, two.surface.heights, equal_nan=True)
    assert np.array_equal(one.surface.last, two.surface.last)


def summary(result: Result) -> list[tuple]:
    return [(f.kind, f.severity, f.lines, f.count, f.about) for f in result.findings]


several = st.lists(st.integers(-50, 850).map(lambda tenths: tenths / 10), min_size=1, max_size=5)
few = settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@few
@given(several)
@example([22.1, 58.5])  # a strip as far from one pass as from the other: rounding must not choose the line
def test_an_inch_job_is_the_millimetre_job(tmp_path, across):
    """The whole job and program in inches, to six decimals, against the same in millimetres."""
    screw = head(-4.7)
    mm = check(tmp_path / "mm", passes(*across), board=FINE, more=screw, stage=FACE)
    inch = {k: (v / 25.4 if isinstance(v, int | float) else v) for k, v in MM.items()} | {"units": "inch"}
    program = (CLEAR_OF_ALL.replace("G21", "G20").replace("Z20", f"Z{20 / 25.4:.8f}") + "".join(
        f"G0 X{-20 / 25.4:.8f} Y{y / 25.4:.8f}\nG0 Z{3 / 25.4:.8f}\n"
        f"G1 Z{-0.4 / 25.4:.10f} F{500 / 25.4:.6f}\n"
        f"G1 X{140 / 25.4:.8f} F{2000 / 25.4:.6f}\nG0 Z{20 / 25.4:.8f}\n" for y in across) + END.replace(
            "Z20", f"Z{20 / 25.4:.8f}"))
    wide, high, seat, x, y, recess, deep = (v / 25.4 for v in (14, 4.4, -4.7, 60, 40, 17, 4.7))
    screw = (f'[[fasteners]]\nname = "screws"\nhead = {{ diameter = {wide!r}, height = {high!r} }}\n'
             f"seat = {seat!r}\nat = [[{x!r}, {y!r}]]\n"
             f"recess = {{ diameter = {recess!r}, depth = {deep!r} }}\n")
    other = check(tmp_path / "inch", program, **inch, board=f"cell = {0.5 / 25.4!r}", more=screw,
                  stage=f"face = {{ z = {-0.4 / 25.4!r}, tolerance = {0.05 / 25.4!r}, "
                        f"ridge = {0.02 / 25.4!r} }}")
    assert summary(other) == summary(mm)
    in_inches, in_mm = other.stages[0], mm.stages[0]
    assert in_inches.removed_volume == pytest.approx(in_mm.removed_volume, rel=1e-6)
    assert in_inches.face.missed_area == pytest.approx(in_mm.face.missed_area, rel=1e-4, abs=1e-3)


@few
@given(several)
def test_a_mirrored_job_leaves_a_mirrored_board(tmp_path, across):
    """Y against 80 - Y, on a board that a whole number of cells divides."""
    one = check(tmp_path / "one", passes(*across), board=FINE, stage=FACE)
    other = check(tmp_path / "other", passes(*(80 - y for y in across)), board=FINE, stage=FACE)
    assert np.array_equal(one.surface.heights, other.surface.heights[::-1], equal_nan=True)
    assert other.stages[0].face.missed_area == pytest.approx(one.stages[0].face.missed_area, abs=1e-3)
    assert sorted(summary(one)) == sorted(summary(other)) or {s[0] for s in summary(one)} == {
        s[0] for s in summary(other)}


@few
@given(several)
def test_increments_are_places(tmp_path, across):
    """G91 against G90: the same moves from the same start."""
    at, lines = np.array([-30.0, 0.0, 30.0]), ["G21 G91 G17 G94 G54", "S12500 M3"]
    for to in [(None, None, 20)] + [each for y in across for each in (
            (-20, y, None), (None, None, 3), ("G1", None, None, -0.4, 500), ("G1", 140, None, None, 2000),
            (None, None, 20))] + [(None, None, 20)]:
        code, feed = ("G1", f" F{to[4]}") if to[0] == "G1" else ("G0", "")
        goal = to[1:4] if to[0] == "G1" else to
        words = ""
        for axis, value in enumerate(goal):
            if value is not None:
                words += f" {'XYZ'[axis]}{value - at[axis]:.6f}"
                at[axis] = value
        lines.append(code + words + feed)
    steps = "\n".join([*lines, "M5", "M30", ""])
    one = check(tmp_path / "abs", passes(*across), board=FINE, stage=FACE)
    other = check(tmp_path / "inc", steps, board=FINE, stage=FACE)
    assert np.allclose(one.surface.heights, other.surface.heights, atol=1e-5, equal_nan=True)
    assert {f.kind for f in one.findings} == {f.kind for f in other.findings}
